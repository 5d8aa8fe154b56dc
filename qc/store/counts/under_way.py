"""Units that some end points of their build have presented and others not: in no count yet, so listed by number."""

import json
import sqlite3
from datetime import date, timedelta

from qc.domain.counted.counts import UnitUnderWay
from qc.domain.plant.plant import Plant
from qc.store.counts.narrowing import built

UNDER_WAY = """
SELECT p.unit, u.shop_number, p.model, p.line, u.planned_day, p.first_day,
       (SELECT json_group_array(i.point) FROM inspection AS i
         WHERE i.unit = p.unit AND i.purpose = 'presentation' AND i.presentation = 1
           AND i.ended_ms IS NOT NULL AND i.production_day < :end) AS points,
       (SELECT count(*)
          FROM defect AS d
          LEFT JOIN inspection AS i ON i.id = d.inspection
         WHERE d.unit = p.unit AND d.state <> 'withdrawn' AND d.first_presentation = 1
           AND d.production_day < :end
           AND (d.inspection IS NULL OR i.production_day < :end)) AS defects
  FROM presented_unit AS p
 CROSS JOIN unit AS u ON u.chassis = p.unit
 WHERE (p.day IS NULL OR p.day > p.first_day)
   AND (p.day IS NULL OR p.day >= :end)
   AND p.first_day < :end
   AND u.state <> 'cancelled'
   AND (:every_model OR p.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR p.model || ' ' || p.line IN (SELECT value FROM json_each(:builds)))
 ORDER BY p.first_day, u.sequence
"""


def units_under_way(
    connection: sqlite3.Connection,
    plant: Plant,
    last_day: date,
    models: tuple[str, ...],
    builds: tuple[tuple[str, str], ...],
) -> tuple[UnitUnderWay, ...]:
    """Return the units under way at the end of a day, longest first; models, builds () for all."""
    asked = {
        "end": (last_day + timedelta(days=1)).isoformat(),
        "every_model": int(not models),
        "models": json.dumps(models),
        **built(builds),
    }
    return tuple(_one(plant, *row) for row in connection.execute(UNDER_WAY, asked))


def _one(
    plant: Plant, unit: str, shop: str, model: str, line: str, planned: str, since: str, points: str, defects: int
) -> UnitUnderWay:
    needed = [point.id for point in plant.presenting(model, line) if point.stands_on(date.fromisoformat(planned))]
    passed = set(json.loads(points))
    return UnitUnderWay(
        unit,
        shop,
        model,
        date.fromisoformat(since),
        tuple(point for point in needed if point in passed),
        tuple(point for point in needed if point not in passed),
        defects,
    )
