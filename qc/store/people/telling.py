"""Telling the record what became of people and phones, in the transaction in which it is done.

Two can: the process that serves, by its journal, and a command beside it, whose own door appends to the same chain.
"""

import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any, Protocol, TypeVar

import orjson

from qc.domain.tables.plant_rules import PlantRevisions
from qc.domain.tables.plant_tables import plant_from_tables
from qc.store.intake.door import Door
from qc.store.intake.journal import KEYS, person_in_table
from qc.store.record.certificates import Certificates
from qc.store.record.connection import RECORD, RecordInUse, open_reader, open_writer
from qc.store.record.own_word import BY_ITSELF, By, number_told, word_of
from qc.store.record.signing import ReleaseKey
from qc.store.record.tables_kept import revision_in_force, tables_in
from qc.store.tables.migrations import MIGRATIONS, version_of

T = TypeVar("T")


class Record(Protocol):
    """What writes people and phones: a transaction, and a word in it."""

    clock: Callable[[], int]
    certificates: Certificates

    def write(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Run ``work`` in a transaction and return its answer once that is on disk."""

    def tell(self, conn: sqlite3.Connection, kind: str, body: Mapping[str, Any], by: By = BY_ITSELF) -> int:
        """Append an operation in that transaction, settle it and return its number. Raises NotTold."""

    def begin_anew(self) -> None:
        """Judge by the tables that are in force from the next operation on. For who put some in force, in `write`."""


def latest_tables(folder: Path) -> dict[str, str] | None:
    """Return the plant's tables that are in force in a folder's record, None where there is no record."""
    if not (folder / RECORD).exists():
        return None
    with closing(open_reader(folder / RECORD)) as conn:
        revision = revision_in_force(conn)
        tables = None if revision is None else tables_in(conn)(revision)
        return None if tables is None else dict(orjson.loads(tables))


class Beside:
    """Writes people and phones beside a running server. Closed, or used in a ``with``.

    The server sees that its record was written to and reads where the chain stands anew.
    """

    def __init__(self, folder: Path, clock: Callable[[], int]) -> None:
        """clock: the folder's. Raises RecordInUse where the server is another version's, KeyLost."""
        self.folder = folder
        self.clock = clock
        self._conn = open_writer(folder / RECORD)
        self._key = ReleaseKey(folder / KEYS)
        self.certificates = Certificates(self._key, clock)
        try:
            if version_of(self._conn) != MIGRATIONS[-1].number:
                raise RecordInUse(f"{folder} is served by another version of this program; start the server again")
            self.write(self._key.load)
            plant = plant_from_tables(orjson.loads(tables_in(self._conn)(self._in_force()) or "{}"))
            self._revisions = PlantRevisions(plant, tables_in(self._conn))
        except BaseException:
            self._conn.close()
            raise

    def write(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Run ``work`` in a transaction and return its answer once that is on disk."""
        self._conn.execute("BEGIN IMMEDIATE")
        try:
            answer = work(self._conn)
        except BaseException:
            self._conn.execute("ROLLBACK")
            raise
        self._conn.execute("COMMIT")
        return answer

    def tell(self, conn: sqlite3.Connection, kind: str, body: Mapping[str, Any], by: By = BY_ITSELF) -> int:
        """Append an operation in that transaction, settle it and return its number. Raises NotTold."""
        now = self.clock()
        door = Door(conn, self._revisions.of, person_in_table, self._key)  # anew each time: the server writes as well
        return number_told(door.take(word_of(by, kind, body, now), now, self._revisions.of(self._in_force())))

    def begin_anew(self) -> None:
        """Judge by the tables that are in force from the next operation on, as each one is here."""

    def _in_force(self) -> str:
        return revision_in_force(self._conn) or ""

    def close(self) -> None:
        """Close the connection."""
        self._conn.close()

    def __enter__(self) -> "Beside":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
