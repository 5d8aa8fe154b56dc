"""First presentations and what was found on them, by week."""

import sqlite3
from collections.abc import Iterable, Sequence
from datetime import date
from typing import NamedTuple

from qc.domain.counted.counts import PRESENTED, FirstPassWeeks, Slice, WeekCounts
from qc.domain.words.speaking import say
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import all_spans, day_week_spans, monday_of, weeks_of

LINE = "line"
_NARROWED = """
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR model || ' ' || line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))"""
POINT_SUMS = f"""
SELECT start, model, line, sum(units), sum(units * ((found & :mask) > 0)),
       sum(:critical * critical + :major * major + :minor * minor), sum(clean_major), sum(clean_all)
  FROM presented_sum
 WHERE span = :span AND detail = :detail AND start >= :first AND start < :end
   AND point = :point{_NARROWED}
 GROUP BY start, model, line
 ORDER BY start, model, line
"""
SEEN_UNITS_BY_MODEL = f"""
SELECT model, sum(units) AS units
  FROM presented_sum
 WHERE span = :span AND detail = 1 AND start >= :first AND start < :end
   AND point = ''{_NARROWED}
 GROUP BY model
 ORDER BY model
"""
SEEN_UNITS_BY_DAY = f"""
SELECT start, sum(units) AS units
  FROM presented_sum
 WHERE span = 'D' AND detail = :detail AND start >= :first AND start < :end
   AND point = ''{_NARROWED}
 GROUP BY start
 ORDER BY start
"""


class PresentedWeek(NamedTuple):
    """First presentations of one model and line as told (or "" all) in one week: units, and what was found on them."""

    monday: str
    model: str
    line: str
    units: int
    defectives: int
    defects: int
    clean_major: int
    clean_all: int


def denominator_of(point: str) -> str:
    """Return in words which units a point's counts are of."""
    if point == LINE:
        return say("{units}, in the week in which the last of them did", units=say(PRESENTED))
    return say("units whose first presentation at {point} ended in the week", point=point)


def presented_weeks(
    connection: sqlite3.Connection, slice_: Slice, point: str, *, by_model: bool
) -> list[PresentedWeek]:
    """Return the presented sums of a point by week, or by day at the edges; "line" is the unit as a whole."""
    stored = "" if point == LINE else point
    return [
        PresentedWeek(monday_of(start), *rest)
        for part in day_week_spans(slice_.first, slice_.end)
        for start, *rest in connection.execute(POINT_SUMS, parameters(slice_, part, by_model, point=stored))
    ]


def _by_week(slice_: Slice, rows: Iterable[PresentedWeek], what: str) -> tuple[int, ...]:
    totals = dict.fromkeys(weeks_of(slice_.first, slice_.end), 0)
    for row in rows:
        totals[row.monday] += getattr(row, what)
    return tuple(totals.values())


def week_counts(slice_: Slice, point: str, rows: Sequence[PresentedWeek], partial: bool) -> WeekCounts:
    """Return units, defectives and defects by week from a point's rows."""
    return WeekCounts(
        point,
        tuple(weeks_of(slice_.first, slice_.end).values()),
        _by_week(slice_, rows, "units"),
        _by_week(slice_, rows, "defectives"),
        _by_week(slice_, rows, "defects"),
        partial,
        denominator_of(point),
    )


def first_pass_weeks(slice_: Slice, point: str, rows: Sequence[PresentedWeek], partial: bool) -> FirstPassWeeks:
    """Return first-pass by week from a point's rows."""
    return FirstPassWeeks(
        point,
        tuple(weeks_of(slice_.first, slice_.end).values()),
        _by_week(slice_, rows, "units"),
        _by_week(slice_, rows, "clean_major"),
        _by_week(slice_, rows, "clean_all"),
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
