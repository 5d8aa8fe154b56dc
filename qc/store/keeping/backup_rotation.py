"""The folder in which a server keeps its own copies: what the next is called, and which are too many."""

import re
import shutil
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

_NAME = re.compile(r"record-\d{4}-\d{2}-\d{2}-\d{6}\Z")
RECORD_IN_IT = "record.sqlite"


def next_copy(folder: Path, zone: ZoneInfo, now_ms: int) -> Path:
    """Return the place of a copy that begins now, named by the plant's own clock: record-2026-03-02-023000."""
    return folder / f"record-{datetime.fromtimestamp(now_ms / 1000, zone):%Y-%m-%d-%H%M%S}"


def copies_in(folder: Path) -> list[Path]:
    """Return the copies that are kept there, the oldest first; whatever else lies there is nobody's business."""
    if not folder.is_dir():
        return []
    return sorted(one for one in folder.iterdir() if _NAME.match(one.name) and (one / RECORD_IN_IT).is_file())


def drop_old(folder: Path, keep: int) -> list[Path]:
    """Take the oldest copies away until ``keep`` are left, and return them. Only copies of this name are touched."""
    old = copies_in(folder)[:-keep] if keep else []
    for one in old:
        shutil.rmtree(one)
    return old
