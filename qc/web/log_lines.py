"""What the server says of itself: one JSON object a line, on its standard error, with no names in it."""

import json
import logging
import sys
import traceback
from datetime import UTC, datetime
from types import TracebackType


class JsonLines(logging.Formatter):
    """One JSON object a line. No names, notes, PINs or photos: the messages hold codes and fault numbers only.

    Of an exception stand its type and where it was raised, and of those that it came from: its message may quote what
    somebody typed.
    """

    def format(self, record: logging.LogRecord) -> str:
        """Return the line: at, level, what, and where there was a fault its trace."""
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        line = {"at": at, "level": record.levelname.lower(), "what": record.getMessage()}
        if record.exc_info and record.exc_info[1]:
            line["trace"] = "\n".join(_places(record.exc_info[1]))
        return json.dumps(line)


def log_lines() -> None:
    """Let everything that this program logs come out so."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    logger = logging.getLogger("qc")
    logger.handlers[:] = [handler]
    logger.setLevel(logging.INFO)
    logger.propagate = False


def _places(fault: BaseException) -> list[str]:
    """Return where a fault was raised, the innermost last, after the one that it came from."""
    before = fault.__cause__ or (None if fault.__suppress_context__ else fault.__context__)
    return [*(_places(before) if before else []), type(fault).__name__, *_frames(fault.__traceback__)]


def _frames(trace: TracebackType | None) -> list[str]:
    return [f"  {one.filename}:{one.lineno} {one.name}" for one in traceback.extract_tb(trace)]
