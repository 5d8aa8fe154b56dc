"""When units left, and what was found on them after dispatch, up to day 60 of each and later, by week presented."""

import sqlite3
from datetime import date

from qc.domain.counts import LeftWeeks, Slice
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans, weeks_of

LEFT = """
SELECT start, sum(units), sum(units * (left_day <> '')), sum(units * followed), sum(at_points), sum(after_dispatch),
       sum(later), sum(at_points * followed), sum(after_dispatch * followed), sum(with_after * followed)
  FROM (SELECT *, left_day <> '' AND left_day < :followed_before AS followed
          FROM left_sum
         WHERE span = 'W' AND detail = :detail AND start >= :first AND start < :end
           AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
           AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts))))
 GROUP BY start
 ORDER BY start
"""
NOTHING = (0,) * 9


def left_weeks(connection: sqlite3.Connection, slice_: Slice, followed_before: date) -> LeftWeeks:
    """Return the whole weeks of the slice; followed: units that left before that day. Severities do not matter."""
    asked = parameters(slice_, Spans("W", slice_.first, slice_.end), False, followed_before=followed_before.isoformat())
    found = {start: tuple(rest) for start, *rest in connection.execute(LEFT, asked)}
    weeks = weeks_of(slice_.first, slice_.end)
    rows = [found.get(monday, NOTHING) for monday in weeks]
    return LeftWeeks(tuple(weeks.values()), *(tuple(row[place] for row in rows) for place in range(len(NOTHING))))
