"""How fit the data of a slice are: what is missing, late, not looked at, of unknown origin, unconfirmed."""

import json
import sqlite3
from datetime import date
from functools import cache

from qc.domain.counted.counts import Slice
from qc.domain.facts.days import END_DAY, FIRST_DAY
from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_rules import PlantRevisions
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans, all_spans

# Units planned for the days, and those of them that do not count yet.
PLANNED = """
SELECT count(*) AS units, coalesce(sum(p.day IS NULL), 0) AS missing
  FROM unit AS u
  LEFT JOIN presented_unit AS p ON p.unit = u.chassis
 WHERE u.met_by IS NULL AND u.planned_day >= :first AND u.planned_day < :end AND u.planned_day < :today
   AND (:every_model OR u.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR u.model || ' ' || u.line IN (SELECT value FROM json_each(:builds)))
"""
# First looks that ended, each with the plant's tables by which it was made; a record of rows alone has no journal.
_LOOKS = """
  FROM inspection AS i
  JOIN unit AS u ON u.chassis = i.unit
  LEFT JOIN journal AS j ON j.id = i.id
  {marks}
 WHERE i.production_day >= :first AND i.production_day < :end
   AND i.point IN (SELECT value FROM json_each(:points))
   AND i.purpose = 'presentation' AND i.presentation = 1 AND i.ended_ms IS NOT NULL
   AND (:every_model OR u.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR u.model || ' ' || u.line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR i.shift IN (SELECT value FROM json_each(:shifts)))
"""
_LIKE = "u.model, coalesce(j.plant_revision, '') AS revision, iif(:by_options, u.options, '[]') AS options"
REVISIONS = "SELECT DISTINCT coalesce(j.plant_revision, '') AS revision" + _LOOKS.format(marks="")
LOOKS = f"SELECT {_LIKE}, count(*) AS looks{_LOOKS.format(marks='')} GROUP BY 1, 2, 3"
MARKS = (
    f"SELECT {_LIKE}, z.zone, sum(z.looked) AS looked, sum(1 - z.looked) AS told"
    f"{_LOOKS.format(marks='JOIN zone_look AS z ON z.inspection = i.id')} GROUP BY 1, 2, 3, 4"
)
# Zones marked as looked at, and those of them that one act marked with others of the same look.
TOGETHER = """
SELECT coalesce(sum(marked), 0) AS looked, coalesce(sum(CASE WHEN marked > 1 THEN marked END), 0) AS together
  FROM (SELECT count(*) AS marked
          FROM inspection AS i
          JOIN unit AS u ON u.chassis = i.unit
          JOIN zone_look AS z ON z.inspection = i.id AND z.looked = 1
         WHERE i.production_day >= :first AND i.production_day < :end
           AND i.point IN (SELECT value FROM json_each(:points))
           AND i.purpose = 'presentation' AND i.presentation = 1 AND i.ended_ms IS NOT NULL
           AND (:every_model OR u.model IN (SELECT value FROM json_each(:models)))
           AND (:every_build OR u.model || ' ' || u.line IN (SELECT value FROM json_each(:builds)))
           AND (:every_shift OR i.shift IN (SELECT value FROM json_each(:shifts)))
         GROUP BY i.id, z.number)
"""
# A blind second look records again what the first one recorded: that twin is asked for, no double entry.
FOUND = """
SELECT count(*) AS recorded,
       coalesce(sum(withdrawn_why = 'duplicate' AND NOT again), 0) AS duplicates,
       coalesce(sum(NOT again), 0) AS first_hand,
       coalesce(sum(received_ms - found_ms > :late_ms), 0) AS late
  FROM (SELECT defect.*,
               EXISTS (SELECT 1 FROM inspection AS i
                        WHERE i.id = defect.inspection AND i.purpose = 'relook') AS again
          FROM defect) AS defect
 WHERE production_day >= :first AND production_day < :end
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR EXISTS (SELECT 1 FROM unit AS b WHERE b.chassis = defect.unit
         AND b.model || ' ' || b.line IN (SELECT value FROM json_each(:builds))))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
"""
# Found after dispatch: in no shift, so none narrows it.
FIELD_FOUND = """
SELECT count(*) AS field,
       coalesce(sum(NOT EXISTS (SELECT 1 FROM presented_unit AS p WHERE p.unit = d.unit AND p.day IS NOT NULL)), 0)
         AS no_record
  FROM defect AS d
 WHERE d.production_day >= :first AND d.production_day < :end
   AND d.point = 'FIELD' AND d.state <> 'withdrawn'
   AND (:every_model OR d.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR EXISTS (SELECT 1 FROM unit AS b WHERE b.chassis = d.unit
         AND b.model || ' ' || b.line IN (SELECT value FROM json_each(:builds))))
"""
# Not of the slice: no slice can hold such a day.
NO_DAY = """
SELECT DISTINCT u.shop_number
  FROM defect AS d
  JOIN unit AS u ON u.chassis = d.unit
 WHERE (d.production_day < :first_day OR d.production_day >= :end_day) AND d.state <> 'withdrawn'
 ORDER BY u.shop_number
"""
UNFINISHED = """
SELECT count(*)
  FROM inspection
 WHERE production_day IS NULL AND ended_ms IS NULL AND purpose = 'presentation' AND presentation = 1
"""
INSPECTORS = """
SELECT point, inspector, sum(units)
  FROM looker_sum
 WHERE span = :span AND detail = :detail AND start >= :first AND start < :end
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR model || ' ' || line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY point, inspector
 ORDER BY point, inspector
"""


def asked(slice_: Slice, **more: str) -> dict[str, str | int]:
    """Return the parameters of a statement on the rows themselves."""
    return parameters(slice_, Spans("D", slice_.first, slice_.end), False, **more)


def found_row(connection: sqlite3.Connection, slice_: Slice, late_ms: int) -> sqlite3.Row:
    """Return the counts over the slice's defects by the day found."""
    named = {**asked(slice_), "late_ms": late_ms}
    row: sqlite3.Row = connection.execute(FOUND, named).fetchone()
    return row


def field_findings(connection: sqlite3.Connection, slice_: Slice) -> tuple[int, int]:
    """Return (findings after dispatch on units that are in no count, such findings) by the day found, all shifts."""
    row = connection.execute(FIELD_FOUND, asked(slice_)).fetchone()
    return row["no_record"], row["field"]


def without_day(connection: sqlite3.Connection) -> tuple[str, ...]:
    """Return the shop numbers of units with a defect whose day no calendar of the plant holds; it is in no count."""
    named = {"first_day": FIRST_DAY.isoformat(), "end_day": END_DAY.isoformat()}
    return tuple(row["shop_number"] for row in connection.execute(NO_DAY, named))


def planned_units(connection: sqlite3.Connection, slice_: Slice, today: date) -> tuple[int, int]:
    """Return (units that some end point has not presented, units) of those planned before today."""
    row = connection.execute(PLANNED, asked(slice_, today=today.isoformat())).fetchone()
    return row["missing"], row["units"]


def zones_looked(
    connection: sqlite3.Connection, slice_: Slice, plant: Plant, plants: PlantRevisions
) -> tuple[int, int, int]:
    """Return (zones not looked at, zones, of the first those told with a reason) at the inspection points.

    A unit's zones are those that its model and options ask for by the tables under which the look began: a zone drawn
    later was not missed, and a look at one that nobody asked for stands for no other.
    """
    named = {**asked(slice_, points=_inspection_points(plant))}
    by = {
        str(revision): plants.of(revision).plant if revision else plant
        for (revision,) in connection.execute(REVISIONS, named)
    }
    like = {**named, "by_options": any(zone.options for one in by.values() for zone in one.zones.values())}

    @cache
    def wanted(model: str, revision: str, options: str) -> frozenset[str]:
        return frozenset(zone.key for zone in by[revision].zones_of(model, options=json.loads(options)))

    zones = sum(
        len(wanted(row["model"], row["revision"], row["options"])) * row["looks"]
        for row in connection.execute(LOOKS, like)
    )
    looked = told = 0
    for row in connection.execute(MARKS, like):
        if row["zone"] in wanted(row["model"], row["revision"], row["options"]):
            looked, told = looked + row["looked"], told + row["told"]
    return zones - looked, zones, told


def zones_together(connection: sqlite3.Connection, slice_: Slice, plant: Plant) -> tuple[int, int]:
    """Return (zones that one act marked with others, zones looked at) at the inspection points."""
    row = connection.execute(TOGETHER, asked(slice_, points=_inspection_points(plant))).fetchone()
    return row["together"], row["looked"]


def _inspection_points(plant: Plant) -> str:
    return json.dumps([one.id for one in plant.stations.values() if one.kind == "inspection"])


def inspectors(connection: sqlite3.Connection, slice_: Slice) -> tuple[tuple[str, str, int], ...]:
    """Return (point, inspector, first presentations) in that order."""
    totals: dict[tuple[str, str], int] = {}
    for part in all_spans(slice_.first, slice_.end):
        for point, inspector, units in connection.execute(INSPECTORS, parameters(slice_, part, False)):
            totals[point, inspector] = totals.get((point, inspector), 0) + units
    return tuple((point, inspector, units) for (point, inspector), units in sorted(totals.items()))


def unfinished(connection: sqlite3.Connection) -> int:
    """Return how many first presentations have begun and not ended."""
    (count,) = connection.execute(UNFINISHED).fetchone()
    return int(count)
