"""A station lead's page: own defects by the day the work was done and by the day found, and what waits."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from qc.domain.calendar import ProductionCalendar
from qc.domain.counts import DayBasis, StationWeeks
from qc.domain.graph import BuildGraph
from qc.domain.plant import Plant
from qc.reports.asking import LEVEL, Asking, record_baseline
from qc.reports.periods import Period, week_of, weeks_before, weeks_up_to
from qc.reports.wording import counted
from qc.stats import usual_range as usual
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from qc.store.reads import Reads
from qc.store.reads import WaitingDefect as Waiting

HISTORY_WEEKS = 26
WINDOW_WEEKS = 8
OVERDUE_DAYS = 3  # working days (common practice, no source)


@dataclass(frozen=True, slots=True)
class UsualRange:
    """The usual range of a week's defects on its own number of units, and how it was got.

    low, high: defects, both usual; expected: the mean; weeks: whole weeks it rests on, exposed units in them.
    """

    low: int
    high: int
    expected: float
    weeks: int
    units: int
    level: float
    method: str


@dataclass(frozen=True, slots=True)
class WeekDot:
    """One dot of the run: defects of the week (confirmed + suspected), units exposed, and what is usual for them.

    state: "usual", "more", "fewer", "partial" (not over or its units not all seen yet), "no units".
    """

    week: str
    confirmed: int
    suspected: int
    defects: int
    defectives: int
    exposed: int
    usual: UsualRange | TooLittle
    state: Literal["usual", "more", "fewer", "partial", "no units", "too little"]


@dataclass(frozen=True, slots=True)
class StationTrend:
    """A station's weeks on one basis: "work" by the day the work was done, "found" by the day found.

    counts: the store's table; dots beside its weeks; notes: (week, words) of change notes and criteria changes.
    sentence: "3 last week; 1 to 6 is usual".
    """

    basis: Literal["work", "found"]
    counts: StationWeeks
    dots: tuple[WeekDot, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class WaitingDefect:
    """A defect that waits for this station's word. photos: SHA-256 each. age_days: working days since found.

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

    by_work first, by_found beside it. moved_away: defects suspected here once and confirmed elsewhere in the
    history. passed_through: defects of other origin found after this station (stations that can detect), else None.
    denominator: in words.
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
    photos: tuple[PhotoOfDefect, ...]
    change_notes: tuple[ChangeNote, ...]
    moved_away: int
    sentence: str
    denominator: str


def station_report(counts: Counts, reads: Reads, plant: Plant, station: str, day: date, now_ms: int) -> StationReport:
    """Return a station's page for the ISO week that holds the day, as of now (ms since 1970 UTC).

    Raises KeyError for a station that the plant does not have.
    """
    place = plant.stations[station]
    ask = Asking(counts, plant, now_ms)
    week = week_of(day, ask.today)
    history, window = weeks_up_to(week, HISTORY_WEEKS), weeks_before(week, WINDOW_WEEKS)
    work, found = _trend(ask, station, "work", week, history), _trend(ask, station, "found", week, history)
    waiting = _waiting(ask, reads.defects_waiting(station))
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
        waiting,
        _photos(ask, station, week),
        tuple(
            ChangeNote(one["id"], one["change"], one["what"], date.fromisoformat(one["from_day"]), one["noted_by"])
            for one in reversed(reads.change_notes(station))
        ),
        counts.moved_away(ask.slice(history), station),
        f"{work.sentence} {counted(len(waiting), 'defect')} waiting for confirmation.",
        f"Per week of work: {work.counts.denominator}.",
    )


def _trend(ask: Asking, station: str, basis: DayBasis, week: Period, history: Period) -> StationTrend:
    counts = ask.counts.station_weeks(ask.slice(history), station, basis, ask.now_ms)
    before = _before(ask, station, basis, week)
    open_weeks = _open_weeks(ask, station, basis, history)
    dots = tuple(_dot(counts, place, before, name in open_weeks) for place, name in enumerate(counts.weeks))
    return StationTrend(basis, counts, dots, _trend_sentence(dots, basis))


@dataclass(frozen=True, slots=True)
class _Before:
    """Defects and units of a station in the baseline's weeks."""

    defects: int
    units: int
    weeks: int


def _before(ask: Asking, station: str, basis: DayBasis, week: Period) -> _Before | TooLittle:
    baseline = record_baseline(ask, week)
    if isinstance(baseline, TooLittle):
        return baseline
    counts = ask.counts.station_weeks(ask.slice(baseline), station, basis, ask.now_ms)
    return _Before(sum(counts.confirmed) + sum(counts.suspected), sum(counts.exposed), len(counts.weeks))


def _usual(before: _Before | TooLittle, units: int) -> UsualRange | TooLittle:
    if isinstance(before, TooLittle):
        return before
    answer = usual.usual_range(before.defects, before.units, units, LEVEL)
    if isinstance(answer, TooLittle):
        return answer
    return UsualRange(answer.low, answer.high, answer.expected, before.weeks, before.units, answer.level, answer.method)


def _open_weeks(ask: Asking, station: str, basis: DayBasis, history: Period) -> frozenset[str]:
    """Return the weeks of the history that are not over, or whose units have not all come to daylight yet."""
    today, calendar = ask.today, ProductionCalendar(ask.plant)
    yesterday = today - timedelta(days=1)  # today's units are still being looked at
    seen = calendar.work_day(yesterday, station) if basis == "work" else yesterday
    weeks = [week_of(history.first + timedelta(weeks=n), today) for n in range(history.weeks)]
    return frozenset(week.name for week in weeks if week.partial or seen < _last_working_day(calendar, week))


def _last_working_day(calendar: ProductionCalendar, week: Period) -> date:
    days = [week.last_day - timedelta(days=back) for back in range(7)]
    return next((day for day in days if calendar.is_working(day)), week.first)


def _dot(counts: StationWeeks, place: int, before: _Before | TooLittle, is_open: bool) -> WeekDot:
    confirmed, suspected, exposed = counts.confirmed[place], counts.suspected[place], counts.exposed[place]
    defects, expected = confirmed + suspected, _usual(before, counts.exposed[place])
    state: Literal["usual", "more", "fewer", "partial", "no units", "too little"]
    if is_open:
        state = "partial"
    elif not exposed:
        state = "no units"
    elif isinstance(expected, TooLittle):
        state = "too little"
    else:
        state = "more" if defects > expected.high else "fewer" if defects < expected.low else "usual"
    return WeekDot(
        counts.weeks[place], confirmed, suspected, defects, counts.defectives[place], exposed, expected, state
    )


def _trend_sentence(dots: tuple[WeekDot, ...], basis: DayBasis) -> str:
    whole = [dot for dot in dots if dot.state != "partial"]
    when = "by the day the work was done" if basis == "work" else "by the day found"
    if not whole:
        return f"No week is over whose units have all been looked at ({when})."
    last = whole[-1]
    told = f"{last.defects} in {last.week} on {counted(last.exposed, 'unit')}, {when}"
    if isinstance(last.usual, TooLittle):
        return f"{told}; what is usual cannot be said yet: {last.usual.reason}."
    if last.state == "no units":
        return f"No unit in {last.week} ({when})."
    beyond = {"more": ": more than usual", "fewer": ": fewer than usual"}.get(last.state, "")
    return f"{told}; {last.usual.low} to {last.usual.high} is usual{beyond}."


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
            _usual(_Before(sum(then.get(type_, (0, 0))), exposed[window.name], window.weeks), exposed[week.name]),
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
