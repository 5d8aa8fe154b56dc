"""First presentations and what was found on them, by week."""

import sqlite3
from collections.abc import Callable
from datetime import date

from qc.domain.counts import FirstPassWeeks, Slice, WeekCounts
from qc.store.counts.narrowing import counted, mask, parameters
from qc.store.counts.spans import all_spans, day_week_spans, monday_of, weeks_of

LINE = "line"
PRESENTED = """
SELECT start, found, model, units, whole, clean_major, clean_all, critical, major, minor
  FROM presented_sum
 WHERE span = :span AND detail = :detail AND start >= :first AND start < :end
   AND point = :point
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
 ORDER BY start, model, found
"""
SEEN_UNITS_BY_MODEL = """
SELECT model, sum(units) AS units
  FROM presented_sum
 WHERE span = :span AND detail = 1 AND start >= :first AND start < :end
   AND point = ''
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY model
 ORDER BY model
"""
SEEN_UNITS_BY_DAY = """
SELECT start, sum(units) AS units
  FROM presented_sum
 WHERE span = 'D' AND detail = :detail AND start >= :first AND start < :end
   AND point = ''
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY start
 ORDER BY start
"""

Rows = list[sqlite3.Row]


def denominator_of(point: str) -> str:
    """Return in words which units a point's counts are of."""
    if point == LINE:
        return "units, in the week in which their latest first presentation at an end point ended"
    return f"units whose first presentation at {point} ended in the week"


def presented_rows(connection: sqlite3.Connection, slice_: Slice, point: str, detail: bool) -> Rows:
    """Return the presented sums of a point by day or week; point "line" is the unit as a whole."""
    stored = "" if point == LINE else point
    rows: Rows = []
    for part in day_week_spans(slice_.first, slice_.end):
        rows += connection.execute(PRESENTED, parameters(slice_, part, detail, point=stored)).fetchall()
    return rows


def _by_week(slice_: Slice, rows: Rows, amount: Callable[[sqlite3.Row], int]) -> tuple[int, ...]:
    totals = dict.fromkeys(weeks_of(slice_.first, slice_.end), 0)
    for row in rows:
        totals[monday_of(row["start"])] += amount(row)
    return tuple(totals.values())


def week_counts(slice_: Slice, point: str, rows: Rows, partial: bool) -> WeekCounts:
    """Return units, defectives and defects by week from a point's rows."""
    bits = mask(slice_)
    return WeekCounts(
        point,
        tuple(weeks_of(slice_.first, slice_.end).values()),
        _by_week(slice_, rows, lambda row: row["units"]),
        _by_week(slice_, rows, lambda row: row["units"] if row["found"] & bits else 0),
        _by_week(slice_, rows, lambda row: sum(counted(slice_, (row["critical"], row["major"], row["minor"])))),
        partial,
        denominator_of(point),
    )


def first_pass_weeks(slice_: Slice, point: str, rows: Rows, partial: bool) -> FirstPassWeeks:
    """Return first-pass by week from a point's rows; at the line only units that every end point has presented."""
    return FirstPassWeeks(
        point,
        tuple(weeks_of(slice_.first, slice_.end).values()),
        _by_week(slice_, rows, lambda row: row["whole"]),
        _by_week(slice_, rows, lambda row: row["clean_major"]),
        _by_week(slice_, rows, lambda row: row["clean_all"]),
        partial,
    )


def seen_units(connection: sqlite3.Connection, slice_: Slice) -> dict[str, int]:
    """Return the units seen in the slice by model, in code order."""
    units: dict[str, int] = {}
    for part in all_spans(slice_.first, slice_.end):
        for row in connection.execute(SEEN_UNITS_BY_MODEL, parameters(slice_, part, True)):
            units[row["model"]] = units.get(row["model"], 0) + row["units"]
    return dict(sorted(units.items()))


def seen_units_by_day(connection: sqlite3.Connection, slice_: Slice) -> dict[date, int]:
    """Return the units seen on each day of the slice that has any, in time order."""
    first, end = slice_.first.isoformat(), slice_.end.isoformat()
    whole = day_week_spans(slice_.first, slice_.end)
    if not whole:
        return {}
    asked = {**parameters(slice_, whole[0], False), "first": first, "end": end}
    return {date.fromisoformat(row["start"]): row["units"] for row in connection.execute(SEEN_UNITS_BY_DAY, asked)}
