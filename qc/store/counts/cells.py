"""Station × type: defects by week and model, by the day of the work, and the photos behind a few cells."""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from qc.domain.counted.counts import CellWeeks, Slice
from qc.domain.plant.plant import Plant
from qc.domain.unit.unit_record import Circle
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans, weeks_of
from qc.store.counts.station_rows import circle_of

PHOTOS_AT_MOST = 12
_NARROWED = """
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR model || ' ' || line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))"""
CELLS = f"""
SELECT origin, type, start, model, line,
       sum(:critical * (confirmed_critical + suspected_critical) + :major * (confirmed_major + suspected_major)
           + :minor * (confirmed_minor + suspected_minor)) AS defects
  FROM origin_type_sum
 WHERE span = 'W' AND detail = 1 AND start >= :first AND start < :end{_NARROWED}
 GROUP BY origin, type, start, model, line
HAVING defects > 0
 ORDER BY origin, type, start, model, line
"""
UNITS = f"""
SELECT start, model, line, sum(units) AS units
  FROM presented_sum
 WHERE span = 'W' AND detail = 1 AND start >= :first AND start < :end
   AND point = ''{_NARROWED}
 GROUP BY start, model, line
 ORDER BY start, model, line
"""
# As the summaries count them: a standing defect of a first presentation, whose it is as confirmed, else as suspected.
_STANDS = """
       d.state <> 'withdrawn'
   AND d.point <> 'FIELD'
   AND d.first_presentation = 1
   AND d.type IN (SELECT value FROM json_each(:types))
   AND (d.severity = 'critical' AND :critical OR d.severity = 'major' AND :major OR d.severity = 'minor' AND :minor)
   AND CASE WHEN d.origin_state IN ('confirmed', 'settled') THEN d.confirmed = :station
            ELSE d.origin_state = 'suspected' AND d.suspected = :station END"""
WORKED = f"""
SELECT d.work_day, u.sequence, u.shop_number
  FROM presented_unit AS p
 CROSS JOIN defect AS d ON d.unit = p.unit
 CROSS JOIN unit AS u ON u.chassis = p.unit
 WHERE p.day >= :first AND p.day < :end
   AND (:every_build OR p.model || ' ' || p.line IN (SELECT value FROM json_each(:builds)))
   AND d.work_day IS NOT NULL
   AND {_STANDS}
 ORDER BY d.work_day, u.sequence, d.id
"""
PHOTOS = f"""
SELECT p.sha256, d.id, d.type, d.unit, u.shop_number, d.production_day, p.circle, d.severity, d.grade
  FROM defect AS d
  JOIN defect_photo AS p ON p.defect = d.id
  JOIN unit AS u ON u.chassis = d.unit
 WHERE d.production_day >= :first AND d.production_day < :end
   AND {_STANDS}
 ORDER BY d.found_ms DESC, d.id, p.number
 LIMIT :most
"""


@dataclass(frozen=True, slots=True)
class WorkedDefect:
    """A defect of some cells by the day of the work at its origin. sequence: the unit's place in the build order."""

    work_day: date
    sequence: int
    shop_number: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CellPhoto:
    """A photo of a defect of some cells; circle: where on it the flaw is circled, None nowhere.

    grade: which of the plant's own severities the defect has, "" for none.
    """

    sha256: str
    defect: str
    type: str
    unit: str
    shop_number: str
    found_day: date
    severity: str
    grade: str
    circle: Circle | None = None


def cell_weeks(connection: sqlite3.Connection, slice_: Slice, plant: Plant, partial: bool) -> CellWeeks:
    """Return the cells of whole weeks; the slice begins and ends on a Monday. UNK, not known, is a row of its own."""
    whole = Spans("W", slice_.first, slice_.end)
    asked = parameters(slice_, whole, True)
    weeks = weeks_of(slice_.first, slice_.end)
    place = {monday: at for at, monday in enumerate(weeks)}
    builds = [(model, line) for model in plant.models for line in plant.lines_of(model) or ("",)]
    column = {build: at for at, build in enumerate(builds)}
    units = [[0] * len(builds) for _ in weeks]
    for start, model, line, count in connection.execute(UNITS, asked):
        units[place[start]][column[model, plant.line_of(model, line)]] += count
    cells: dict[tuple[str, str], list[list[int]]] = {}
    for origin, type_, start, model, line, count in connection.execute(CELLS, asked):
        rows = cells.setdefault((origin, type_), [[0] * len(builds) for _ in weeks])
        rows[place[start]][column[model, plant.line_of(model, line)]] += count
    return CellWeeks(
        tuple(weeks.values()),
        tuple(f"{model} on {line}" if line else model for model, line in builds),
        tuple(map(tuple, units)),
        tuple(cells),
        tuple(tuple(map(tuple, rows)) for rows in cells.values()),
        partial,
        _elsewhere(plant, builds),
    )


def _elsewhere(plant: Plant, builds: Sequence[tuple[str, str]]) -> tuple[tuple[str, tuple[bool, ...]], ...]:
    """Return for each station on one of several lines which builds do not come by."""
    own = [one for one in plant.stations.values() if plant.line_at(one.id)]
    return tuple((one.id, tuple(not plant.comes_by(one, *build) for build in builds)) for one in own)


def worked_defects(
    connection: sqlite3.Connection, slice_: Slice, station: str, types: Sequence[str]
) -> tuple[WorkedDefect, ...]:
    """Return a station's defects of some types on the units of the slice, by the day of the work."""
    answer = connection.execute(WORKED, _of_cells(slice_, station, types))
    return tuple(WorkedDefect(date.fromisoformat(day), sequence, shop) for day, sequence, shop in answer)


def cell_photos(
    connection: sqlite3.Connection, slice_: Slice, station: str, types: Sequence[str]
) -> tuple[CellPhoto, ...]:
    """Return photos of a station's defects of some types found in the slice, latest first, at most 12."""
    answer = connection.execute(PHOTOS, {**_of_cells(slice_, station, types), "most": PHOTOS_AT_MOST})
    return tuple(
        CellPhoto(
            sha256=row["sha256"],
            defect=row["id"],
            type=row["type"],
            unit=row["unit"],
            shop_number=row["shop_number"],
            found_day=date.fromisoformat(row["production_day"]),
            severity=row["severity"],
            grade=row["grade"],
            circle=circle_of(row["circle"]),
        )
        for row in answer
    )


def _of_cells(slice_: Slice, station: str, types: Sequence[str]) -> dict[str, str | int]:
    whole = Spans("D", slice_.first, slice_.end)
    return {**parameters(slice_, whole, False), "station": station, "types": json.dumps(list(types))}
