"""A station lead's page: own defects by the day the work was done and by the day of presentation, and what waits."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from qc.domain.counted.counts import Critical, StationTypes
from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import Plant
from qc.domain.unit.origins import LINE_KINDS
from qc.domain.unit.unit_record import Circle
from qc.domain.words.speaking import say, say_many
from qc.reports.asking import COUNTED, Asking, known_before, known_weeks
from qc.reports.periods import ONE_WEEK, WEEK, Period, week_of
from qc.reports.stations.station_trend import StationTrend, WeekDot, station_trend
from qc.reports.watch.signals import Signal, Signals, signals_report
from qc.reports.watch.usual import UsualBase, UsualRange, station_usual_weeks, usual_on
from qc.reports.week.criteria import criteria_days
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from qc.store.reading.reads import Reads, Unsettled
from qc.store.reading.reads import WaitingDefect as Waiting

__all__ = [
    "ChangeNote",
    "PhotoOfDefect",
    "StationReport",
    "StationTrend",
    "StationTypeLine",
    "UsualRange",
    "WaitingDefect",
    "WeekDot",
    "station_report",
]

HISTORY_WEEKS = 26
WINDOW_WEEKS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingDefect:
    """A defect that waits for this station's word, or disputed for the manager's.

    photos: by SHA-256 where on it the flaw is circled, None nowhere; age_days: working days since found.

    zone_name, type_name: words; origin_state: "suspected" or "disputed"; overdue: over 3 working days old.
    """

    defect: str
    unit: str
    shop_number: str
    model: str
    type: str
    type_name: str
    severity: str
    grade: str
    zone: str
    zone_name: str
    point: str
    note: str
    found_ms: int
    found_day: date
    finder: str
    origin_state: str
    photos: Mapping[str, Circle | None]
    mark: tuple[int, int] | None
    age_days: int
    overdue: bool
    possible_origins: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StationTypeLine:
    """One type at this station over the window: week and weeks before, confirmed and suspected apart."""

    type: str
    type_name: str
    week_confirmed: int
    week_suspected: int
    before_confirmed: int
    before_suspected: int
    usual: UsualRange | TooLittle


@dataclass(frozen=True, slots=True)
class PhotoOfDefect:
    """A photo of one of the station's own defects; circle: where on it the flaw is circled, None nowhere."""

    sha256: str
    defect: str
    type_name: str
    shop_number: str
    found_day: date
    circle: Circle | None = None


@dataclass(frozen=True, slots=True)
class ChangeNote:
    """What was changed at the station and when: explains later shifts better than any test."""

    id: str
    change: str
    what: str
    from_day: date
    noted_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StationReport:
    """One station's page. week: the last whole week or the one asked for; history: the weeks of the trends.

    signals: those that stand here, the muted ones last; the page begins with them. scatter: what to know of everything
    watched before believing one, "" for nothing. by_work first, by_found beside it: majors and minors. dated: in words
    how the day of the work is known, "" where it has none. criticals: those of the history that stand against it,
    latest first, in no count. denominator: in words. What is expected here and what came through stand in
    `station_expected` and `station_upstream`.
    """

    station: str
    name: str
    kind: str
    crew: str
    week: Period
    history: Period
    signals: tuple[Signal, ...]
    scatter: str
    by_work: StationTrend
    by_found: StationTrend
    dated: str
    types: tuple[StationTypeLine, ...]
    criticals: tuple[Critical, ...]
    waiting: tuple[WaitingDefect, ...]
    disputed: tuple[WaitingDefect, ...]
    unsettled: Unsettled
    photos: tuple[PhotoOfDefect, ...]
    change_notes: tuple[ChangeNote, ...]
    sentence: str
    denominator: str


def station_report(
    counts: Counts,
    reads: Reads,
    plant: Plant,
    station: str,
    day: date,
    now_ms: int,
    signals: Signals | None = None,
) -> StationReport:
    """Return a station's page for the ISO week that holds the day, as of now (ms since 1970 UTC).

    signals: of that week, None to have them worked out here. Raises KeyError for a station that is none of the plant.
    """
    place = plant.stations[station]
    every = signals or signals_report(counts, reads, plant, day, now_ms)
    ask = Asking(
        counts=counts,
        plant=plant,
        now_ms=now_ms,
        criteria=criteria_days(reads, plant),
        signals=every.weeks,
        scatter=every.scatter,
    )
    standing = every.at(station)
    week, rising = week_of(day, ask.today), any(one.direction == "up" for one in standing)
    history, window = known_weeks(ask, week, HISTORY_WEEKS), known_before(ask, week, WINDOW_WEEKS)
    work, found = (
        station_trend(ask, station, "work", week, history, rising),
        station_trend(ask, station, "found", week, history, rising),
    )
    unsettled = reads.unsettled(counts.confirm_before(now_ms)).get(station, Unsettled(station, 0, 0, 0))
    return StationReport(
        station=station,
        name=place.name,
        kind=place.kind,
        crew=place.crew,
        week=week,
        history=history,
        signals=standing,
        scatter=every.scatter_told if standing else "",
        by_work=work,
        by_found=found,
        dated=_dated(ask, station, history),
        types=_types(ask, station, week, window),
        criticals=_criticals(ask, station, history),
        waiting=_waiting(ask, station, reads.defects_waiting(station)),
        disputed=_waiting(ask, station, reads.defects_disputed(station)),
        unsettled=unsettled,
        photos=_photos(ask, station, week),
        change_notes=tuple(
            ChangeNote(one["id"], one["change"], one["what"], date.fromisoformat(one["from_day"]), one["noted_by"])
            for one in reversed(reads.change_notes(station))
        ),
        sentence=f"{work.sentence} {_waiting_words(unsettled.waiting)}",
        denominator=say("Majors and minors, per week of work: {exposed}.", exposed=work.counts.denominator),
    )


def _waiting_words(number: int) -> str:
    if not number:
        return say("no defect waiting for confirmation.")
    return say_many("{number} defect waiting for confirmation.", "{number} defects waiting for confirmation.", number)


def _dated(ask: Asking, station: str, history: Period) -> str:
    if ask.plant.stations[station].kind not in LINE_KINDS:
        return ""
    units, told = ask.counts.told_passes(ask.slice(history), station)
    if not told:
        return say("No passing was told here in these weeks: the day of the work is reckoned by the plant's lead time.")
    if told == units:
        return say_many(
            "The day of the work was told at the station for {told} of {number} unit presented.",
            "The day of the work was told at the station for {told} of {number} units presented.",
            units, told=told,
        )  # fmt: skip
    return say(
        "The day of the work was told at the station for {told} of {units} units presented; for the others it is "
        "reckoned by the plant's lead time.",
        told=told, units=units,
    )  # fmt: skip


def _types(ask: Asking, station: str, week: Period, window: Period) -> tuple[StationTypeLine, ...]:
    now, then = (_by_type(ask, station, period) for period in (week, window))
    ranked = sorted({*now, *then}, key=lambda t: (-sum(now.get(t, (0, 0))), -sum(then.get(t, (0, 0))), t))
    usual = _usual_types(ask, station, week)
    return tuple(
        StationTypeLine(
            type_,
            ask.type_name(type_),
            *now.get(type_, (0, 0)),
            *then.get(type_, (0, 0)),
            usual if isinstance(usual, TooLittle) else usual.get(type_, usual[""]),
        )
        for type_ in ranked
    )


def _by_type(ask: Asking, station: str, period: Period) -> dict[str, tuple[int, int]]:
    found: StationTypes = ask.counts.station_types(ask.slice(period, COUNTED), station)
    return {t: (c, s) for t, c, s in zip(found.types, found.confirmed, found.suspected, strict=True)}


def _usual_types(ask: Asking, station: str, week: Period) -> dict[str, UsualRange | TooLittle] | TooLittle:
    """Return what is usual of each type in the week, "" for one that the usual weeks do not have.

    The weeks are the station's own, those in which any of its signals stood left out.
    """
    weeks = station_usual_weeks(ask, station, "found", week)
    if isinstance(weeks, TooLittle):
        return weeks
    apart = [monday for monday in weeks.every if monday not in weeks.mondays]
    out = [Period(monday, monday + WEEK, ONE_WEEK, False) for monday in apart]
    whole, left = _by_type(ask, station, weeks.period), [_by_type(ask, station, one) for one in out]
    units = sum(_exposed(ask, station, weeks.period)) - sum(sum(_exposed(ask, station, one)) for one in out)
    now = sum(_exposed(ask, station, week))
    defects = {"": 0} | {
        type_: sum(counts) - sum(sum(one.get(type_, (0, 0))) for one in left) for type_, counts in whole.items()
    }
    return {type_: usual_on(UsualBase(weeks, count, units), now) for type_, count in defects.items()}


def _exposed(ask: Asking, station: str, period: Period) -> tuple[int, ...]:
    return ask.counts.station_weeks(ask.slice(period, COUNTED), station, "found", ask.now_ms).exposed


def _criticals(ask: Asking, station: str, history: Period) -> tuple[Critical, ...]:
    rows = ask.counts.criticals(ask.slice(history))
    return tuple(row for row in reversed(rows) if station == (row.confirmed or row.suspected))


def _waiting(ask: Asking, station: str, rows: list[Waiting]) -> tuple[WaitingDefect, ...]:
    photos = ask.counts.photos_of([row.id for row in rows])
    calendar, graph = ProductionCalendar(ask.plant), BuildGraph(ask.plant)
    before = ask.counts.confirm_before(ask.now_ms).at(station)
    lines = []
    for row in rows:
        found = date.fromisoformat(row.production_day)
        lines.append(
            WaitingDefect(
                defect=row.id,
                unit=row.unit,
                shop_number=row.shop_number,
                model=row.model,
                type=row.type,
                type_name=ask.type_name(row.type),
                severity=row.severity,
                grade=row.grade,
                zone=row.zone,
                zone_name=ask.zone_name(row.model, row.zone),
                point=row.point,
                note=row.note,
                mark=row.mark,
                found_ms=row.found_ms,
                found_day=found,
                finder=row.finder,
                origin_state=row.origin_state,
                photos=photos.get(row.id, {}),
                age_days=calendar.days_worked_since(found, ask.today, station),
                overdue=found < before,
                possible_origins=graph.possible_origins(row.point, row.model, row.line),
            )
        )
    return tuple(lines)


def _photos(ask: Asking, station: str, week: Period) -> tuple[PhotoOfDefect, ...]:
    return tuple(
        PhotoOfDefect(one.sha256, one.defect, ask.type_name(one.type), one.shop_number, one.found_day, one.circle)
        for one in ask.counts.station_photos(ask.slice(week), station)
    )
