"""A station's weeks on one basis, each beside what is usual for its own units."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from qc.domain.calendar import ProductionCalendar
from qc.domain.counts import DayBasis, StationWeeks
from qc.domain.origins import LINE_KINDS
from qc.reports.asking import BASELINE_WEEKS, LEVEL, SCATTER_LEVEL, Asking, record_baseline
from qc.reports.periods import Period, week_of
from qc.reports.wording import counted
from qc.stats import usual_range
from qc.stats.answers import TooLittle
from qc.stats.dispersion import DispersionTest, rate_dispersion


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

    counts: the store's table; dots beside its weeks. sentence: "3 in 2026-W21 on 54 units …; 1 to 6 is usual".
    cautions: what a reader must know before believing the range, () if there is nothing to say.
    """

    basis: Literal["work", "found"]
    counts: StationWeeks
    dots: tuple[WeekDot, ...]
    sentence: str
    cautions: tuple[str, ...] = ()


def station_trend(ask: Asking, station: str, basis: DayBasis, week: Period, history: Period) -> StationTrend:
    """Return a station's weeks of the history on one basis, judged against the record's baseline."""
    counts = ask.counts.station_weeks(ask.slice(history), station, basis, ask.now_ms)
    before = _before(ask, station, basis, week)
    open_weeks = _open_weeks(ask, station, basis, history)
    dots = tuple(_dot(counts, place, before, name in open_weeks) for place, name in enumerate(counts.weeks))
    return StationTrend(basis, counts, dots, _trend_sentence(dots, basis), _cautions(before))


@dataclass(frozen=True, slots=True)
class Before:
    """Defects and units of a station in the weeks that a range rests on."""

    defects: int
    units: int
    weeks: int
    scatter: DispersionTest | TooLittle | None = None


def _before(ask: Asking, station: str, basis: DayBasis, week: Period) -> Before | TooLittle:
    baseline = record_baseline(ask, week)
    if isinstance(baseline, TooLittle):
        return baseline
    counts = ask.counts.station_weeks(ask.slice(baseline), station, basis, ask.now_ms)
    defects = [confirmed + suspected for confirmed, suspected in zip(counts.confirmed, counts.suspected, strict=True)]
    return Before(sum(defects), sum(counts.exposed), len(counts.weeks), _scatter(counts, defects))


def _scatter(counts: StationWeeks, defects: list[int]) -> DispersionTest | TooLittle:
    if any(count and not units for count, units in zip(defects, counts.exposed, strict=True)):
        return TooLittle("scatter between weeks", "a week has defects and no unit of the station's models", 0, 1)
    return rate_dispersion(counts.weeks, defects, counts.exposed)


def _cautions(before: Before | TooLittle) -> tuple[str, ...]:
    if isinstance(before, TooLittle):
        return ()
    said = []
    if before.weeks < BASELINE_WEEKS:
        said.append(f"The usual range rests on {before.weeks} weeks; 20 to 25 are usual, so it is a first guess.")
    if isinstance(before.scatter, DispersionTest) and before.scatter.p_more < 1 - SCATTER_LEVEL:
        said.append(
            f"The weeks that the range rests on scatter {before.scatter.index:.1f} times as much as chance gives: "
            "something happened in them, so the range sits where it should not. Look at those weeks first."
        )
    return tuple(said)


def usual_on(before: Before | TooLittle, units: int) -> UsualRange | TooLittle:
    """Return what is usual on so many units, from the weeks before."""
    if isinstance(before, TooLittle):
        return before
    answer = usual_range.usual_range(before.defects, before.units, units, LEVEL)
    if isinstance(answer, TooLittle):
        return answer
    return UsualRange(answer.low, answer.high, answer.expected, before.weeks, before.units, answer.level, answer.method)


def _open_weeks(ask: Asking, station: str, basis: DayBasis, history: Period) -> frozenset[str]:
    """Return the weeks of the history that are not over, or whose units have not all come to daylight yet."""
    today, calendar = ask.today, ProductionCalendar(ask.plant)
    yesterday = today - timedelta(days=1)  # today's units are still being looked at
    dated = basis == "work" and ask.plant.stations[station].kind in LINE_KINDS
    seen = calendar.work_day(yesterday, station) if dated else yesterday
    weeks = [week_of(history.first + timedelta(weeks=n), today) for n in range(history.weeks)]
    return frozenset(week.name for week in weeks if week.partial or seen < _last_working_day(calendar, week))


def _last_working_day(calendar: ProductionCalendar, week: Period) -> date:
    days = [week.last_day - timedelta(days=back) for back in range(7)]
    return next((day for day in days if calendar.is_working(day)), week.first)


def _dot(counts: StationWeeks, place: int, before: Before | TooLittle, is_open: bool) -> WeekDot:
    confirmed, suspected, exposed = counts.confirmed[place], counts.suspected[place], counts.exposed[place]
    defects, expected = confirmed + suspected, usual_on(before, counts.exposed[place])
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
    when = "by the day the work was done" if basis == "work" else "by the day the unit was presented"
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
