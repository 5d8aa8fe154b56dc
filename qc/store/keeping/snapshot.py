"""A throw-away copy of a record, of one moment, to read at length beside a server that goes on writing."""

import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TypeVar

from qc.domain.plant.plant import Plant
from qc.store.record.connection import RECORD, open_reader, open_writer
from qc.store.tables.migrations import MIGRATIONS, NewerRecord, take_all, version_of

T = TypeVar("T")


class Snapshot:
    """The copy, as what counts: a folder with the record, the plant and a way to write."""

    def __init__(self, folder: Path, plant: Plant) -> None:
        """folder: holds the copy and nothing else."""
        self.folder, self.plant = folder, plant
        self._conn = open_writer(folder / RECORD)

    def write(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Do a piece of work in a transaction of the copy."""
        self._conn.execute("BEGIN IMMEDIATE")
        try:
            done = work(self._conn)
            self._conn.execute("COMMIT")
        except BaseException:
            if self._conn.in_transaction:
                self._conn.execute("ROLLBACK")
            raise
        return done

    def close(self) -> None:
        """Close the copy."""
        self._conn.close()


@contextmanager
def snapshot(folder: Path, plant: Plant, room: Path) -> Iterator[Snapshot]:
    """Copy a folder's record into a folder of its own below ``room``, brought up to the code, and remove it after.

    Raises FileNotFoundError where there is no record, NewerRecord for one of a later program, OSError and
    sqlite3.Error where there is no room.
    """
    if not (folder / RECORD).is_file():
        raise FileNotFoundError(f"{folder} has no record yet")
    with tempfile.TemporaryDirectory(prefix="copy-", dir=room) as made:
        copied = Path(made)
        with closing(open_reader(folder / RECORD)) as source, closing(sqlite3.connect(copied / RECORD)) as target:
            source.set_progress_handler(None, 0)  # a copy of ten years takes longer than a page may
            source.backup(target)
        with closing(open_writer(copied / RECORD)) as conn:
            if version_of(conn) > MIGRATIONS[-1].number:
                raise NewerRecord(f"the record in {folder} is of a later program; use that one")
            take_all(conn)
        one = Snapshot(copied, plant)
        try:
            yield one
        finally:
            one.close()
