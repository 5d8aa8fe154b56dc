"""A station lead's page: own defects by the day the work was done and by the day found, and what waits."""

from dataclasses import dataclass
from datetime import date, timedelta

from qc.domain.calendar import ProductionCalendar
from qc.domain.graph import BuildGraph
from qc.domain.plant import Plant
from qc.reports.asking import Asking, known_weeks
from qc.reports.periods import Period, week_of, weeks_before
from qc.reports.station_trend import Before, StationTrend, UsualRange, WeekDot, station_trend, usual_on
from qc.reports.wording import counted
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from qc.store.reads import Reads, Unsettled
from qc.store.reads import WaitingDefect as Waiting

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
OVERDUE_DAYS = 3  # working days (common practice, no source)
LONGEST_SHUTDOWN = 366  # days: a calendar with less work than that has no working days to count


@dataclass(frozen=True, slots=True)
class WaitingDefect:
    """A defect that waits for this station's word, or disputed for the manager's. photos: SHA-256 each.

    age_days: working days since found.

    zone_name, type_name: words; origin_state: "suspected" or "disputed"; overdue: over 3 working days old.
    """

    defect: str
    unit: str
    shop_number: str
    model: str
    type: str
    type_name: str
    severity: str
    zone: str
    zone_name: str
    point: str
    note: str
    found_ms: int
    found_day: date
    finder: str
    origin_state: str
    photos: tuple[str, ...]
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
    """A photo of one of the station's own defects."""

    sha256: str
    defect: str
    type_name: str
    shop_number: str
    found_day: date


@dataclass(frozen=True, slots=True)
class ChangeNote:
    """What was changed at the station and when: explains later shifts better than any test."""

    id: str
    change: str
    what: str
    from_day: date
    noted_by: str


@dataclass(frozen=True, slots=True)
class StationReport:
    """One station's page. week: the last whole week or the one asked for; history: the weeks of the trends.

    by_work first, by_found beside it. denominator: in words. What is expected here and what came through from upstream
    stand in `station_expected` and `station_upstream`.
    """

    station: str
    name: str
    kind: str
    crew: str
    week: Period
    history: Period
    by_work: StationTrend
    by_found: StationTrend
    types: tuple[StationTypeLine, ...]
    waiting: tuple[WaitingDefect, ...]
    disputed: tuple[WaitingDefect, ...]
    unsettled: Unsettled
    photos: tuple[PhotoOfDefect, ...]
    change_notes: tuple[ChangeNote, ...]
    sentence: str
    denominator: str


def station_report(counts: Counts, reads: Reads, plant: Plant, station: str, day: date, now_ms: int) -> StationReport:
    """Return a station's page for the ISO week that holds the day, as of now (ms since 1970 UTC).

    Raises KeyError for a station that the plant does not have.
    """
    place = plant.stations[station]
    ask = Asking(counts, plant, now_ms)
    week = week_of(day, ask.today)
    history, window = known_weeks(ask, week, HISTORY_WEEKS), weeks_before(week, WINDOW_WEEKS)
    work, found = (
        station_trend(ask, station, "work", week, history),
        station_trend(ask, station, "found", week, history),
    )
    unsettled = reads.unsettled(overdue_before(ask).isoformat()).get(station, Unsettled(station, 0, 0, 0))
    return StationReport(
        station,
        place.name,
        place.kind,
        place.crew,
        week,
        history,
        work,
        found,
        _types(ask, station, week, window),
        _waiting(ask, reads.defects_waiting(station)),
        _waiting(ask, reads.defects_disputed(station)),
        unsettled,
        _photos(ask, station, week),
        tuple(
            ChangeNote(one["id"], one["change"], one["what"], date.fromisoformat(one["from_day"]), one["noted_by"])
            for one in reversed(reads.change_notes(station))
        ),
        f"{work.sentence} {counted(unsettled.waiting, 'defect')} waiting for confirmation.",
        f"Per week of work: {work.counts.denominator}.",
    )


def overdue_before(ask: Asking) -> date:
    """Return the day before which a defect was found more than three working days ago."""
    calendar, day, worked = ProductionCalendar(ask.plant), ask.today, 0
    while True:
        worked += calendar.is_working(day)
        if worked > OVERDUE_DAYS or (ask.today - day).days > LONGEST_SHUTDOWN:
            return day
        day -= timedelta(days=1)


def _types(ask: Asking, station: str, week: Period, window: Period) -> tuple[StationTypeLine, ...]:
    own, before = (ask.counts.station_types(ask.slice(period), station) for period in (week, window))
    exposed = {p.name: sum(_exposed(ask, station, p)) for p in (week, window)}
    now = {t: (c, s) for t, c, s in zip(own.types, own.confirmed, own.suspected, strict=True)}
    then = {t: (c, s) for t, c, s in zip(before.types, before.confirmed, before.suspected, strict=True)}
    ranked = sorted({*now, *then}, key=lambda t: (-sum(now.get(t, (0, 0))), -sum(then.get(t, (0, 0))), t))
    return tuple(
        StationTypeLine(
            type_,
            ask.type_name(type_),
            *now.get(type_, (0, 0)),
            *then.get(type_, (0, 0)),
            usual_on(Before(sum(then.get(type_, (0, 0))), exposed[window.name], window.weeks), exposed[week.name]),
        )
        for type_ in ranked
    )


def _exposed(ask: Asking, station: str, period: Period) -> tuple[int, ...]:
    return ask.counts.station_weeks(ask.slice(period), station, "found", ask.now_ms).exposed


def _waiting(ask: Asking, rows: list[Waiting]) -> tuple[WaitingDefect, ...]:
    photos = ask.counts.photos_of([row.id for row in rows])
    calendar, graph, today = ProductionCalendar(ask.plant), BuildGraph(ask.plant), ask.today
    lines = []
    for row in rows:
        found = date.fromisoformat(row.production_day)
        days = [found + timedelta(days=n) for n in range(1, (today - found).days + 1)]
        age = sum(calendar.is_working(one) for one in days)
        lines.append(
            WaitingDefect(
                row.id,
                row.unit,
                row.shop_number,
                row.model,
                row.type,
                ask.type_name(row.type),
                row.severity,
                row.zone,
                ask.zone_name(row.model, row.zone),
                row.point,
                row.note,
                row.found_ms,
                found,
                row.finder,
                row.origin_state,
                photos.get(row.id, ()),
                age,
                age > OVERDUE_DAYS,
                graph.possible_origins(row.point, row.model),
            )
        )
    return tuple(lines)


def _photos(ask: Asking, station: str, week: Period) -> tuple[PhotoOfDefect, ...]:
    return tuple(
        PhotoOfDefect(one.sha256, one.defect, ask.type_name(one.type), one.shop_number, one.found_day)
        for one in ask.counts.station_photos(ask.slice(week), station)
    )
