"""Origin × detection, and each station's weeks, by the day found or the day the work was done."""

import sqlite3
from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from qc.domain.counted.counts import DayBasis, OriginDetection, PointFindings, Slice, StationWeeks
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import FIELD, UNKNOWN, Plant
from qc.store.counts.meant_points import MeantPoints
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import all_spans, day_week_spans, monday_of, weeks_of
from qc.store.tables.summary_tables import SEVEN

_TWO = """
       sum(:critical * confirmed_critical + :major * confirmed_major + :minor * confirmed_minor),
       sum(:critical * suspected_critical + :major * suspected_major + :minor * suspected_minor)"""
# mask is which severities count, as bits: one column holds the units with any of just these.
_WITH = "sum(CASE :mask " + " ".join(f"WHEN {n} THEN {column}" for n, column in enumerate(SEVEN, 1)) + " END)"
_WHERE = """
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR model || ' ' || line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))"""
_SPAN = " WHERE span = :span AND detail = :detail AND start >= :first AND start < :end"
_DAYS = " WHERE start >= :first AND start < :end"  # a part table: its start is the work day

POINTS_FOUND = f"""
SELECT origin, point,{_TWO}
  FROM origin_point_sum
{_SPAN}{_WHERE}
 GROUP BY origin, point
 ORDER BY origin, point
"""
POINTS_WORKED = f"""
SELECT origin, point,{_TWO}
  FROM work_point_sum
{_SPAN}{_WHERE}
 GROUP BY origin, point
 ORDER BY origin, point
"""
POINTS_WORKED_DAYS = f"""
SELECT origin, point,{_TWO}
  FROM work_point_part
{_DAYS}{_WHERE}
 GROUP BY origin, point
 ORDER BY origin, point
"""
MEANT_FOUND = f"""
SELECT origin, meant, point, model, line,{_TWO}
  FROM origin_point_sum
{_SPAN}{_WHERE}
 GROUP BY origin, meant, point, model, line
 ORDER BY origin, meant, point, model, line
"""
STATIONS_FOUND = f"""
SELECT start, origin, model, line, 0, {_WITH},{_TWO}
  FROM station_sum
{_SPAN}
   AND (:every_origin OR origin = :origin){_WHERE}
 GROUP BY start, origin, model, line
 ORDER BY start, origin, model, line
"""
STATIONS_WORKED = f"""
SELECT start, origin, model, line, sum(units), {_WITH},{_TWO}
  FROM work_sum
{_SPAN}
   AND (:every_origin OR origin = :origin){_WHERE}
 GROUP BY start, origin, model, line
 ORDER BY start, origin, model, line
"""
STATIONS_WORKED_DAYS = f"""
SELECT start, origin, model, line, sum(units), {_WITH},{_TWO}
  FROM work_part
{_DAYS}
   AND (:every_origin OR origin = :origin){_WHERE}
 GROUP BY start, origin, model, line
 ORDER BY start, origin, model, line
"""

Table = dict[tuple[str, str], tuple[int, int]]


def origin_detection(connection: sqlite3.Connection, slice_: Slice, plant: Plant, basis: DayBasis) -> OriginDetection:
    """Return defects by origin and detection point; on the work basis by the day of the work at the origin."""
    cells: Table = {}
    for part in all_spans(slice_.first, slice_.end):
        statement = POINTS_FOUND if basis == "found" else POINTS_WORKED_DAYS if part.span == "D" else POINTS_WORKED
        for row in connection.execute(statement, parameters(slice_, part, False)):
            confirmed, suspected = cells.get((row[0], row[1]), (0, 0))
            cells[row[0], row[1]] = confirmed + row[2], suspected + row[3]
    return _table(cells, plant)


def _table(cells: Table, plant: Plant) -> OriginDetection:
    met = {origin for origin, _ in cells} | set(plant.stations)
    origins = tuple(o for o in (*plant.stations, *sorted(met - set(plant.stations))) if o != UNKNOWN)
    used = {point for _, point in cells}
    detecting = [s.id for s in plant.stations.values() if s.can_detect or s.id in used]
    points = (*detecting, *sorted(used - set(plant.stations) - {FIELD}), FIELD)
    zero = (0, 0)
    return OriginDetection(
        origins,
        points,
        tuple(tuple(cells.get((origin, point), zero)[0] for point in points) for origin in origins),
        tuple(tuple(cells.get((origin, point), zero)[1] for point in points) for origin in origins),
        tuple(sum(cells.get((UNKNOWN, point), zero)) for point in points),
    )


def point_findings(connection: sqlite3.Connection, slice_: Slice, plant: Plant, graph: BuildGraph) -> PointFindings:
    """Return what each point found of the types that it is meant to find, and what of them it passed."""
    return _findings(
        (
            Found(row[0], row[1], row[2], row[5] + row[6], row[3], row[4])
            for part in all_spans(slice_.first, slice_.end)
            for row in connection.execute(MEANT_FOUND, parameters(slice_, part, bool(plant.lines)))
        ),
        plant,
        graph,
    )


class Found(NamedTuple):
    """Defects of one origin, of types first meant to be found at one point, found at another.

    model, line as told: of their units, where the plant has several lines.
    """

    origin: str
    meant: str
    point: str
    defects: int
    model: str
    line: str


def _findings(cells: Iterable[Found], plant: Plant, graph: BuildGraph) -> PointFindings:
    """Return what each point found and passed of what it was meant to find."""
    meant_points = MeantPoints(plant, graph)
    found, passed, unknown_found, unknown_passed = ([0] * len(meant_points.points) for _ in range(4))
    for cell in cells:
        unknown = cell.defects if cell.origin == UNKNOWN else 0
        for place, is_passed in meant_points.met(cell.origin, cell.meant, cell.point, cell.model, cell.line):
            (passed if is_passed else found)[place] += cell.defects
            (unknown_passed if is_passed else unknown_found)[place] += unknown
    return PointFindings(meant_points.points, tuple(found), tuple(passed), tuple(unknown_found), tuple(unknown_passed))


class WorkedWeek(NamedTuple):
    """One origin's sums in one week: units worked on there (0 on the found basis), units with a defect, defects.

    model, line as told: of their units, "" for all.
    """

    monday: str
    origin: str
    model: str
    line: str
    units: int
    defectives: int
    confirmed: int
    suspected: int


def station_rows(
    connection: sqlite3.Connection, slice_: Slice, basis: DayBasis, station: str | None, *, by_model: bool
) -> list[WorkedWeek]:
    """Return the station sums by week, or by day at the edges, of one station or (None) of all."""
    asked = {"origin": station or "", "every_origin": int(station is None)}
    rows: list[WorkedWeek] = []
    for part in day_week_spans(slice_.first, slice_.end):
        worked = STATIONS_WORKED_DAYS if part.span == "D" else STATIONS_WORKED
        statement = STATIONS_FOUND if basis == "found" else worked
        answer = connection.execute(statement, {**parameters(slice_, part, by_model), **asked})
        rows += [WorkedWeek(monday_of(start), *rest) for start, *rest in answer]
    return rows


def by_station(rows: Iterable[WorkedWeek]) -> dict[str, list[WorkedWeek]]:
    """Return the rows of each origin."""
    stations: dict[str, list[WorkedWeek]] = {}
    for row in rows:
        stations.setdefault(row.origin, []).append(row)
    return stations


def station_weeks(
    slice_: Slice,
    station: str,
    basis: DayBasis,
    rows: Iterable[WorkedWeek],
    comes_by: Callable[[str, str], bool],
    exposed: Mapping[str, int] | None,
    partial: bool,
    denominator: str,
) -> StationWeeks:
    """Return a station's weeks from its rows; exposed by Monday, or (None) the units of the rows themselves.

    comes_by: whether a row's model and line are of the station's own units.
    """
    weeks = weeks_of(slice_.first, slice_.end)
    units, confirmed, suspected, defectives, elsewhere = (dict.fromkeys(weeks, 0) for _ in range(5))
    for row in rows:
        if not comes_by(row.model, row.line):
            elsewhere[row.monday] += row.confirmed + row.suspected
            continue
        units[row.monday] += row.units
        defectives[row.monday] += row.defectives
        confirmed[row.monday] += row.confirmed
        suspected[row.monday] += row.suspected
    shown = units if exposed is None else {monday: exposed.get(monday, 0) for monday in weeks}
    return StationWeeks(
        station=station,
        basis=basis,
        weeks=tuple(weeks.values()),
        exposed=tuple(shown.values()),
        confirmed=tuple(confirmed.values()),
        suspected=tuple(suspected.values()),
        defectives=tuple(defectives.values()),
        elsewhere=tuple(elsewhere.values()),
        partial=partial,
        denominator=denominator,
    )
