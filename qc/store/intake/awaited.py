"""Units that the record lacks and phones recorded work on: it waits for a plan, or for whoever meets the unit."""

import sqlite3
from dataclasses import dataclass

import orjson

_AWAITED = """
SELECT j.unit, count(*), json_group_array(DISTINCT j.author), min(j.received_ms)
  FROM parked AS p
  JOIN journal AS j ON j.number = p.number
 WHERE j.unit IS NOT NULL AND NOT EXISTS (SELECT 1 FROM unit AS u WHERE u.chassis = j.unit)
 GROUP BY j.unit
 ORDER BY min(j.number)
 LIMIT ?
"""
_COUNT = """
SELECT count(DISTINCT j.unit)
  FROM parked AS p
  JOIN journal AS j ON j.number = p.number
 WHERE j.received_ms >= ? AND NOT EXISTS (SELECT 1 FROM unit AS u WHERE u.chassis = j.unit)
"""


@dataclass(frozen=True, slots=True)
class Awaited:
    """A unit that is not on record. entries: operations on it that wait; authors: of them, by code, in their order;
    since_ms: when the first came here.
    """

    unit: str
    entries: int
    authors: tuple[str, ...]
    since_ms: int


def awaited(conn: sqlite3.Connection, limit: int) -> list[Awaited]:
    """Return the units that work waits for, the longest awaited first, so many at most."""
    rows = conn.execute(_AWAITED, (limit,))
    return [Awaited(unit, entries, tuple(sorted(orjson.loads(who))), since) for unit, entries, who, since in rows]


def awaited_count(conn: sqlite3.Connection, since_ms: int = 0) -> int:
    """Return how many units work waits for that came at this instant of the server's clock or later."""
    return int(conn.execute(_COUNT, (since_ms,)).fetchone()[0])
