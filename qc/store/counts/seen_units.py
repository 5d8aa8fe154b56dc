"""The units seen in a slice, one by one: each on the day its latest first presentation at an end point ended."""

import json

from qc.domain.counts import Slice
from qc.domain.plant import Plant
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans

# The same rule as the summaries': a unit is seen where its latest first presentation ended (see summary_schema).
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


def seen_parameters(slice_: Slice, plant: Plant, **more: str) -> dict[str, str | int]:
    """Return the parameters of a statement on the units seen in a slice; its severities do not matter."""
    needed = [
        f"{model} {point}"
        for model in plant.models
        for point in plant.end_points()
        if not plant.stations[point].models or model in plant.stations[point].models
    ]
    days = Spans("D", slice_.first, slice_.end)
    return {**parameters(slice_, days, False), "needed": json.dumps(needed), **more}
