"""Criticals one by one, with the units presented between them."""

import sqlite3
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from itertools import accumulate

from qc.domain.counted.counts import Critical, Slice
from qc.store.counts.narrowing import parameters
from qc.store.counts.presented import seen_units, seen_units_by_day
from qc.store.counts.spans import Spans

# What is found after dispatch belongs to no shift, and must be missing from none.
_NARROWED = """
   AND (:every_model OR d.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR EXISTS (SELECT 1 FROM unit AS b WHERE b.chassis = d.unit
         AND b.model || ' ' || b.line IN (SELECT value FROM json_each(:builds))))
   AND (:every_shift OR d.shift = '' OR d.shift IN (SELECT value FROM json_each(:shifts)))"""
CRITICALS = f"""
SELECT d.id, d.unit, u.shop_number, d.model, d.type, d.zone, d.point, d.production_day, d.found_ms, d.finder,
       coalesce(d.suspected, '') AS suspected, coalesce(d.confirmed, '') AS confirmed, d.origin_state, d.state,
       u.state = 'cancelled' AS on_cancelled, d.grade
  FROM defect AS d INDEXED BY defect_critical
  JOIN unit AS u ON u.chassis = d.unit
 WHERE d.severity = 'critical'
   AND d.production_day >= :first AND d.production_day < :end
   AND d.state <> 'withdrawn'{_NARROWED}
 ORDER BY d.production_day, d.found_ms, d.id
"""
# In the words of the index defect_critical_open, which keeps the list of them: what is settled is not read.
OPEN = """
SELECT d.id, d.unit, u.shop_number, d.model, d.type, d.zone, d.point, d.production_day, d.found_ms, d.finder,
       coalesce(d.suspected, '') AS suspected, coalesce(d.confirmed, '') AS confirmed, d.origin_state, d.state,
       u.state = 'cancelled' AS on_cancelled, d.grade
  FROM defect AS d INDEXED BY defect_critical_open
 CROSS JOIN unit AS u ON u.chassis = d.unit
 WHERE d.severity = 'critical' AND d.state IN ('open', 'repaired')
 ORDER BY d.production_day, d.found_ms, d.id
"""
BEFORE = f"""
SELECT d.production_day
  FROM defect AS d INDEXED BY defect_critical
 WHERE d.severity = 'critical'
   AND d.production_day < :first
   AND d.state <> 'withdrawn'{_NARROWED}
 ORDER BY d.production_day DESC
 LIMIT 1
"""
EARLIER = f"""
SELECT count(*), min(d.production_day)
  FROM defect AS d INDEXED BY defect_critical
 WHERE d.severity = 'critical'
   AND d.production_day < :first
   AND d.state <> 'withdrawn'{_NARROWED}
"""


def criticals(connection: sqlite3.Connection, slice_: Slice) -> list[Critical]:
    """Return every critical found in the slice, in the order found; severities of the slice do not matter here."""
    rows = connection.execute(CRITICALS, _asked(slice_)).fetchall()
    if not rows:
        return []
    presented = _presented_up_to(connection, slice_)
    found: list[Critical] = []
    for row in rows:
        day = date.fromisoformat(row["production_day"])
        since = presented(day) - presented(found[-1].found_day) if found else _since_before(connection, slice_, day)
        found.append(_critical(row, day, since))
    return found


def open_criticals(connection: sqlite3.Connection) -> list[Critical]:
    """Return every critical of the record that is not settled, in the order found; no units between are counted."""
    rows = connection.execute(OPEN).fetchall()
    return [_critical(row, date.fromisoformat(row["production_day"]), None) for row in rows]


def last_before(connection: sqlite3.Connection, slice_: Slice) -> date | None:
    """Return the day of the last critical before the slice, narrowed as it is; None where the record has none."""
    row = connection.execute(BEFORE, _asked(slice_)).fetchone()
    return date.fromisoformat(row["production_day"]) if row else None


def earlier(connection: sqlite3.Connection, slice_: Slice) -> tuple[int, date | None]:
    """Return how many criticals were found before the slice, narrowed as it is, and the day of the first of them."""
    count, first = connection.execute(EARLIER, _asked(slice_)).fetchone()
    return count, date.fromisoformat(first) if first else None


def _since_before(connection: sqlite3.Connection, slice_: Slice, day: date) -> int | None:
    """Return the units between the last critical before the slice and a day in it, None without one on record."""
    before = last_before(connection, slice_)
    if before is None:
        return None
    between = replace(slice_, first=before + timedelta(days=1), end=day + timedelta(days=1))
    return sum(seen_units(connection, between).values())


def _asked(slice_: Slice) -> dict[str, str | int]:
    return parameters(slice_, Spans("D", slice_.first, slice_.end), False)


def _critical(row: sqlite3.Row, day: date, units_since_last: int | None) -> Critical:
    return Critical(
        defect=row["id"],
        unit=row["unit"],
        shop_number=row["shop_number"],
        model=row["model"],
        type=row["type"],
        zone=row["zone"],
        point=row["point"],
        found_day=day,
        found_ms=row["found_ms"],
        finder=row["finder"],
        suspected=row["suspected"],
        confirmed=row["confirmed"],
        origin_state=row["origin_state"],
        state=row["state"],
        units_since_last=units_since_last,
        on_cancelled=bool(row["on_cancelled"]),
        grade=row["grade"],
    )


def _presented_up_to(connection: sqlite3.Connection, slice_: Slice) -> Callable[[date], int]:
    """Return how many units the slice has presented up to and with a day."""
    by_day = seen_units_by_day(connection, slice_)
    days, units = list(by_day), [0, *accumulate(by_day.values())]
    return lambda day: units[bisect_right(days, day)]
