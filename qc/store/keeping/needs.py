"""What a data folder needs of the machine it stands on, and has: each need met, soon not met, or not met, in words."""

import os
import shutil
import sqlite3
import stat
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from qc.domain.tables.plant_tables import PlantFaults, read_plant
from qc.store.drops import drop_trouble
from qc.store.folder.plant_folder import tables_folder
from qc.store.intake.journal import KEYS
from qc.store.keeping.backup import OLD_DAYS, last_backup, lies_within
from qc.store.people.pins import PEPPER, pepper_is_whole
from qc.store.reading.clock_doubt import AHEAD_MS
from qc.store.record.connection import (
    RECORD,
    SettingRefused,
    holder_of,
    is_read_only,
    no_room_beside,
    open_reader,
    require_sqlite,
)
from qc.store.record.history import history_alarms
from qc.store.record.signing import KEY, key_id_in
from qc.store.tables.migrations import MIGRATIONS, version_of

State = Literal["met", "unasked", "soon", "missing"]

LEAST_FREE = 500_000_000  # a shift of photos; below it the disk may fill before anybody looks


class NotAFolder(Exception):
    """There is no record to ask about."""


@dataclass(frozen=True, slots=True)
class Need:
    """One need; unasked where it was not looked at. words: what is so, and where it is not met what would do."""

    name: str
    state: State
    words: str


def needs_of(folder: Path, now_ms: int | None = None) -> list[Need]:
    """Return the needs of a data folder in order, each looked at now; a server may go on meanwhile.

    Raises NotAFolder where it holds no record, or one that SQLite cannot read.
    """
    if not (folder / RECORD).is_file():
        raise NotAFolder(f"there is no record in {folder}; give the data folder that the server uses")
    now = time.time_ns() // 1_000_000 if now_ms is None else now_ms
    found = [_sqlite()]
    if found[0].state == "missing":
        return found
    try:
        with closing(open_reader(folder / RECORD)) as conn:
            found += _of_the_record(conn, folder, now)
    except sqlite3.DatabaseError as error:
        if is_read_only(error):
            words = f"this account may not write in {folder}, which SQLite must to read the record ({error})"
            raise NotAFolder(f"{words}; ask as the one that the server runs under") from error
        if why := no_room_beside(error, folder):
            raise NotAFolder(why) from error
        raise NotAFolder(f"the record in {folder} cannot be read ({error}); verify it with: qc verify") from error
    return [
        *found,
        *_rights(folder),
        _room(folder),
        _room_to_check(folder),
        _lock(folder),
        *_drop(folder),
        _backup(folder, now),
    ]


def _sqlite() -> Need:
    try:
        require_sqlite()
    except SettingRefused as why:
        return Need("SQLite", "missing", f"{why}")
    return Need("SQLite", "met", f"{sqlite3.sqlite_version} of Python {sys.version.split()[0]}")


def _of_the_record(conn: sqlite3.Connection, folder: Path, now: int) -> Iterator[Need]:
    version = version_of(conn)
    if version > MIGRATIONS[-1].number:
        words = f"it is of version {version}, this program knows {MIGRATIONS[-1].number}; install the later program"
        yield Need("record", "missing", words)
        return
    if version < MIGRATIONS[-1].number:
        yield _to_be_brought_up(folder, version)
        return
    size = (folder / RECORD).stat().st_size
    yield Need("record", "met", f"version {version}, {_bytes(size)}")
    yield _clock(conn, now)
    yield from _keys(conn, folder / KEYS)
    alarms = [alarm.words for alarm in history_alarms(conn)]
    if alarms:
        yield Need("history", "missing", f"{'; '.join(alarms)}. Release nothing until it is explained")
    else:
        yield Need("history", "met", "no phone has told of another one")


def _to_be_brought_up(folder: Path, version: int) -> Need:
    """Return what the next start does to a record of an earlier program, and whether there is room for its copies."""
    steps = MIGRATIONS[-1].number - version
    wanted, free = steps * (folder / RECORD).stat().st_size, shutil.disk_usage(folder).free
    words = f"of version {version}; the next start brings it to {MIGRATIONS[-1].number}"
    words = f"{words} and copies it whole before each step, {_bytes(wanted)} in all"
    if free < wanted:
        return Need("record", "missing", f"{words}: {_bytes(free)} are free, make room first")
    return Need("record", "soon", words)


def _clock(conn: sqlite3.Connection, now: int) -> Need:
    (last,) = conn.execute("SELECT coalesce(max(received_ms), 0) FROM journal").fetchone()
    told = f"{_when(now)}, the record's last entry {_when(last) if last else 'is still to come'}"
    if last > now + AHEAD_MS:
        words = f"it shows {told}: the clock is behind, or was ahead then. Set it, and have it kept by the network"
        return Need("clock", "missing", words)
    return Need("clock", "met", told)


def _keys(conn: sqlite3.Connection, keys: Path) -> Iterator[Need]:
    (people,) = conn.execute("SELECT count(*) FROM person").fetchone()
    if not people:
        yield Need("pepper", "soon", "nobody may sign in yet; begin with: qc user add FOLDER CODE --role administrator")
    elif pepper_is_whole(keys):
        yield Need("pepper", "met", f"{people} people can sign in with it")
    else:
        state = "is not whole" if (keys / PEPPER).is_file() else "is gone"
        yield Need("pepper", "missing", f"{keys / PEPPER} {state}: no PIN can be checked; put the keys folder back")
    kept = [key for (key,) in conn.execute("SELECT key_id FROM release_key")]
    try:
        here = key_id_in(keys)
    except (OSError, ValueError) as error:
        yield Need("release key", "missing", f"{keys / KEY} cannot be read ({error}): nothing can be released")
        return
    if here is None and kept:
        words = f"{keys / KEY} is gone, and the server does not start without it: put the keys folder back"
        words = f"{words}, or, where it is lost for good, go on with: qc new-keys FOLDER"
        yield Need("release key", "missing", words)
    elif here is None:
        yield Need("release key", "met", "made with the first release")
    elif kept and here not in kept:
        words = f"{here} is none of the record's keys ({', '.join(kept)}): it is another folder's, or was replaced"
        words = f"{words}; the server does not start with it: put the record's own keys folder back"
        yield Need("release key", "missing", words)
    else:
        yield Need("release key", "met", here)


def _rights(folder: Path) -> Iterator[Need]:
    if not os.access(folder, os.W_OK | os.X_OK):
        yield Need("folder", "missing", f"{folder} cannot be written by this account; give it to the server's account")
    else:
        yield Need("folder", "met", "this account can write it")
    if sys.platform == "win32":
        yield Need("rights", "soon", "not looked at on Windows: see that only the server's account reads the folder")
        return
    keys = folder / KEYS
    copies = sorted(folder.glob(f"{Path(RECORD).stem}-before-*"))  # made before a step of an upgrade
    private = [folder / RECORD, *copies, keys, *(sorted(keys.iterdir()) if os.access(keys, os.R_OK | os.X_OK) else [])]
    open_ = [path for path in private if path.exists() and stat.S_IMODE(path.stat().st_mode) & 0o077]
    if open_:
        yield Need("rights", "soon", f"others may read {', '.join(map(str, open_))}; take it from them: chmod go= FILE")
    else:
        yield Need("rights", "met", "record and keys are this account's alone")


def _room(folder: Path) -> Need:
    free = shutil.disk_usage(folder).free
    if free < LEAST_FREE:
        return Need("disk", "missing", f"{_bytes(free)} free; make room, photos need about half a megabyte each")
    return Need("disk", "met", f"{_bytes(free)} free")


def _room_to_check(folder: Path) -> Need:
    free, wanted = shutil.disk_usage(tempfile.gettempdir()).free, 2 * (folder / RECORD).stat().st_size
    if free < wanted:
        words = f"{_bytes(free)} free in {tempfile.gettempdir()}, verify and backup need {_bytes(wanted)}; name another"
        return Need("room to verify in", "soon", f"{words} folder in TMPDIR")
    return Need("room to verify in", "met", f"{_bytes(free)} free in {tempfile.gettempdir()}")


def _lock(folder: Path) -> Need:
    holder = holder_of(folder)
    return Need("writer", "met", f"served by process {holder}" if holder else "nobody serves it now")


def _drop(folder: Path) -> Iterator[Need]:
    """Yield what the drop folder lacks, nothing where the plant has none."""
    try:
        plan = read_plant(tables_folder(folder)).drop
    except (PlantFaults, OSError):  # `qc check-plant` names their faults
        return
    if plan is None:
        return
    place, noted = Path(plan.folder), drop_trouble(folder)
    if not place.is_dir():
        yield Need("drop folder", "missing", f"{place} is no folder; make it, or mount its share again")
    elif noted is None:
        yield Need("drop folder", "soon", f"no server has looked into {place} yet; start it anew")
    elif noted:
        yield Need("drop folder", "missing", f"as the server last looked: {noted}")
    else:
        yield Need("drop folder", "met", f"{place}, in the name of {plan.in_name_of}")


def _backup(folder: Path, now: int) -> Need:
    kept = last_backup(folder)
    if kept is None:
        return Need("backup", "missing", "none is noted here; make one on another disk: qc backup FOLDER TARGET")
    if not kept.at_ms:
        return Need("backup", "missing", f"none was whole so far, the last try failed: {kept.failed}")
    days = (now - kept.at_ms) / 86_400_000
    told = f"{_when(kept.at_ms)}, {days:.1f} days ago, to {kept.target}, verified, {kept.operations} operations"
    if kept.at_ms - now > AHEAD_MS:
        return Need("backup", "missing", f"{told}: dated ahead of this clock; make another, and look at the clock")
    if lies_within(folder, kept.target):
        words = "in the data folder itself: what destroys one destroys both; make one on another disk"
        return Need("backup", "missing", f"{told}, {words}")
    if kept.failed:
        return Need("backup", "missing", f"the last one failed ({kept.failed}); the last whole one: {told}")
    if days > OLD_DAYS:
        return Need("backup", "missing", f"{told}: that is long ago; make one each day")
    if not (Path(kept.target) / RECORD).is_file():
        return Need("backup", "soon", f"{told}; it is not there now: put its disk in, or make another")
    return Need("backup", "met", told)


def _when(ms: int) -> str:
    return datetime.fromtimestamp(ms / 1000, UTC).strftime("%Y-%m-%d %H:%M UTC")


def _bytes(count: int) -> str:
    return f"{count / 1e9:.1f} GB" if count >= 100_000_000 else f"{count / 1e6:.1f} MB"
