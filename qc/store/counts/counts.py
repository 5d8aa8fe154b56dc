"""The store's count tables for one plant: each function refreshes what is dirty, then reads the summary tables."""

import copy
import sqlite3
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Protocol, TypeVar

from qc.domain.counted.backlogs import (
    CONFIRM_DAYS,
    ClockedType,
    ConfirmBefore,
    Escaped,
    OpenOrigin,
    OpenOrigins,
    RepairedType,
)
from qc.domain.counted.by_unit import DefectsByUnit, PartByUnit
from qc.domain.counted.counts import (
    FOLLOW_DAYS,
    PRESENTED,
    CategoryCounts,
    CellWeeks,
    Critical,
    DataQualityCounts,
    DayBasis,
    FirstPassWeeks,
    LeftWeeks,
    OriginDetection,
    PointFindings,
    Slice,
    StationTypes,
    StationWeeks,
    UnitUnderWay,
    WeekCounts,
)
from qc.domain.counted.origin_learning import OriginLearning
from qc.domain.counted.passed_through import PassedThrough
from qc.domain.counted.relook_counts import FalseCalls, RelookCounts
from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import UNKNOWN, Plant
from qc.domain.tables.plant_rules import PlantRevisions
from qc.domain.unit.unit_record import Circle
from qc.domain.words.speaking import say
from qc.store.counts import (
    backlogs,
    categories,
    cells,
    defects_by_unit,
    left_units,
    origins,
    presented,
    quality,
    relooks,
    station_rows,
    under_way,
)
from qc.store.counts.cells import CellPhoto, WorkedDefect
from qc.store.counts.criticals import criticals, earlier, last_before, open_criticals
from qc.store.counts.grades import grade_counts
from qc.store.counts.narrowing import check_slice
from qc.store.counts.origin_learning import Words, origin_learning
from qc.store.counts.passed_through import passed_through
from qc.store.counts.presented import LINE
from qc.store.counts.refreshing import Refreshing
from qc.store.counts.seen_flaws import SeenFlaw, first_number, seen_flaws
from qc.store.counts.spans import monday_of
from qc.store.counts.station_rows import StationPhoto
from qc.store.counts.told_passes import told_passes
from qc.store.record.connection import RECORD, open_reader
from qc.store.record.tables_kept import tables_in
from qc.store.tables.summaries import DIRTY_DAYS, SummaryKeeper

LATE_HOURS = 8  # a shift: what comes later was not seen at the shift's own hand-over (common practice, no source)

FIRST_WEEK = "SELECT min(start) FROM presented_sum WHERE span = 'W' AND detail = 0 AND point = ''"
FIRST_LOOK = """
SELECT min(day)
  FROM (SELECT min(production_day) AS day FROM inspection
         UNION ALL
        SELECT min(production_day) FROM defect WHERE inspection IS NOT NULL)
"""
STATE = "PRAGMA data_version"  # another number after every commit of another connection

T = TypeVar("T")


class Record(Protocol):
    """What the counts need of a journal: its folder, its plant, and a way to run in the writer's transaction."""

    @property
    def folder(self) -> Path: ...
    @property
    def plant(self) -> Plant: ...
    def write(self, work: Callable[[sqlite3.Connection], T]) -> T: ...


@dataclass(slots=True)
class _Seen:
    """What a thread keeps of one slice. state: of the record, for which flaws and learned are good; words only grow."""

    slice: Slice
    revision: str
    state: int = -1
    flaws: tuple[SeenFlaw, ...] = ()
    learned: OriginLearning | None = None
    words: Words | None = None


class Counts:
    """Count tables of a record. Safe to use from several threads; each has a read connection of its own.

    Every function first counts the dirty days again, in the writer's transaction; the counts of a `moment` do so once.
    Slices are half-open; a slice that begins or ends inside a week has only its own days of that week. Raises
    ValueError for a slice that cannot be and KeyError for a station that the plant does not have.
    """

    def __init__(self, record: Record) -> None:
        self._record = record
        self._own = threading.local()
        self._revision = ""
        self._refreshing = Refreshing(record.write)
        self._is_counted: bool | None = None  # None: asked anew each time

    def _rules(self) -> None:
        plant = self._record.plant
        if plant.revision != self._revision:
            self._plant, self._calendar, self._graph = plant, ProductionCalendar(plant), BuildGraph(plant)
            self._plants = PlantRevisions(plant, lambda revision: tables_in(self._reader())(revision))
            self._keeper = SummaryKeeper(plant)
            built = {build: self._graph.stations_in(*build) for build in plant.builds()}
            self._built_in = {one: tuple(b for b in built if one in built[b]) for one in plant.stations}
            if self._keeper.is_behind(self._reader()):
                self._record.write(self._keeper.follow)
            self._revision = plant.revision

    def moment(self) -> "Counts":
        """Return the same counts for one page or report: what is dirty at its first question is counted, and then read.

        What is written meanwhile may stand in its later answers or not.
        """
        self._rules()
        one = copy.copy(self)
        one._is_counted = False
        return one

    def _reader(self) -> sqlite3.Connection:
        if not hasattr(self._own, "reader"):
            self._own.reader = open_reader(self._record.folder / RECORD)
        reader: sqlite3.Connection = self._own.reader
        return reader

    def _fresh(self, slice_: Slice | None = None) -> sqlite3.Connection:
        if slice_ is not None:
            check_slice(slice_)
        self._rules()
        reader = self._reader()
        if self._is_counted:
            return reader
        if reader.execute(DIRTY_DAYS).fetchone() is not None:
            self._refreshing.refresh(self._keeper.refresh)
        if self._is_counted is not None:
            self._is_counted = True
        return reader

    def today(self, now: int) -> date:
        """Return the production day of an instant (ms since 1970 UTC), the calendar day outside every shift."""
        self._rules()
        day, _ = self._calendar.day_and_shift(now)
        local = self._calendar.local(now).date()
        return day if (local - day).days <= 1 else local

    def _is_partial(self, slice_: Slice, now: int) -> bool:
        """Tell whether the last week of the slice is not over, or cut short by the slice's own end."""
        last_monday = date.fromisoformat(monday_of((slice_.end - timedelta(days=1)).isoformat()))
        week_end = last_monday + timedelta(days=7)
        return slice_.end < week_end or self.today(now) < week_end

    def week_counts(self, slice_: Slice, point: str, now: int) -> WeekCounts:
        """Return units, defectives and defects by week at a point, or of whole units where point is "line"."""
        rows = presented.presented_weeks(self._fresh(slice_), slice_, point, by_model=False)
        return presented.week_counts(slice_, point, rows, self._is_partial(slice_, now))

    def week_counts_by_model(self, slice_: Slice, point: str, now: int) -> dict[str, WeekCounts]:
        """Return week_counts of each model of the slice, in the plant's order; a model without units has zeros."""
        rows = presented.presented_weeks(self._fresh(slice_), slice_, point, by_model=True)
        partial = self._is_partial(slice_, now)
        return {
            model: presented.week_counts(slice_, point, [row for row in rows if row.model == model], partial)
            for model in self._plant.models
            if not slice_.models or model in slice_.models
        }

    def first_pass_weeks(self, slice_: Slice, point: str, now: int) -> FirstPassWeeks:
        """Return first-pass by week at a point or at the line; severities of the slice do not matter here."""
        rows = presented.presented_weeks(self._fresh(slice_), slice_, point, by_model=False)
        return presented.first_pass_weeks(slice_, point, rows, self._is_partial(slice_, now))

    def seen_units(self, slice_: Slice) -> dict[str, int]:
        """Return the units presented in the slice, each once, by model in code order."""
        return presented.seen_units(self._fresh(slice_), slice_)

    def under_way(
        self, last_day: date, models: tuple[str, ...] = (), builds: tuple[tuple[str, str], ...] = ()
    ) -> tuple[UnitUnderWay, ...]:
        """Return the units under way at the end of a day, longest first; models, builds () for all.

        No shift: a unit has none before it counts.
        """
        return under_way.units_under_way(self._fresh(), self._plant, last_day, models, builds)

    def category_counts(self, slice_: Slice, what: str) -> CategoryCounts:
        """Return defects by "type", "origin", "confirmed origin" or "suspected origin", zeros kept, in code order."""
        reader = self._fresh(slice_)
        units = sum(presented.seen_units(reader, slice_).values())
        if what == "type":
            return categories.type_counts(reader, slice_, self._plant, units)
        if what in ("origin", "confirmed origin", "suspected origin"):
            return categories.origin_counts(reader, slice_, self._plant, what, units)
        raise ValueError(f"what must be type, origin, confirmed origin or suspected origin, got {what!r}")

    def origin_detection(self, slice_: Slice, basis: DayBasis = "found") -> OriginDetection:
        """Return defects by origin and detection point on units seen in the slice, found whenever, FIELD too.

        basis "work": by the day of the work at the origin instead.
        """
        return origins.origin_detection(self._fresh(slice_), slice_, self._plant, basis)

    def station_weeks(self, slice_: Slice, station: str, basis: DayBasis, now: int) -> StationWeeks:
        """Return one station's defects by week, suspected and confirmed apart. Raises KeyError without it."""
        reader = self._fresh(slice_)
        self._plant.stations[station]
        special = self._is_special(station)
        rows = origins.station_rows(reader, slice_, basis, station, by_model=special)
        seen = presented.presented_weeks(reader, slice_, LINE, by_model=special)
        return self._station_weeks(slice_, station, basis, rows, seen, self._is_partial(slice_, now))

    def told_passes(self, slice_: Slice, station: str) -> tuple[int, int]:
        """Return the units presented in the slice whose build has the station, and of how many its passing was told.

        What the slice narrows does not matter. Raises KeyError without the station.
        """
        return told_passes(self._fresh(slice_), slice_, station, self._built_in[station])

    def all_station_weeks(self, slice_: Slice, basis: DayBasis, now: int) -> dict[str, StationWeeks]:
        """Return the weeks of every place of the plant that can be an origin, in table order."""
        reader = self._fresh(slice_)
        special = any(map(self._is_special, self._plant.stations))
        rows = origins.by_station(origins.station_rows(reader, slice_, basis, None, by_model=special))
        seen = presented.presented_weeks(reader, slice_, LINE, by_model=special)
        partial = self._is_partial(slice_, now)
        return {
            station: self._station_weeks(slice_, station, basis, rows.get(station, []), seen, partial)
            for station in self._plant.stations
            if station != UNKNOWN
        }

    def _is_special(self, station: str) -> bool:
        """Tell whether only some builds contain the station, so that its units are not everybody's."""
        return 0 < len(self._built_in[station]) < len(self._plant.builds())

    def _station_weeks(
        self,
        slice_: Slice,
        station: str,
        basis: DayBasis,
        rows: list[origins.WorkedWeek],
        seen: list[presented.PresentedWeek],
        partial: bool,
    ) -> StationWeeks:
        builds, everybody = self._built_in[station], not self._is_special(station)

        def comes_by(model: str, line: str) -> bool:
            return everybody or (model, line) in builds

        exposed: dict[str, int] | None = None
        if basis == "found" or not builds:
            exposed = {}
            for row in seen:
                if comes_by(row.model, row.line):
                    exposed[row.monday] = exposed.get(row.monday, 0) + row.units
        words = _exposed_words(station, basis, builds)
        return origins.station_weeks(slice_, station, basis, rows, comes_by, exposed, partial, words)

    def _of_own_units(self, slice_: Slice, station: str) -> Slice | None:
        """Return the slice narrowed to the units whose build contains the station, None where it holds none of them."""
        if not self._is_special(station):
            return slice_
        through = self._through(slice_, station)
        return replace(slice_, builds=through) if through else None

    def _through(self, slice_: Slice, station: str) -> tuple[tuple[str, str], ...]:
        """Return the builds that contain the station, of those that the slice asks for."""
        asked = [build for build in self._built_in[station] if not slice_.models or build[0] in slice_.models]
        return tuple(build for build in asked if not slice_.builds or build in slice_.builds)

    def station_types(self, slice_: Slice, station: str) -> StationTypes:
        """Return one station's defects by type on its own units, by the day seen."""
        reader, own = self._fresh(slice_), self._of_own_units(slice_, station)
        return categories.station_types(reader, own, station) if own else StationTypes(station, (), (), ())

    def station_photos(self, slice_: Slice, station: str) -> tuple[StationPhoto, ...]:
        """Return photos of the station's own defects found in the slice, latest first, at most 24."""
        return station_rows.station_photos(self._fresh(slice_), slice_, station)

    def photos_of(self, defects: Sequence[str]) -> dict[str, dict[str, Circle | None]]:
        """Return the photos of each of these defects by SHA-256, and where on each the flaw is circled, None nowhere;
        one without a photo is left out."""
        return station_rows.photos_of(self._fresh(), defects)

    def origin_learning(self, slice_: Slice) -> OriginLearning:
        """Return settled and open defects on the units seen in the slice, with what was said of them first.

        Kept by each thread until anything is written to the record, as every station's page asks for the same.
        """
        kept = self._seen(slice_)
        if kept.learned is None:
            units = sum(presented.seen_units(self._reader(), slice_).values())
            kept.learned = origin_learning(kept.flaws, self._words(kept), self._plant, units)
        return kept.learned

    def _words(self, kept: "_Seen") -> Words:
        """Return what was said of the slice's defects, read to the end."""
        reader = self._reader()
        if kept.words is None:
            kept.words = Words(reader, first_number(reader, kept.slice))
        else:
            kept.words.follow(reader)
        return kept.words

    def passed_through(self, slice_: Slice, station: str) -> PassedThrough:
        """Return what came to a station from upstream and was found later, on units of the slice built through it."""
        kept, through = self._seen(slice_), self._through(slice_, station)
        if not through:
            return PassedThrough(station, (), 0, 0, 0)
        units = sum(presented.seen_units(self._reader(), replace(slice_, builds=through)).values())
        return passed_through(kept.flaws, station, self._plant, self._graph, through, units)

    def _seen(self, slice_: Slice) -> "_Seen":
        """Return what this thread keeps of the slice while nothing is written, read anew after anything was."""
        reader = self._fresh(slice_)
        (state,) = reader.execute(STATE).fetchone()
        kept: _Seen | None = getattr(self._own, "seen", None)
        if kept is None or (kept.slice, kept.revision) != (slice_, self._revision):
            kept = self._own.seen = _Seen(slice_, self._revision)
        if kept.state != state:
            kept.state, kept.flaws, kept.learned = state, seen_flaws(reader, slice_), None
        return kept

    def cell_weeks(self, slice_: Slice, now: int) -> CellWeeks:
        """Return the slice's cells, station × type, by week and model; the slice begins and ends on a Monday."""
        reader = self._fresh(slice_)
        return cells.cell_weeks(reader, slice_, self._plant, self._is_partial(slice_, now))

    def worked_defects(self, slice_: Slice, station: str, types: Sequence[str]) -> tuple[WorkedDefect, ...]:
        """Return a station's defects of some types on its own units of the slice, by the day of the work."""
        reader, own = self._fresh(slice_), self._of_own_units(slice_, station)
        return cells.worked_defects(reader, own, station, types) if own else ()

    def cell_photos(self, slice_: Slice, station: str, types: Sequence[str]) -> tuple[CellPhoto, ...]:
        """Return photos of a station's defects of some types found in the slice, latest first, at most 12."""
        return cells.cell_photos(self._fresh(slice_), slice_, station, types)

    def grade_counts(self, slice_: Slice) -> dict[tuple[str, str], int]:
        """Return the defects of the slice's units by severity and by the plant's own, "" where none was said."""
        return grade_counts(self._fresh(slice_), slice_)

    def criticals(self, slice_: Slice) -> list[Critical]:
        """Return every critical found in the slice that stands, in the order found."""
        return criticals(self._fresh(slice_), slice_)

    def last_critical_before(self, slice_: Slice) -> date | None:
        """Return the day of the last critical before the slice, narrowed as it is; None where the record has none."""
        return last_before(self._fresh(slice_), slice_)

    def criticals_before(self, slice_: Slice) -> tuple[int, date | None]:
        """Return how many criticals were found before the slice, narrowed as it is, and the day of the first."""
        return earlier(self._fresh(slice_), slice_)

    def open_criticals(self) -> list[Critical]:
        """Return every critical that is open or waits for its re-check, in the order found: no slice hides one."""
        return open_criticals(self._fresh())

    def data_quality(self, slice_: Slice, now: int) -> DataQualityCounts:
        """Return how fit the slice's data are, as of now."""
        reader = self._fresh(slice_)
        before = self.confirm_before(now)
        found = quality.found_row(reader, slice_, LATE_HOURS * 3_600_000)
        missed, zones, told = quality.zones_looked(reader, slice_, self._plant, self._plants)
        return DataQualityCounts(
            no_record=quality.planned_units(reader, slice_, self.today(now)),
            not_looked_at=(missed, zones),
            zones_told=told,
            zones_together=quality.zones_together(reader, slice_, self._plant),
            unknown_origin=categories.unknown_share(reader, slice_),
            open_origins=backlogs.seen_open_origins(reader, slice_),
            waiting=backlogs.open_origins(reader, slice_, before, field=False),
            waiting_field=backlogs.open_origins(reader, slice_, before, field=True),
            confirm_before=before,
            late_synced=(found["late"], found["recorded"]),
            late_hours=LATE_HOURS,
            duplicates=(found["duplicates"], found["first_hand"]),
            field_without_record=quality.field_findings(reader, slice_),
            unfinished=quality.unfinished(reader),
            inspectors=quality.inspectors(reader, slice_),
            partial=self.today(now) < slice_.end,
            without_day=quality.without_day(reader),
        )

    def open_origins(self, now: int, *, field: bool) -> OpenOrigins:
        """Return the open origins of what the plant found, at whatever look, or of findings after dispatch."""
        today = self.today(now)
        return backlogs.open_origins(self._fresh(), Slice(today, today), self.confirm_before(now), field=field)

    def confirm_before(self, now: int) -> ConfirmBefore:
        """Return the day before which a defect was found more than CONFIRM_DAYS working days ago, at each station."""
        today = self.today(now)
        own = {one: self._calendar.more_than(CONFIRM_DAYS, today, one) for one in self._calendar.own_stations}
        return ConfirmBefore(self._calendar.more_than(CONFIRM_DAYS, today), own)

    def unnamed(self, most: int) -> tuple[OpenOrigin, ...]:
        """Return defects that nobody has named a place for, or said to be not known, at most so many."""
        return backlogs.unnamed(self._fresh(), most)

    def disputed(self, most: int) -> tuple[OpenOrigin, ...]:
        """Return the disputes, oldest first, at most so many."""
        return backlogs.disputed(self._fresh(), most, lambda ms: self._calendar.day_and_shift(ms)[0])

    def oldest_waiting(self) -> dict[str, date]:
        """Return for each suspected place on which day the oldest defect that waits for its word was found."""
        return backlogs.oldest_waiting(self._fresh())

    def clocked(self, slice_: Slice) -> tuple[ClockedType, ...]:
        """Return the minutes clocked on the defects of the units that count in the slice, by type."""
        return backlogs.clocked(self._fresh(slice_), slice_)

    def repaired(self, first: date, end: date) -> tuple[RepairedType, ...]:
        """Return the repairs of the days first <= day < end by type, and how many of them came back."""
        return backlogs.repaired(self._fresh(), self._midnight(first), self._midnight(end))

    def repaired_by_unit(self, first: date, end: date) -> PartByUnit:
        """Return of the repairs done in the days first <= day < end those that came back, summed over their units."""
        return backlogs.repaired_by_unit(self._fresh(), self._midnight(first), self._midnight(end))

    def escaped(self, first: date, end: date, days: int) -> Escaped:
        """Return what was found after dispatch within so many days on the units that left in the days."""
        return backlogs.escaped(self._fresh(), first, end, days)

    def _midnight(self, day: date) -> int:
        return self._calendar.midnight(day)

    def inspectors(self, slice_: Slice) -> tuple[tuple[str, str, int], ...]:
        """Return (point, inspector, first presentations) of the slice, in that order."""
        return quality.inspectors(self._fresh(slice_), slice_)

    def relooks(self, slice_: Slice) -> RelookCounts:
        """Return what two inspectors found on the same units, by the day of the second look."""
        return relooks.relook_counts(self._fresh(slice_), slice_, self._plant)

    def false_calls(self, slice_: Slice) -> tuple[FalseCalls, ...]:
        """Return what each finder recorded at inspection points, and what of it was withdrawn as no defect."""
        return relooks.false_calls(self._fresh(slice_), slice_, self._plant)

    def first_week(self) -> date | None:
        """Return the Monday of the first week in which a unit was presented, None where none ever was."""
        row = self._fresh().execute(FIRST_WEEK).fetchone()
        return date.fromisoformat(row[0]) if row[0] else None

    def first_look_week(self) -> date | None:
        """Return the Monday of the first week in which anybody looked, None where nobody did."""
        (day,) = self._fresh().execute(FIRST_LOOK).fetchone()
        return date.fromisoformat(monday_of(day)) if day else None

    def point_findings(self, slice_: Slice) -> PointFindings:
        """Return for each point what it found, and what it was meant to find and passed, on units of the slice."""
        return origins.point_findings(self._fresh(slice_), slice_, self._plant, self._graph)

    def defects_by_unit(self, slice_: Slice, *, at_points: bool = False) -> DefectsByUnit:
        """Return the defects of `origin_detection` and `point_findings` of the slice, summed so that ranges follow.

        at_points: without those found after dispatch.
        """
        reader = self._fresh(slice_)
        return defects_by_unit.defects_by_unit(reader, slice_, self._plant, self._graph, at_points=at_points)

    def followed_by_unit(self, slice_: Slice, now: int) -> DefectsByUnit:
        """Return the defects of the slice up to day 60 after each unit left, of those units that are followed up.

        A unit that has not left, or lately, has had no time to show what got through. Severities do not matter.
        """
        reader, before = self._fresh(slice_), self._followed_before(now)
        return defects_by_unit.followed_by_unit(reader, slice_, self._plant, self._graph, before)

    def left_weeks(self, slice_: Slice, now: int) -> LeftWeeks:
        """Return which units have left and what was found after, by week; the slice begins and ends on a Monday."""
        return left_units.left_weeks(self._fresh(slice_), slice_, self._followed_before(now))

    def _followed_before(self, now: int) -> date:
        """Return the day before which a unit left that has had its 60 days."""
        return self.today(now) - timedelta(days=FOLLOW_DAYS)


def _exposed_words(station: str, basis: DayBasis, builds: tuple[tuple[str, str], ...]) -> str:
    if not builds:
        return say("{units}, in the week (no station of the build: every unit is exposed)", units=say(PRESENTED))
    if basis == "found":
        return say(
            "units whose build contains {station}, in the week in which the last end point of their build presented "
            "them",
            station=station,
        )
    return say(
        "units whose build contains {station} and that every end point has presented, in the week of their work at "
        "{station} (scan, or lead-time rule)",
        station=station,
    )
