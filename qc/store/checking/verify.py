"""Whether the record is what it was: the chain, the tables against the journal, the releases, the photos, the file."""

import csv
import hashlib
import io
import sqlite3
import tempfile
from collections.abc import Container, Iterator
from contextlib import closing
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

import orjson

from qc.domain.tables.plant_tables import PICTURES, revision_of
from qc.store.checking.checks import Check, checked
from qc.store.checking.verify_derived import against_rebuild
from qc.store.checking.verify_limits import BEYOND_THE_FOLDER, NOT_COVERED
from qc.store.checking.verify_people import people_notes
from qc.store.checking.verify_proofs import proof_faults, proof_notes
from qc.store.checking.verify_signatures import key_faults, key_notes, own_key_faults, signature_faults
from qc.store.folder.photos import shape_of
from qc.store.record.arrivals import json_of
from qc.store.record.chain import GENESIS, HASHED_COLUMNS, row_hash
from qc.store.record.connection import RECORD, is_read_only, no_room_beside, open_reader
from qc.store.record.history import history_alarms, holds
from qc.store.tables.migrations import MIGRATIONS, take_all, version_of

SIGNED_SINCE = 3  # the migration that brought signatures on releases
PROVED_SINCE = 14  # the migration that brought proofs of authorship
HOURS = 24 * 3600.0
KEYS = "keys"

_CHAIN = f"SELECT {', '.join(HASHED_COLUMNS)}, previous, hash FROM journal ORDER BY number"
_COPIED = {"id": 1, "device": 2, "install_epoch": 3, "seq": 4}  # columns that must be what the bytes say
_REVISIONS = "SELECT revision, tables FROM plant_revision ORDER BY since_number"
_SHAPE = """
SELECT type || ' ' || name, sql
  FROM sqlite_master
 WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite~_%' ESCAPE '~' -- SQLite's own: counters and statistics
 ORDER BY 1
"""
_RELEASES = "SELECT id, unit, story, story_digest FROM release_record ORDER BY number"
_PHOTOS = "SELECT sha256, bytes, media_type, width, height FROM photo ORDER BY sha256"
_LAST = "SELECT coalesce(max(number), 0) FROM journal"
_END = "SELECT number, hash FROM journal ORDER BY number DESC LIMIT 1"
_COUNTED = "SELECT seq FROM sqlite_sequence WHERE name = 'journal'"
# What is kept beside the journal and tells of its rows: who cuts its end off must think of these too.
_POINT_AT = {
    "release_record": "SELECT coalesce(max(number), 0) FROM release_record",
    "plant_revision": "SELECT coalesce(max(since_number), 1) - 1 FROM plant_revision",
}
_UNARRIVED = """
SELECT count(DISTINCT p.sha256)
  FROM defect_photo AS p
 WHERE NOT EXISTS (SELECT 1 FROM photo AS h WHERE h.sha256 = p.sha256)
"""


class CannotVerify(Exception):
    """There is no record to verify, or one that this program does not know."""


@dataclass(frozen=True, slots=True)
class VerifyReport:
    """Every check in order. notes: what is no fault but worth knowing, such as photos that have not arrived.

    last_row, last_hash (hex): where the journal ends, to be noted elsewhere; 0 and "" for an empty one.
    """

    folder: str
    checks: tuple[Check, ...]
    notes: tuple[str, ...]
    last_row: int = 0
    last_hash: str = ""

    @property
    def is_whole(self) -> bool:
        """Whether no check found a fault."""
        return all(check.faults == 0 for check in self.checks)

    @property
    def exit_code(self) -> int:
        """0 where nothing is wrong, 1 where something is; 2 (cannot be verified) is `CannotVerify`."""
        return 0 if self.is_whole else 1

    def as_dict(self) -> dict[str, Any]:
        """Return the report as JSON tells it, with what was not covered."""
        beside = {"not_covered": [asdict(one) for one in NOT_COVERED], "beyond_the_folder": BEYOND_THE_FOLDER}
        return {**asdict(self), "whole": self.is_whole, **beside}


def verify(folder: Path, noted: tuple[int, str] | None = None) -> VerifyReport:
    """Verify a folder's record as it stands now; a server may go on meanwhile.

    noted: a row's number and hash (hex) that were noted elsewhere once and that the journal must still hold. Works on
    a copy of one moment. Raises CannotVerify where there is no record, where a later program made it, and where
    there is no room to check it in or this account may not read all of it: that says nothing of the record.
    """
    if not (folder / RECORD).is_file():
        raise CannotVerify(f"there is no record in {folder}; give the data folder that the server uses")
    try:
        with (folder / RECORD).open("rb"):  # SQLite does not say of which file it has no right
            pass
        with tempfile.TemporaryDirectory(prefix="verify-") as room:
            return _verified_in(folder, Path(room), noted)
    except PermissionError as error:
        raise CannotVerify(_no_right(f"{error.filename} may not be read by this account")) from error
    except OSError as error:
        raise CannotVerify(_no_room(error)) from error


def _verified_in(folder: Path, room: Path, noted: tuple[int, str] | None) -> VerifyReport:
    try:
        with closing(_copy(folder / RECORD, room / "as-kept.sqlite")) as kept:
            try:
                return _verified(folder, kept, room, noted)
            except sqlite3.DatabaseError as error:
                unread = () if getattr(error, "sqlite_errorcode", 0) in _NO_ROOM else tuple(_unreadable(kept))
                if not any(unread):
                    raise
                return _broken(folder, *filter(None, unread))
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorcode", 0) in _NO_ROOM:
            raise CannotVerify(_no_room(error)) from error
        if why := no_room_beside(error, folder):
            raise CannotVerify(why) from error
        if is_read_only(error):
            why = f"this account may not write in {folder}, which SQLite must to read the record there ({error})"
            raise CannotVerify(_no_right(why)) from error
        return _broken(folder, f"SQLite cannot read the file: {error}")
    except (CannotVerify, OSError):
        raise
    except Exception as error:  # what a changed byte makes it trip over where no check stands guard
        return _broken(folder, f"what the file holds cannot be read: {type(error).__name__}: {str(error)[:200]}")


def _broken(folder: Path, *words: str) -> VerifyReport:
    return VerifyReport(str(folder), (Check("file", 1, len(words), words),), ())


# Failures to write, which only the copy in the temporary folder is ever asked to do.
_NO_ROOM = frozenset(
    {sqlite3.SQLITE_FULL, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR_WRITE, sqlite3.SQLITE_IOERR_FSYNC}
)


def _no_room(error: Exception) -> str:
    return (
        f"it could not be checked in {tempfile.gettempdir()} ({error}); nothing is known of the record by that. Make "
        "room there, as much as the record takes twice, or name another folder in TMPDIR, and verify again"
    )


def _no_right(why: str) -> str:
    return (
        f"{why}; nothing is known of the record by that. Verify as the account that the server runs under, or a copy "
        "of the whole folder that is this account's own"
    )


def _copy(source: Path, target: Path) -> sqlite3.Connection:
    copy = sqlite3.connect(target, isolation_level=None)
    copy.execute("PRAGMA synchronous = OFF")  # a copy to be thrown away
    with closing(open_reader(source, HOURS)) as conn:
        conn.backup(copy)
    return copy


def _verified(folder: Path, kept: sqlite3.Connection, room: Path, noted: tuple[int, str] | None) -> VerifyReport:
    version = version_of(kept)
    if version > MIGRATIONS[-1].number:
        raise CannotVerify(f"the record is of version {version}, this program knows {MIGRATIONS[-1].number}")
    checks = [
        checked("file", _file_faults(kept)),
        checked("tables and triggers", _shape_faults(kept, version)),
        checked("tables read", _unreadable(kept, _wanted_tables() - {one.table for one in NOT_COVERED})),
        checked("plant revisions", _revision_faults(kept)),
        checked("journal chain", _chain_faults(kept)),
        checked("journal end", _end_faults(kept, noted)),
    ]
    take_all(kept)  # a record that an earlier program left, compared with what this one derives
    checks += against_rebuild(kept, room)
    if version >= SIGNED_SINCE:
        checks += [
            checked("release signatures", signature_faults(kept)),
            checked("release keys", key_faults(kept)),
            checked("own key", own_key_faults(kept, folder / KEYS)),
        ]
    if version >= PROVED_SINCE:
        checks.append(checked("authors", proof_faults(kept)))
    checks += [checked("releases", _release_faults(kept)), checked("photos", _photo_faults(kept, folder / "photos"))]
    (unarrived,) = kept.execute(_UNARRIVED).fetchone()
    notes = [f"{unarrived} photos are named by a record and have not arrived"] if unarrived else []
    notes += _pictures_missing(kept)
    notes += key_notes(kept) if version >= SIGNED_SINCE else []
    notes += [alarm.words for alarm in history_alarms(kept)]
    notes += proof_notes(kept)
    notes += people_notes(kept)
    notes += _strays(kept, folder / "photos")
    number, head = kept.execute(_END).fetchone() or (0, b"")
    return VerifyReport(str(folder), tuple(checks), tuple(notes), number, bytes(head).hex())


def _file_faults(kept: sqlite3.Connection) -> Iterator[str | None]:
    for (answer,) in kept.execute("PRAGMA integrity_check"):
        yield None if answer == "ok" else f"SQLite: {answer}"
    for table, row, parent, _ in kept.execute("PRAGMA foreign_key_check"):
        yield f"{table} row {row} refers to nothing in {parent}"


def _shape_faults(kept: sqlite3.Connection, version: int) -> Iterator[str | None]:
    wanted, found = _wanted_shape(version), dict(kept.execute(_SHAPE))
    for name, sql in wanted.items():
        yield None if found.get(name) == sql else f"{name} is {'changed' if name in found else 'missing'}"
    for name in found.keys() - wanted.keys() - {"table migration"}:
        yield f"{name} is not ours"
    steps = [number for (number,) in kept.execute("SELECT number FROM migration ORDER BY number")]
    yield None if steps == list(range(1, version + 1)) else f"the steps that made the tables are noted as {steps}"


def _unreadable(kept: sqlite3.Connection, covered: Container[str] = ()) -> Iterator[str | None]:
    """Yield which tables cannot be read to their end, but for those that other checks look into, by a word on each."""
    for (table,) in kept.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall():
        if table in covered:
            continue
        try:
            for _ in kept.execute(f'SELECT * FROM "{table}"'):
                pass
        except sqlite3.DatabaseError as error:
            yield f"{table} cannot be read: {str(error)[:200]}"
        else:
            yield None


def _wanted_tables() -> frozenset[str]:
    return frozenset(name.removeprefix("table ") for name in _wanted_shape(MIGRATIONS[-1].number))


@cache
def _wanted_shape(version: int) -> dict[str, str]:
    with closing(sqlite3.connect(":memory:")) as fresh:
        for step in MIGRATIONS[:version]:
            fresh.executescript(step.script)
        return dict(fresh.execute(_SHAPE))


def _revision_faults(kept: sqlite3.Connection) -> Iterator[str | None]:
    for revision, tables in kept.execute(_REVISIONS):
        same = revision_of(orjson.loads(tables)) == revision
        yield None if same else f"the kept tables of revision {revision} are not those it was named for"


def _chain_faults(kept: sqlite3.Connection) -> Iterator[str | None]:
    previous = GENESIS
    for number, (*values, told_previous, told_hash) in enumerate(kept.execute(_CHAIN), start=1):
        yield _row_fault(values, told_previous, told_hash, previous, number)
        previous = told_hash


def _end_faults(kept: sqlite3.Connection, noted: tuple[int, str] | None) -> Iterator[str | None]:
    """Yield whether the journal ends where SQLite counted it to, and whether it holds the row noted elsewhere."""
    (last,) = kept.execute(_LAST).fetchone()
    (counted,) = kept.execute(_COUNTED).fetchone() or (0,)
    yield None if last == counted else f"row {last} is the last one, and {counted} were written: the end is cut off"
    for table, (most,) in ((name, kept.execute(ask).fetchone()) for name, ask in _POINT_AT.items()):
        yield None if most <= last else f"{table} tells of row {most}, and the journal ends with row {last}"
    if noted is not None:
        number, digest = noted
        yield None if holds(kept, number, digest) else f"row {number} is not the one that was noted elsewhere"


def _pictures_missing(kept: sqlite3.Connection) -> list[str]:
    """Return a note of each picture that tables of the record name and that is not kept."""
    named: dict[str, str] = {}
    for revision, tables in kept.execute(_REVISIONS):
        for row in csv.DictReader(io.StringIO(orjson.loads(tables).get(PICTURES, ""))):
            named.setdefault(str(row.get("picture")), f"{row.get('model')} {row.get('view')}, tables {revision[:12]}")
    held = {sha256 for sha256, *_ in kept.execute(_PHOTOS)}
    missing = [where for sha256, where in named.items() if sha256 not in held]
    return [f"the picture under the zones of {where} is named by the tables and not here" for where in missing]


def _strays(kept: sqlite3.Connection, photos: Path) -> list[str]:
    """Return a note of whole photo files that no row names."""
    known = {sha256 for sha256, *_ in kept.execute(_PHOTOS)}
    strays = [path for path in photos.glob("[0-9a-f][0-9a-f]/*") if path.name not in known]
    told = "photo files are here without their rows: kept and not yet acknowledged, or their rows were taken away"
    return [f"{len(strays)} {told}"] if strays else []


def _row_fault(values: list[Any], told_previous: bytes, told_hash: bytes, previous: bytes, number: int) -> str | None:
    if values[0] != number:
        return f"number {number} is missing, {values[0]} stands in its place"
    if told_previous != previous:
        return f"row {number} does not follow the row before it"
    if row_hash(previous, values) != told_hash:
        return f"row {number} was changed after it was written"
    return _bytes_fault(values, number)


def _bytes_fault(values: list[Any], number: int) -> str | None:
    raw = json_of(values[-1])
    wrong = [name for name, place in _COPIED.items() if raw.get(name) != values[place]]
    return f"row {number}: {', '.join(wrong)} is not what the bytes received say" if wrong else None


def _release_faults(kept: sqlite3.Connection) -> Iterator[str | None]:
    for _, unit, story, digest in kept.execute(_RELEASES):
        same = hashlib.sha256(story.encode()).hexdigest() == digest
        yield None if same else f"the release record of {unit} was changed after it was frozen"


def _photo_faults(kept: sqlite3.Connection, photos: Path) -> Iterator[str | None]:
    for sha256, size, *shape in kept.execute(_PHOTOS):
        yield _photo_fault(photos / sha256[:2] / sha256, sha256, size, shape)


def _photo_fault(path: Path, sha256: str, size: int, shape: list[Any]) -> str | None:
    try:
        data = path.read_bytes()
    except PermissionError:
        raise  # it says nothing of the photo
    except OSError as error:
        return f"photo {sha256[:12]}… cannot be read: {error.strerror}"
    same = len(data) == size and hashlib.sha256(data).hexdigest() == sha256
    if not same:
        return f"photo {sha256[:12]}… is not the picture that was kept"
    return None if shape_of(data) == tuple(shape) else f"photo {sha256[:12]}… has another form or size than is noted"
