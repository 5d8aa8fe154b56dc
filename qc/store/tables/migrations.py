"""The ordered steps that made the tables, each recorded when done.

To change the tables: write the step's text in `schema`, add a `Migration` with the next number at the end of
``MIGRATIONS``, never touch an earlier one, and add its tables to ``PROJECTION_TABLES`` if a rebuild derives them.
Before each step on a record that was there already, the record is copied beside itself and the copy is checked.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from qc.store.record.connection import RECORD
from qc.store.tables import schema
from qc.store.tables.summary_schema import LEFT_UNITS, LINES, OPEN_CRITICALS, PRESENTED_UNITS, STATION_SUMS, SUMMARIES


class NewerRecord(Exception):
    """The record was made by a later version of this program."""


class BackupFailed(Exception):
    """The copy that must stand before a migration could not be made or is not whole."""


class LooseTable(Exception):
    """A migration made a table that takes any type in any column."""


@dataclass(frozen=True, slots=True)
class Migration:
    """A step. number counts from 1 without gaps; what tells it in a few words.

    script is its SQL, each statement begun on a line of its own.
    """

    number: int
    what: str
    script: str


MIGRATIONS: tuple[Migration, ...] = (
    Migration(
        1,
        "the record: journal, releases, accounts, projections, photos",
        "\n".join((schema.JOURNAL, schema.RELEASES, schema.ACCOUNTS, schema.PROJECTIONS, schema.PHOTOS)),
    ),
    Migration(2, "summaries: counts by day, ISO week and block of 13 weeks", SUMMARIES),
    Migration(3, "signatures on releases, and the keys that made them", schema.SIGNATURES),
    Migration(4, "station sums: a column for each set of severities", STATION_SUMS),
    Migration(5, "mutes: signals that a manager does not want listed before a day", schema.MUTES),
    Migration(6, "alarms: what is so, as holds are not kept", schema.ALARM_WORDS),
    Migration(7, "presented units: on which day each counts, and which are under way", PRESENTED_UNITS),
    Migration(8, "origins that nobody has settled: an index of their own", schema.UNSETTLED),
    Migration(9, "test results: open-ended readings, why done again, slips taken back", schema.RETESTS),
    Migration(10, "backlogs: indexes of open origins, of repairs and of releases by when", schema.BACKLOGS),
    Migration(11, "units that left: what was found after dispatch, up to day 60 and later", LEFT_UNITS),
    Migration(12, "alarms of phones that saw another history than the record holds", schema.HISTORY_ALARMS),
    Migration(13, "open criticals and units that left: indexes of their own", OPEN_CRITICALS),
    Migration(14, "proofs of authorship: runs of operations under their author's signature", schema.PROOFS),
    Migration(15, "words on what was set aside: taken in under whose name, or left, and why", schema.QUARANTINE),
    Migration(16, "wrong tries: counted by person and place, and kept to be shown", schema.WRONG_TRIES),
    Migration(17, "people and phones: derived from operations, secrets kept beside them", schema.ROSTER),
    Migration(18, "offers to phones that are to be enrolled", schema.ENROLMENT),
    Migration(19, "what phones say of themselves: version, what waits, clock", schema.DEVICE_WORDS),
    Migration(20, "units that are cancelled: a state of their own", schema.CANCELLED),
    Migration(21, "photos: where on them the flaw is circled", schema.CIRCLES),
    Migration(22, "machines: their tokens, when each was used, and wrong ones by address", schema.MACHINES),
    Migration(23, "files of the drop folder: what became of each", schema.DROPS),
    Migration(24, "mail: who asked for which, and what became of each", schema.MAIL),
    Migration(25, "revisions of the plant's tables: which followed which, and why", schema.REVISIONS),
    Migration(26, "units that no plan holds yet: who met them", schema.MET),
    Migration(27, "defects: which of the plant's own severities they have", schema.GRADES),
    Migration(28, "the language that each person has chosen", schema.LANGUAGES),
    Migration(29, "defects: the lot of the part that they are on", schema.LOTS),
    Migration(30, "people: their further roles", schema.ROLES_TOGETHER),
    Migration(31, "units: on which of several lines each is built, and the sums by line", LINES),
)

# Derived from the journal; a rebuild empties and refills them. In no particular order: none refers to another.
PROJECTION_TABLES: tuple[str, ...] = (
    "verdict",
    "parked",
    "stream",
    "unit",
    "station_pass",
    "inspection",
    "zone_look",
    "defect",
    "defect_photo",
    "defect_change",
    "defect_repair",
    "test_result",
    "change_note",
    "signal_mute",
    "quarantine_word",
    "person",
    "device",
    "machine",
    "plant_change",
)

# Of these, what an earlier program kept as tables of their own, and stands so until a journal tells of them.
ROSTER_TABLES = frozenset({"person", "device"})

_MADE = "CREATE TABLE IF NOT EXISTS migration (number INTEGER PRIMARY KEY, what TEXT NOT NULL) STRICT"
_NOTE = "INSERT INTO migration (number, what) VALUES (?, ?)"
_IS_MADE = "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = 'migration'"
_LAST = "SELECT coalesce(max(number), 0) FROM migration"


def version_of(conn: sqlite3.Connection) -> int:
    """Return the number of the last migration done, 0 for an empty file."""
    if conn.execute(_IS_MADE).fetchone() == (0,):
        return 0
    return int(conn.execute(_LAST).fetchone()[0])


def migrate(conn: sqlite3.Connection, folder: Path) -> int:
    """Bring the record up to the code, each step in a transaction of its own; return the version it now has.

    Raises NewerRecord where the record is ahead of the code, BackupFailed before anything is changed, LooseTable.
    """
    done = version_of(conn)
    if done > MIGRATIONS[-1].number:
        raise NewerRecord(
            f"the record in {folder} is of version {done}, this program knows {MIGRATIONS[-1].number}; "
            "install the program's later version, nothing was changed"
        )
    for step in MIGRATIONS[done:]:
        if done:  # a new record has nothing to lose yet
            copy_before(conn, folder, step.number)
        _take(conn, step)
    return version_of(conn)


def take_all(conn: sqlite3.Connection) -> None:
    """Take every step that a throw-away copy of a record lacks, without a copy of it. Raises LooseTable."""
    for step in MIGRATIONS[version_of(conn) :]:
        _take(conn, step)


def _take(conn: sqlite3.Connection, step: Migration) -> None:
    conn.execute("BEGIN IMMEDIATE")
    try:
        for statement in (*statements(step.script), _MADE):
            conn.execute(statement)
        conn.execute(_NOTE, (step.number, step.what))
        _require_strict(conn, step)
        conn.execute("COMMIT")
    except BaseException:
        if conn.in_transaction:
            conn.execute("ROLLBACK")
        raise


def statements(script: str) -> Iterator[str]:
    """Yield the statements of a script one by one, a trigger with its body whole."""
    held = ""
    for line in script.splitlines(keepends=True):
        held += line
        if sqlite3.complete_statement(held):
            yield held
            held = ""
    if held.strip():
        raise ValueError(f"the script's last statement has no end: {held.strip()[:60]}")


def _require_strict(conn: sqlite3.Connection, step: Migration) -> None:
    from sqlite_utils import Database  # slow to import, and most openings have no step to take

    tables = [table for table in Database(conn).tables if not table.name.startswith("sqlite_")]
    loose = [table.name for table in tables if not table.strict]
    if loose:
        raise LooseTable(
            f"migration {step.number} leaves {', '.join(loose)} without STRICT; add it, nothing was changed"
        )


def copy_before(conn: sqlite3.Connection, folder: Path, number: int) -> Path:
    """Copy the record to ``record-before-<number>.sqlite``, whole or not at all, and check it. Raises BackupFailed.

    What a machine that went out left of an earlier try is made anew: SQLite refuses to write over half a file.
    """
    target = folder / f"{Path(RECORD).stem}-before-{number}.sqlite"
    making = target.with_name(f"{target.name}.making")
    left = [making.with_name(f"{making.name}{ending}") for ending in ("", "-journal", "-wal", "-shm")]
    try:
        for one in left:
            one.unlink(missing_ok=True)
        with closing(sqlite3.connect(making)) as copy:
            conn.backup(copy)
            (answer,) = copy.execute("PRAGMA integrity_check").fetchone()
        if answer != "ok":
            raise BackupFailed(f"the copy {making} made before migration {number} is not whole: {answer}")
        os.replace(making, target)
    except (OSError, sqlite3.Error) as error:
        for one in left:
            with suppress(OSError):
                one.unlink(missing_ok=True)
        size = (folder / RECORD).stat().st_size / 1_000_000
        raise BackupFailed(
            f"before step {number} of the upgrade the whole record is copied to {target}, and that failed ({error}). "
            f"Nothing of that step was done and the record is as it was: see that {folder} can be written and has "
            f"{size:.0f} MB free for each step that is left, then start again"
        ) from error
    return target
