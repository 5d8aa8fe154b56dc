"""Putting new tables of the plant in force: kept and told in one transaction, then laid in the folder."""

import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Protocol, TypeVar

from qc.domain.tables.plant_tables import PICTURES, plant_from_tables
from qc.store.folder.photos import pictures_missing
from qc.store.folder.plant_folder import lay_out, tables_folder
from qc.store.record.own_word import By, NotTold
from qc.store.record.tables_kept import keep_tables, laid_tables, owe_tables, owed_tables, revision_in_force

T = TypeVar("T")


class FilesNotLaid(Exception):
    """Tables are in force, and the folder's files are not these yet."""


class Record(Protocol):
    """What puts tables in force: the journal of the server, or what writes beside it."""

    def write(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Run ``work`` in a transaction and return its answer once that is on disk."""

    def tell(self, conn: sqlite3.Connection, kind: str, body: Mapping[str, Any], by: By) -> int:
        """Append an operation in that transaction, settle it and return its number. Raises NotTold."""

    def begin_anew(self) -> None:
        """Judge by the tables that are in force from the next operation on."""


def put_in_force(
    record: Record, folder: Path, tables: Mapping[str, str], previous: str, reason: str, from_day: str, by: By
) -> int | None:
    """Put tables, file name → text, in force after those of the digest ``previous``; return the operation's number.

    They become the files of the data folder too. from_day: the day (ISO) since which the plant works by them. None, and
    nothing told, where these tables are in force already. Raises PlantFaults, and NotTold where others are in force
    than those that were compared, or the record does not allow it: then nothing was kept. Raises FilesNotLaid once they
    are in force.
    """
    plant = plant_from_tables(tables)
    revision = plant.revision

    def work(conn: sqlite3.Connection) -> int | None:
        in_force = revision_in_force(conn)
        if in_force == revision:
            return None
        if in_force != previous:
            words = (
                f"other tables were put in force meanwhile ({(in_force or 'none')[:12]}); look at what yours would "
                "change now, and take them then"
            )
            raise NotTold("tables_overtaken", words)
        if missing := pictures_missing(conn, plant):
            words = (
                f"the picture of {' '.join(missing[0])} that {PICTURES} names is not kept here; hand the picture "
                "itself in, on the page of the tables or with qc picture"
            )
            raise NotTold("picture_missing", words)
        keep_tables(conn, revision, tables)
        body = {"revision": revision, "previous": previous, "reason": reason, "from_day": from_day}
        number = record.tell(conn, "plant_revised", body, by)
        owe_tables(conn, revision)
        record.begin_anew()
        return number

    number = record.write(work)
    try:
        lay_owed(record, folder)
    except OSError as error:
        words = f"the tables are in force; the files in {tables_folder(folder)} could not be written ({error})"
        raise FilesNotLaid(f"{words}: the server does it at its next start, or revise the same tables again") from error
    return number


def lay_owed(record: Record, folder: Path) -> None:
    """Make the folder's files the tables in force where a revision was taken and they are not yet.

    Who took it may have been ended between the two; so it is done again whenever a server starts. The files are written
    in the record's transaction: two revisions that come close on each other, also by a page and a command, would write
    into each other's files. Raises OSError where they cannot be written; they stay owed.
    """

    def work(conn: sqlite3.Connection) -> OSError | None:
        owed = owed_tables(conn)
        if owed is None:
            return None
        revision, tables = owed
        try:
            lay_out(folder, tables)
        except OSError as error:  # the folder's fault, not the record's
            return error
        laid_tables(conn, revision)
        return None

    if (error := record.write(work)) is not None:
        raise error
