"""Defects unit by unit, summed so that the scatter of their shares follows: by origin, passed by a point, dispatched.

A unit counts on one day alone, so what is read goes by the slice's units and not by the age of the record.
"""

import sqlite3
from collections.abc import Iterable, Mapping
from datetime import date

from qc.domain.counted.by_unit import DefectsByUnit, part_by_unit, parts_by_unit
from qc.domain.counted.counts import FOLLOW_DAYS, Slice
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import FIELD, UNKNOWN, Plant
from qc.store.counts.meant_points import MeantPoints
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans

_COUNTED = f"""
SELECT p.unit,
       CASE WHEN d.origin_state IN ('confirmed', 'settled') THEN coalesce(d.confirmed, '{UNKNOWN}')
            WHEN d.origin_state = 'suspected' THEN coalesce(d.suspected, '{UNKNOWN}')
            ELSE '{UNKNOWN}' END AS origin,
       d.type, d.point, p.model, p.line
  FROM presented_unit AS p
 CROSS JOIN defect AS d ON d.unit = p.unit
  LEFT JOIN inspection AS i ON i.id = d.inspection
 WHERE p.day >= :first AND p.day < :end
   AND (:every_model OR p.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR p.model || ' ' || p.line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR p.shift IN (SELECT value FROM json_each(:shifts)))
   AND d.state <> 'withdrawn'
   AND (d.inspection IS NULL OR i.ended_ms IS NOT NULL)"""
_SEVERITIES = """
   AND (d.severity = 'critical' AND :critical OR d.severity = 'major' AND :major OR d.severity = 'minor' AND :minor)"""
ALL = f"""{_COUNTED}{_SEVERITIES}
   AND (d.first_presentation = 1 OR d.point = '{FIELD}')"""
AT_POINTS = f"""{_COUNTED}{_SEVERITIES}
   AND d.first_presentation = 1 AND d.point <> '{FIELD}'"""
FOLLOWED = f"""{_COUNTED}
   AND p.left_day < :followed_before
   AND (d.first_presentation = 1 AND d.point <> '{FIELD}'
        OR d.point = '{FIELD}' AND d.production_day <= date(p.left_day, '+{FOLLOW_DAYS} days'))"""


def defects_by_unit(
    connection: sqlite3.Connection, slice_: Slice, plant: Plant, graph: BuildGraph, *, at_points: bool
) -> DefectsByUnit:
    """Return the defects of the slice's units, found whenever, or at_points: at their first presentations alone."""
    asked = parameters(slice_, Spans("D", slice_.first, slice_.end), False)
    return _summed(connection.execute(AT_POINTS if at_points else ALL, asked), plant, graph)


def followed_by_unit(
    connection: sqlite3.Connection, slice_: Slice, plant: Plant, graph: BuildGraph, followed_before: date
) -> DefectsByUnit:
    """Return the same up to day 60 after each unit left, of the units of the slice that left before that day alone.

    Severities do not matter.
    """
    asked = parameters(slice_, Spans("D", slice_.first, slice_.end), False, followed_before=followed_before.isoformat())
    return _summed(connection.execute(FOLLOWED, asked), plant, graph)


class _Unit:
    """One unit's defects: by known origin, of none, in all, after dispatch; by point that met or passed them."""

    __slots__ = ("every", "field", "made", "met", "passed", "unknown")

    def __init__(self) -> None:
        self.made: dict[str, int] = {}
        self.met: dict[int, int] = {}
        self.passed: dict[int, int] = {}
        self.every = self.field = self.unknown = 0


def _summed(rows: Iterable[sqlite3.Row], plant: Plant, graph: BuildGraph) -> DefectsByUnit:
    points = MeantPoints(plant, graph)
    every = _units(rows, points, {type_.code: type_.first_detect_point for type_ in plant.types.values()})
    made = parts_by_unit((own.made, own.every - own.unknown) for own in every)
    origins = tuple(sorted(made))
    return DefectsByUnit(
        origins=origins,
        made=tuple(made[origin] for origin in origins),
        unknown=part_by_unit((own.unknown, own.every) for own in every),
        points=points.points,
        passed=tuple(
            part_by_unit((own.passed.get(n, 0), own.met[n]) for own in every if n in own.met)
            for n in range(len(points.points))
        ),
        after_dispatch=part_by_unit((own.field, own.every) for own in every),
    )


def _units(rows: Iterable[sqlite3.Row], points: MeantPoints, meant: Mapping[str, str]) -> list[_Unit]:
    """Return the units that have a defect; meant: the first point that is meant to find each type."""
    units: dict[str, _Unit] = {}
    for unit, origin, type_, point, model, line in rows:
        own = units.get(unit) or units.setdefault(unit, _Unit())
        own.every += 1
        if point == FIELD:
            own.field += 1
        if origin == UNKNOWN:
            own.unknown += 1
        else:
            own.made[origin] = own.made.get(origin, 0) + 1
        for place, is_passed in points.met(origin, meant.get(type_, ""), point, model, line):
            own.met[place] = own.met.get(place, 0) + 1
            if is_passed:
                own.passed[place] = own.passed.get(place, 0) + 1
    return list(units.values())
