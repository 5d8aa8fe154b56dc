"""The ordered steps that made the tables, each recorded when done.

To change the tables: write the step's text in `schema`, add a `Migration` with the next number at the end of
``MIGRATIONS``, never touch an earlier one, and add its tables to ``PROJECTION_TABLES`` if a rebuild derives them.
Before each step on a record that was there already, the record is copied beside itself and the copy is checked.
"""

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from qc.store import schema
from qc.store.connection import RECORD
from qc.store.summary_schema import SUMMARIES


class NewerRecord(Exception):
    """The record was made by a later version of this program."""


class BackupFailed(Exception):
    """The copy that must stand before a migration could not be made or is not whole."""


@dataclass(frozen=True, slots=True)
class Migration:
    """A step. number counts from 1 without gaps; what tells it in a few words; script is its SQL."""

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
)

_MADE = "CREATE TABLE IF NOT EXISTS migration (number INTEGER PRIMARY KEY, what TEXT NOT NULL) STRICT"


def version_of(conn: sqlite3.Connection) -> int:
    """Return the number of the last migration done, 0 for an empty file."""
    if "migration" not in Database(conn).table_names():
        return 0
    (last,) = conn.execute("SELECT coalesce(max(number), 0) FROM migration").fetchone()
    return int(last)


def migrate(conn: sqlite3.Connection, folder: Path) -> int:
    """Bring the record up to the code, each step in a transaction of its own; return the version it now has.

    Raises NewerRecord where the record is ahead of the code, BackupFailed before anything is changed.
    """
    done = version_of(conn)
    if done > MIGRATIONS[-1].number:
        raise NewerRecord(
            f"the record in {folder} is of version {done}, this program knows {MIGRATIONS[-1].number}; "
            "install the program's later version, nothing was changed"
        )
    for step in MIGRATIONS[done:]:
        if done:  # a new record has nothing to lose
            copy_before(conn, folder, step.number)
        _take(conn, step)
    return version_of(conn)


def _take(conn: sqlite3.Connection, step: Migration) -> None:
    # executescript commits before it starts, so the transaction is part of the script.
    note = f"{_MADE};\nINSERT INTO migration (number, what) VALUES ({step.number}, '{step.what}');"
    try:
        conn.executescript(f"BEGIN IMMEDIATE;\n{step.script}\n{note}\nCOMMIT;")
    except BaseException:
        if conn.in_transaction:
            conn.execute("ROLLBACK")
        raise


def copy_before(conn: sqlite3.Connection, folder: Path, number: int) -> Path:
    """Copy the record to ``record-before-<number>.sqlite`` and check the copy. Raises BackupFailed."""
    target = folder / f"{Path(RECORD).stem}-before-{number}.sqlite"
    with closing(sqlite3.connect(target)) as copy:
        conn.backup(copy)
        (answer,) = copy.execute("PRAGMA integrity_check").fetchone()
    if answer != "ok":
        raise BackupFailed(f"the copy {target} made before migration {number} is not whole: {answer}")
    return target
