"""What waits: origins that are open, whenever their defects were found; repairs that came back; what got out."""

import sqlite3
from collections.abc import Callable
from datetime import date

from qc.domain.counted.backlogs import (
    ClockedType,
    ConfirmBefore,
    Escaped,
    EscapedCell,
    OpenOrigin,
    OpenOrigins,
    RepairedType,
)
from qc.domain.counted.by_unit import PartByUnit, part_by_unit
from qc.domain.counted.counts import Slice
from qc.domain.plant.plant import FIELD, UNKNOWN
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans

# What is found after dispatch belongs to no shift, and must be missing from none.
_NARROWED = """
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR EXISTS (SELECT 1 FROM unit AS b WHERE b.chassis = defect.unit
         AND b.model || ' ' || b.line IN (SELECT value FROM json_each(:builds))))
   AND (:every_shift OR shift = '' OR shift IN (SELECT value FROM json_each(:shifts)))"""
# In the words of the index defect_open_origin, so that what is settled is not read.
_OPEN = "origin_state IN ('none', 'suspected', 'disputed') AND state <> 'withdrawn'"
_STATES = f"""
       coalesce(sum(origin_state = 'none'), 0) AS unnamed,
       coalesce(sum(origin_state = 'suspected' AND suspected = '{UNKNOWN}'), 0) AS not_known,
       coalesce(sum(origin_state = 'suspected' AND suspected <> '{UNKNOWN}'), 0) AS suspected,
       coalesce(sum(origin_state = 'disputed'), 0) AS disputed"""
OPEN_ORIGINS = f"""
SELECT {_STATES},
       coalesce(sum(production_day < coalesce((SELECT value FROM json_each(:own) WHERE key = suspected), :before)), 0)
           AS overdue
  FROM defect INDEXED BY defect_open_origin
 WHERE {_OPEN}
   AND (point = '{FIELD}') = :field{_NARROWED}
"""
SEEN_OPEN_ORIGINS = f"""
SELECT {_STATES}, 0 AS overdue
  FROM presented_unit AS p
 CROSS JOIN defect AS d ON d.unit = p.unit
  LEFT JOIN inspection AS i ON i.id = d.inspection
 WHERE p.day >= :first AND p.day < :end
   AND (:every_model OR p.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR p.model || ' ' || p.line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR p.shift IN (SELECT value FROM json_each(:shifts)))
   AND d.origin_state IN ('none', 'suspected', 'disputed')
   AND d.state <> 'withdrawn'
   AND d.point <> '{FIELD}' AND d.first_presentation = 1
   AND (d.inspection IS NULL OR i.ended_ms IS NOT NULL)
"""
_ROWS = f"""
SELECT d.id, d.unit, u.shop_number, d.model, d.type, d.severity, d.point, d.production_day, d.finder,
       coalesce(d.suspected, ''),
       CASE WHEN d.origin_state = 'disputed' THEN d.origin_ms END, d.grade
  FROM (SELECT * FROM defect INDEXED BY defect_open_origin WHERE {_OPEN}) AS d
 CROSS JOIN unit AS u ON u.chassis = d.unit"""
UNNAMED = f"""{_ROWS}
 WHERE d.origin_state = 'none' OR d.origin_state = 'suspected' AND d.suspected = '{UNKNOWN}'
 ORDER BY d.severity = 'critical' DESC, d.production_day, d.found_ms, d.id
 LIMIT :most
"""
DISPUTED = f"""{_ROWS}
 WHERE d.origin_state = 'disputed'
 ORDER BY d.severity = 'critical' DESC, d.origin_ms, d.id
 LIMIT :most
"""
# A unit's own operations: found by its number, and few.
WHY = """
SELECT j.author, json_extract(CAST(j.bytes AS TEXT), '$.body.reason')
  FROM journal AS j
 CROSS JOIN verdict AS v ON v.number = j.number
 WHERE j.unit = :unit AND j.kind = 'origin_disputed' AND v.verdict = 'applied'
   AND json_extract(CAST(j.bytes AS TEXT), '$.body.defect') = :defect
 ORDER BY v.place DESC
 LIMIT 1
"""
OLDEST = f"""
SELECT suspected, min(production_day)
  FROM defect INDEXED BY defect_open_origin
 WHERE {_OPEN} AND origin_state = 'suspected'
 GROUP BY suspected
"""
CLOCKED = f"""
SELECT d.type, count(*), sum(d.repair_minutes > 0 OR d.state IN ('repaired', 'closed')), sum(d.repair_minutes)
  FROM presented_unit AS p
 CROSS JOIN defect AS d ON d.unit = p.unit
  LEFT JOIN inspection AS i ON i.id = d.inspection
 WHERE p.day >= :first AND p.day < :end
   AND (:every_model OR p.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR p.model || ' ' || p.line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR p.shift IN (SELECT value FROM json_each(:shifts)))
   AND d.state <> 'withdrawn'
   AND d.point <> '{FIELD}' AND d.first_presentation = 1
   AND (d.inspection IS NULL OR i.ended_ms IS NOT NULL)
   AND (d.severity = 'critical' AND :critical OR d.severity = 'major' AND :major OR d.severity = 'minor' AND :minor)
 GROUP BY d.type
 ORDER BY d.type
"""
# A repair of a cycle that the defect has left behind failed its re-check.
_REPAIRED = """
  FROM defect_repair AS r INDEXED BY defect_repair_done
 CROSS JOIN defect AS d ON d.id = r.defect
 WHERE r.repaired_ms >= :first_ms AND r.repaired_ms < :end_ms AND d.state <> 'withdrawn'"""
REPAIRED = f"""
SELECT d.type, count(*), sum(r.cycle < d.cycles){_REPAIRED}
 GROUP BY d.type
 ORDER BY d.type
"""
REPAIRED_UNITS = f"""
SELECT sum(r.cycle < d.cycles), count(*){_REPAIRED}
 GROUP BY d.unit
"""
# When a unit left is said in `qc.domain.counted.counts`, and is worked out with the days.
_LEFT = """presented_unit AS r INDEXED BY presented_unit_left
 WHERE r.left_day >= :first AND r.left_day < :end AND r.day IS NOT NULL"""
_FOUND_IN_TIME = f"""
  FROM (SELECT unit, left_day FROM {_LEFT}) AS r
 CROSS JOIN defect AS d ON d.unit = r.unit
 WHERE d.point = '{FIELD}' AND d.state <> 'withdrawn'
   AND d.production_day <= date(r.left_day, '+' || :days || ' days')"""
RELEASED = f"SELECT count(*) FROM {_LEFT}"
ESCAPED_UNITS = f"SELECT count(DISTINCT d.unit){_FOUND_IN_TIME}"
ESCAPED = f"""
SELECT CASE WHEN d.origin_state IN ('confirmed', 'settled') THEN coalesce(d.confirmed, '{UNKNOWN}')
            WHEN d.origin_state = 'suspected' THEN coalesce(d.suspected, '{UNKNOWN}')
            ELSE '{UNKNOWN}' END AS station,
       d.type, count(*), count(DISTINCT d.unit){_FOUND_IN_TIME}
 GROUP BY station, d.type
 ORDER BY count(*) DESC, station, d.type
"""


def open_origins(connection: sqlite3.Connection, slice_: Slice, before: ConfirmBefore, *, field: bool) -> OpenOrigins:
    """Return the open origins of what the plant found at whatever look, or (field) of findings after dispatch.

    Whenever found: the slice narrows models and shifts alone; before: defects found earlier are overdue.
    """
    named = {**_asked(slice_), **before.texts(), "field": int(field)}
    return OpenOrigins(*connection.execute(OPEN_ORIGINS, named).fetchone())


def seen_open_origins(connection: sqlite3.Connection, slice_: Slice) -> OpenOrigins:
    """Return the open origins of first presentations on the units that count in the slice; nothing is overdue."""
    return OpenOrigins(*connection.execute(SEEN_OPEN_ORIGINS, _asked(slice_)).fetchone())


def unnamed(connection: sqlite3.Connection, most: int) -> tuple[OpenOrigin, ...]:
    """Return defects that nobody has named a place for, or said to be not known: criticals first, then the oldest."""
    return tuple(_row(row, None, ("", "")) for row in connection.execute(UNNAMED, {"most": most}))


def disputed(connection: sqlite3.Connection, most: int, day_of: Callable[[int], date]) -> tuple[OpenOrigin, ...]:
    """Return the disputes, criticals first, then the oldest, with who disputes and why; day_of: of an instant."""
    lines = []
    for row in connection.execute(DISPUTED, {"most": most}).fetchall():
        told = connection.execute(WHY, {"unit": row[1], "defect": row[0]}).fetchone()
        lines.append(_row(row, None if row[10] is None else day_of(row[10]), tuple(told) if told else ("", "")))
    return tuple(lines)


def _row(row: sqlite3.Row, since: date | None, told: tuple[str, str]) -> OpenOrigin:
    found = date.fromisoformat(row[7])
    defect, unit, shop, model, type_, severity, point, _, finder, station, _, grade = row
    said_by, reason = told
    return OpenOrigin(
        defect=defect,
        unit=unit,
        shop_number=shop,
        model=model,
        type=type_,
        severity=severity,
        grade=grade,
        point=point,
        found_day=found,
        finder=finder,
        station=station,
        since=since or found,
        said_by=said_by,
        reason=reason,
    )


def oldest_waiting(connection: sqlite3.Connection) -> dict[str, date]:
    """Return for each suspected place the day on which the oldest defect that waits for its word was found."""
    return {place: date.fromisoformat(day) for place, day in connection.execute(OLDEST)}


def clocked(connection: sqlite3.Connection, slice_: Slice) -> tuple[ClockedType, ...]:
    """Return what was clocked on the defects of the units that count in the slice, by type."""
    return tuple(ClockedType(*row) for row in connection.execute(CLOCKED, _asked(slice_)))


def repaired(connection: sqlite3.Connection, first_ms: int, end_ms: int) -> tuple[RepairedType, ...]:
    """Return the repairs done between two instants by type, and how many of them came back."""
    asked = {"first_ms": first_ms, "end_ms": end_ms}
    return tuple(RepairedType(*row) for row in connection.execute(REPAIRED, asked))


def repaired_by_unit(connection: sqlite3.Connection, first_ms: int, end_ms: int) -> PartByUnit:
    """Return of the repairs done between two instants those that came back, summed over the units."""
    return part_by_unit(connection.execute(REPAIRED_UNITS, {"first_ms": first_ms, "end_ms": end_ms}))


def escaped(connection: sqlite3.Connection, first: date, end: date, days: int) -> Escaped:
    """Return what was found after dispatch within so many days, on the units that left on first <= day < end."""
    asked = {"first": first.isoformat(), "end": end.isoformat(), "days": days}
    (units,) = connection.execute(RELEASED, asked).fetchone()
    (units_with,) = connection.execute(ESCAPED_UNITS, asked).fetchone()
    return Escaped(units, units_with, tuple(EscapedCell(*row) for row in connection.execute(ESCAPED, asked)))


def _asked(slice_: Slice) -> dict[str, str | int]:
    return parameters(slice_, Spans("D", slice_.first, slice_.end), False)
