"""What came to a station from upstream with a defect in it, and was found only further on."""

import json
import sqlite3

from qc.domain.counts import Slice
from qc.domain.graph import BuildGraph
from qc.domain.passed_through import PassedCell, PassedThrough
from qc.domain.plant import FIELD, Plant
from qc.store.counts.seen_units import SEEN, seen_parameters

# An origin counts where the unit's own build has it: :upstream holds "model origin".
PASSED = f"""
WITH {SEEN},
  flaw AS (
    SELECT s.unit, s.model, d.type, d.point,
           d.origin_state IN ('confirmed', 'settled') AS sure,
           CASE WHEN d.origin_state IN ('confirmed', 'settled') THEN d.confirmed
                WHEN d.origin_state = 'suspected' THEN d.suspected END AS origin
      FROM seen AS s
     CROSS JOIN defect AS d ON d.unit = s.unit
      LEFT JOIN inspection AS i ON i.id = d.inspection
     WHERE d.state <> 'withdrawn'
       AND (d.point = 'FIELD' OR d.first_presentation = 1)
       AND (d.inspection IS NULL OR i.ended_ms IS NOT NULL)
       AND d.point IN (SELECT value FROM json_each(:later))
  )
SELECT unit, origin, type, sure, point = 'FIELD'
  FROM flaw
 WHERE model || ' ' || origin IN (SELECT value FROM json_each(:upstream))
"""


def passed_through(
    connection: sqlite3.Connection, slice_: Slice, station: str, plant: Plant, graph: BuildGraph, units: int
) -> PassedThrough:
    """Return defects made upstream of a station and found further on, confirmed or suspected there and still open.

    slice_ holds only models whose build contains the station; units: how many were seen in it. A defect may be found
    whenever, after dispatch too, but never at the station itself: that one it has caught.
    """
    before = set(graph.upstream_of(station)) - {station}
    upstream = [f"{model} {one}" for model in plant.models for one in graph.stations_in(model) if one in before]
    later = [one for one in plant.stations if station in graph.upstream_of(one)] + [FIELD]
    asked = seen_parameters(slice_, plant, upstream=json.dumps(upstream), later=json.dumps(later))
    meant = _asked_types(plant, station, before)
    sums: dict[tuple[str, str], list[int]] = {}
    touched: set[str] = set()
    not_asked = 0
    for unit, origin, type_, sure, after_dispatch in connection.execute(PASSED, asked):
        if meant is not None and type_ not in meant:
            not_asked += 1
            continue
        cell = sums.setdefault((origin, type_), [0, 0, 0])
        cell[0 if sure else 1] += 1
        cell[2] += after_dispatch
        touched.add(unit)
    cells = (PassedCell(*key, sure, open_, late) for key, (sure, open_, late) in sorted(sums.items()))
    return PassedThrough(station, tuple(cells), units, len(touched), not_asked)


def _asked_types(plant: Plant, station: str, before: set[str]) -> frozenset[str] | None:
    """Return the types that a station is asked to find, first point here or before; None where it is asked for none."""
    if not plant.stations[station].can_detect:
        return None
    return frozenset(one.code for one in plant.types.values() if one.first_detect_point in before | {station})
