"""When units left, and what was found on them after dispatch, up to day 60 of each and later, by week presented."""

import sqlite3
from dataclasses import fields
from datetime import date

from qc.domain.counted.counts import LeftWeeks, Slice
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans, weeks_of

LEFT = """
SELECT start, sum(units) AS units, sum(units * (left_day <> '')) AS left, sum(units * followed) AS followed,
       sum(at_points) AS at_points, sum(after_dispatch) AS so_far, sum(later) AS later,
       sum(at_points * followed) AS followed_at_points, sum(after_dispatch * followed) AS followed_found,
       sum(with_after * followed) AS followed_with
  FROM (SELECT *, left_day <> '' AND left_day < :followed_before AS followed
          FROM left_sum
         WHERE span = 'W' AND detail = :detail AND start >= :first AND start < :end
           AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
           AND (:every_build OR model || ' ' || line IN (SELECT value FROM json_each(:builds)))
           AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts))))
 GROUP BY start
 ORDER BY start
"""
COUNTED = tuple(one.name for one in fields(LeftWeeks) if one.name != "weeks")


def left_weeks(connection: sqlite3.Connection, slice_: Slice, followed_before: date) -> LeftWeeks:
    """Return the whole weeks of the slice; followed: units that left before that day. Severities do not matter."""
    asked = parameters(slice_, Spans("W", slice_.first, slice_.end), False, followed_before=followed_before.isoformat())
    found = {row["start"]: row for row in connection.execute(LEFT, asked)}
    weeks = weeks_of(slice_.first, slice_.end)
    counts = {name: tuple(found[monday][name] if monday in found else 0 for monday in weeks) for name in COUNTED}
    return LeftWeeks(weeks=tuple(weeks.values()), **counts)
