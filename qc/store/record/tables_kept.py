"""The plant's tables as the record keeps them, by the digest of each revision, and which of them are in force."""

import json
import sqlite3
from collections.abc import Callable, Mapping

from qc.domain.line.line_record import Revised

_KEPT = "SELECT 1 FROM plant_revision WHERE revision = ?"
_TABLES = "SELECT tables FROM plant_revision WHERE revision = ?"
_KEEP = """
INSERT OR IGNORE INTO plant_revision (revision, since_number, tables)
VALUES (?, (SELECT coalesce(max(number), 0) + 1 FROM journal), ?)
"""
_LAST_OPENED = "SELECT revision FROM plant_revision ORDER BY since_number DESC, rowid DESC LIMIT 1"
_LAST_TOLD = "SELECT revision FROM plant_change ORDER BY number DESC LIMIT 1"
_OWE = "INSERT OR REPLACE INTO store_setting (name, value) VALUES ('tables_owed', ?)"
_OWED = """
SELECT r.revision, r.tables
  FROM store_setting AS s
  JOIN plant_revision AS r ON r.revision = s.value
 WHERE s.name = 'tables_owed'
"""
_LAID = "DELETE FROM store_setting WHERE name = 'tables_owed' AND value = ?"
_REVISIONS = """
SELECT id, revision, previous, reason, from_day, revised_by, at_console, revised_ms, number
  FROM plant_change
 ORDER BY number
"""
_TELLS = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'plant_change'"


def revisions_told(conn: sqlite3.Connection) -> tuple[Revised, ...]:
    """Return every revision that an operation put in force, the first one first."""
    rows = conn.execute(_REVISIONS)
    names = [name for name, *_ in rows.description]
    return tuple(Revised(**dict(zip(names, row, strict=True))) for row in rows)


def keep_tables(conn: sqlite3.Connection, revision: str, tables: Mapping[str, str]) -> None:
    """Keep tables, file name → text, under their digest; those that are kept already stay as they are."""
    conn.execute(_KEEP, (revision, json.dumps(dict(tables), sort_keys=True)))


def keeps_tables(conn: sqlite3.Connection, revision: str) -> bool:
    """Return whether the record keeps the tables of a revision."""
    return conn.execute(_KEPT, (revision,)).fetchone() is not None


def owe_tables(conn: sqlite3.Connection, revision: str) -> None:
    """Note that the folder's files are to become these tables, in the transaction that puts them in force."""
    conn.execute(_OWE, (revision,))


def owed_tables(conn: sqlite3.Connection) -> tuple[str, dict[str, str]] | None:
    """Return revision and tables that the folder's files are to become, None where nothing is owed."""
    row = conn.execute(_OWED).fetchone()
    return None if row is None else (str(row[0]), dict(json.loads(row[1])))


def laid_tables(conn: sqlite3.Connection, revision: str) -> None:
    """Note that the folder's files are these tables now."""
    conn.execute(_LAID, (revision,))


def tables_in(conn: sqlite3.Connection) -> Callable[[str], str | None]:
    """Return a function that finds the tables of a plant revision that the record keeps, as JSON."""

    def tables_of(revision: str) -> str | None:
        row = conn.execute(_TABLES, (revision,)).fetchone()
        return None if row is None else str(row[0])

    return tables_of


def told_revision(conn: sqlite3.Connection) -> str | None:
    """Return the revision that an operation put in force last, None where none ever did."""
    if conn.execute(_TELLS).fetchone() is None:  # an earlier program's record, read before it is migrated
        return None
    row = conn.execute(_LAST_TOLD).fetchone()
    return None if row is None else str(row[0])


def revision_in_force(conn: sqlite3.Connection) -> str | None:
    """Return the revision in force: the one told last, else the one that the record was opened with last.

    None for a record that was never opened with any.
    """
    if (told := told_revision(conn)) is not None:
        return told
    row = conn.execute(_LAST_OPENED).fetchone()
    return None if row is None else str(row[0])
