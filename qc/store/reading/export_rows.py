"""Rows of the record as they go out: read some thousand at a time, so that ten years of them need no more memory.

Each statement begins with the row's own number, after which the next piece goes on.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sqlite_utils import Database

PIECE = 2000
_PAGED = "\n WHERE t.rowid > :after\n ORDER BY t.rowid\n LIMIT :piece"
# Of units on which something came in later: a unit's own last number tells, whatever of its rows that changed.
_SINCE = """
 WHERE t.rowid > :after AND t.{unit} IN (SELECT chassis FROM unit WHERE last_number > :since)
 ORDER BY t.rowid
 LIMIT :piece
"""
_LAST = "SELECT coalesce(max(number), 0) FROM journal"

QUERIES: Mapping[str, str] = {
    "units": """
SELECT t.rowid, t.chassis, t.shop_number, t.sequence, t.model, t.options, t.build_sheet, t.line,
       CASE WHEN t.met_by IS NULL THEN t.planned_day END, t.state,
       t.alarm, t.released_ms, t.released_by
  FROM unit AS t""",
    "inspections": """
SELECT t.rowid, t.id, t.unit, u.model, t.point, t.purpose, t.presentation, t.inspector, t.light, t.weather, t.begun_ms,
       t.ended_ms, t.production_day, t.shift, t.clean_all, t.clean_major,
       (SELECT count(*) FROM zone_look AS z WHERE z.inspection = t.id AND z.looked = 1),
       (SELECT count(*) FROM zone_look AS z WHERE z.inspection = t.id AND z.looked = 0)
  FROM inspection AS t
  JOIN unit AS u ON u.chassis = t.unit""",
    "defects": """
SELECT t.rowid, t.id, t.unit, t.model, t.inspection, t.point, t.first_presentation, t.zone, t.type, t.severity, t.grade,
       t.lot, t.note, t.found_ms, t.production_day, t.shift, t.finder, t.state, t.cycles, t.repair_minutes,
       t.repaired_by, t.rechecked_by, t.withdrawn_why, t.duplicate_of, t.suspected, t.confirmed, t.origin_state,
       t.work_day, t.work_day_basis
  FROM defect AS t""",
    "tests": """
SELECT t.rowid, t.id, t.unit, u.model, t.test, t.point, t.inspection, t.value, t.beyond, t.passed, t.instrument,
       t.calibrated_until, t.tester, t.tested_ms, t.production_day, t.again, t.voided_by IS NOT NULL,
       t.taken_back IS NOT NULL
  FROM test_result AS t
  JOIN unit AS u ON u.chassis = t.unit""",
    "releases": """
SELECT t.rowid, t.id, t.unit, u.model, t.signed_by, t.against, t.released_ms, t.story_digest, t.number
  FROM release_record AS t
  JOIN unit AS u ON u.chassis = t.unit""",
    "people": """
SELECT t.rowid, t.code, t.name, t.role, t.also, t.stations, t.ended
  FROM person AS t""",
}
_UNIT_OF = {"units": "chassis", "inspections": "unit", "defects": "unit", "tests": "unit", "releases": "unit"}
_JOURNAL = """
SELECT j.number, j.received_ms, j.happened_ms, v.verdict, v.code, v.reason, j.hash, j.bytes
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 WHERE j.number > :after
 ORDER BY j.number
 LIMIT :piece
"""


def rows_of(connection: sqlite3.Connection, table: str) -> Iterator[tuple[Any, ...]]:
    """Yield a table's rows without their own number, in order of entry. Raises KeyError for a table of no such name."""
    for row in _pieces(connection, QUERIES[table] + _PAGED):
        yield row[1:]


def columns_of(connection: sqlite3.Connection, table: str, piece: int) -> Iterator[list[tuple[Any, ...]]]:
    """Yield a table's columns without the rows' own number, so many rows at a time, in order of entry.

    For what is written column by column. Raises KeyError for a table of no such name.
    """
    after, cursor = 0, connection.cursor()
    cursor.row_factory = None  # plain rows: their columns are taken by place
    while rows := cursor.execute(QUERIES[table] + _PAGED, {"after": after, "piece": piece}).fetchall():
        after = rows[-1][0]
        yield list(zip(*rows, strict=True))[1:]


def page_of(
    connection: sqlite3.Connection, table: str, after: int, limit: int, since: int
) -> list[tuple[int, tuple[Any, ...]]]:
    """Return at most so many rows of a table after one, each with its own number, which goes on rising.

    since: only of units on which an operation of a later number came in; 0 for all. Raises KeyError for a table of no
    such name, and for one that is of no unit.
    """
    query = QUERIES[table] + (_SINCE.format(unit=_UNIT_OF[table]) if since else _PAGED)
    asked = {"after": after, "piece": limit, "since": since}
    rows = (tuple(row.values()) for row in _database(connection).query(query, asked))
    return [(row[0], row[1:]) for row in rows]


def last_number(connection: sqlite3.Connection) -> int:
    """Return the number of the journal's last row, 0 before the first."""
    return int(connection.execute(_LAST).fetchone()[0])


def journal_rows(connection: sqlite3.Connection) -> Iterator[tuple[Any, ...]]:
    """Yield number, received and happened (ms), verdict, code, reason, hash and bytes of each row of the journal."""
    return _pieces(connection, _JOURNAL)


def _pieces(connection: sqlite3.Connection, query: str) -> Iterator[tuple[Any, ...]]:
    after, database = 0, _database(connection)
    while rows := [tuple(row.values()) for row in database.query(query, {"after": after, "piece": PIECE})]:
        yield from rows
        after = rows[-1][0]


def _database(connection: sqlite3.Connection) -> "Database":
    """Return the record as what goes out is read, which nobody at a page waits for. It changes no setting of it."""
    from sqlite_utils import Database  # slow to import, and most processes let nothing out

    return Database(connection, recursive_triggers=False, execute_plugins=False)
