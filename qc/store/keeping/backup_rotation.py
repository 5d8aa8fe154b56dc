"""The folder in which a server keeps its own copies: what the next is called, and which are too many."""

import re
import shutil
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from qc.store.intake.door import server_epoch
from qc.store.record.connection import RECORD, open_reader

_NAME = re.compile(r"record-\d{4}-\d{2}-\d{2}-\d{6}\Z")
_MAKING = re.compile(r"record-\d{4}-\d{2}-\d{2}-\d{6}\.[^.]+\.making\Z")
_DAY_MS = 86_400_000
_SIZE = "SELECT coalesce(max(number), 0) FROM journal"


def next_copy(folder: Path, zone: ZoneInfo, now_ms: int) -> Path:
    """Return the place of a copy that begins now, named by the plant's own clock: record-2026-03-02-023000."""
    return folder / f"record-{datetime.fromtimestamp(now_ms / 1000, zone):%Y-%m-%d-%H%M%S}"


def copies_in(folder: Path) -> list[Path]:
    """Return the copies that are kept there, by their names; whatever else lies there is nobody's business."""
    if not folder.is_dir():
        return []
    return sorted(one for one in folder.iterdir() if _NAME.match(one.name) and (one / RECORD).is_file())


def drop_old(made: Path, keep: int) -> list[Path]:
    """Take the oldest copies beside ``made``, the newest one, away until ``keep`` are left in all, and return them.

    Only copies of the same record since the same restore are touched: a restored folder that somebody serves to look
    at has the same settings, and must not take the copies of the record itself away. Which is older is told by how far
    its chain goes, not by its name, which the clock gave it.
    """
    epoch = _held(made)[0]
    others = [(_held(one), one.name, one) for one in copies_in(made.parent) if one.name != made.name]
    own = sorted((size, name, one) for (of, size), name, one in others if epoch and of == epoch)
    old = [one for *_, one in own[: max(0, len(own) + 1 - keep)]]
    for one in old:
        shutil.rmtree(one)
    return old


def drop_broken_off(folder: Path, now_ms: int) -> list[Path]:
    """Take away what a machine that went out in the middle of a copy left of it, once it is a day old; return it."""
    left = [one for one in folder.iterdir() if _MAKING.match(one.name) and one.is_dir()]
    old = [one for one in left if now_ms - one.stat().st_mtime * 1_000 > _DAY_MS]
    for one in old:
        shutil.rmtree(one)
    return old


def _held(copy: Path) -> tuple[str, int]:
    """Return the epoch of a copy's record and how many operations it holds, "" and 0 where it cannot be read."""
    try:
        with closing(open_reader(copy / RECORD)) as conn:
            return server_epoch(conn) or "", int(conn.execute(_SIZE).fetchone()[0])
    except sqlite3.Error:
        return "", 0
