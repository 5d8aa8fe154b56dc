"""The defects of the units seen in a slice, one by one: what a station's page sorts by what was said and by origin."""

import json
import sqlite3
from typing import NamedTuple

from qc.domain.counts import Slice
from qc.domain.plant import FIELD, UNKNOWN, Plant
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans

# A unit is seen where its latest first presentation ended: the same rule as the summaries' (see summary_schema).
SEEN = """
  seen AS MATERIALIZED (
    SELECT unit, model
      FROM (SELECT i.unit, u.model, i.production_day, i.shift,
                   row_number() OVER (PARTITION BY i.unit ORDER BY i.ended_ms DESC, i.number DESC) AS place
              FROM (SELECT DISTINCT unit
                      FROM inspection
                     WHERE production_day >= :first AND production_day < :end) AS touched
             CROSS JOIN unit AS u ON u.chassis = touched.unit
             CROSS JOIN inspection AS i ON i.unit = touched.unit
             WHERE i.purpose = 'presentation'
               AND i.presentation = 1
               AND i.ended_ms IS NOT NULL
               AND i.production_day IS NOT NULL
               AND u.model || ' ' || i.point IN (SELECT value FROM json_each(:needed)))
     WHERE place = 1
       AND production_day >= :first AND production_day < :end
       AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
       AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
  )"""
FLAWS = f"""
WITH {SEEN}
SELECT d.id, s.unit, s.model, d.type, d.point, d.finder,
       CASE WHEN d.origin_state IN ('confirmed', 'settled') THEN coalesce(d.confirmed, '{UNKNOWN}')
            ELSE '' END,
       CASE WHEN d.origin_state = 'suspected' THEN coalesce(nullif(d.suspected, '{UNKNOWN}'), '')
            ELSE '' END
  FROM seen AS s
 CROSS JOIN defect AS d ON d.unit = s.unit
  LEFT JOIN inspection AS i ON i.id = d.inspection
 WHERE d.state <> 'withdrawn'
   AND (d.point = '{FIELD}' OR d.first_presentation = 1)
   AND (d.inspection IS NULL OR i.ended_ms IS NOT NULL)
"""
# Nothing was said of these units' defects before the first operation on any of the units.
BEGUN = f"""
WITH {SEEN}
SELECT min((SELECT min(number) FROM journal AS j WHERE j.unit = s.unit))
  FROM seen AS s
"""


class SeenFlaw(NamedTuple):
    """A defect of a first presentation, or one found after dispatch, on a unit seen in the slice.

    origin: where it was settled, "UNK" for closed as not known, "" while it is open; suspected: the place that an
    open one stands against, "" for none.
    """

    id: str
    unit: str
    model: str
    type: str
    point: str
    finder: str
    origin: str
    suspected: str


def seen_flaws(connection: sqlite3.Connection, slice_: Slice, plant: Plant) -> tuple[SeenFlaw, ...]:
    """Return the defects on the units seen in the slice, in no order; its severities do not matter."""
    return tuple(map(SeenFlaw._make, connection.execute(FLAWS, _asked(slice_, plant))))


def first_number(connection: sqlite3.Connection, slice_: Slice, plant: Plant) -> int | None:
    """Return the number of the first operation on any unit seen in the slice, None without a unit."""
    (begun,) = connection.execute(BEGUN, _asked(slice_, plant)).fetchone()
    return None if begun is None else int(begun)


def _asked(slice_: Slice, plant: Plant) -> dict[str, str | int]:
    needed = [
        f"{model} {point}"
        for model in plant.models
        for point in plant.end_points()
        if not plant.stations[point].models or model in plant.stations[point].models
    ]
    days = Spans("D", slice_.first, slice_.end)
    return {**parameters(slice_, days, False), "needed": json.dumps(needed)}
