"""A station's weeks on one basis, each beside what is usual for its own units."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from qc.domain.counted.counts import DayBasis, StationWeeks
from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.unit.origins import LINE_KINDS
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import say, say_many
from qc.reports.asking import COUNTED, SCATTER_LEVEL, Asking
from qc.reports.how_many import units
from qc.reports.periods import Period, week_of
from qc.reports.watch.usual import UsualBase, UsualRange, UsualWeeks, station_base, station_usual_weeks, usual_on
from qc.stats.answers import TooLittle
from qc.stats.charts.dispersion import DispersionTest, rate_dispersion
from qc.stats.series import rates_of


@dataclass(frozen=True, slots=True, kw_only=True)
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
    """A station's weeks on one basis: "work" by the day the work was done, "found" by the day of presentation.

    counts: the store's table; dots beside its weeks. sentence: "3 in 2026-W21 on 54 units …; 1 to 6 is usual, by the 8
    weeks 2026-W10 to 2026-W17".
    cautions: what a reader must know before believing the range, () if there is nothing to say.
    """

    basis: Literal["work", "found"]
    counts: StationWeeks
    dots: tuple[WeekDot, ...]
    sentence: str
    cautions: tuple[str, ...] = ()


def station_trend(
    ask: Asking, station: str, basis: DayBasis, week: Period, history: Period, standing: bool = False
) -> StationTrend:
    """Return a station's weeks of the history on one basis, majors and minors, each beside what is usual.

    standing: a signal of more defects stands here, which one usual week does not end.
    """
    counts = ask.counts.station_weeks(ask.slice(history, COUNTED), station, basis, ask.now_ms)
    base, scatter = _base(ask, station, basis, week)
    open_weeks = _open_weeks(ask, station, basis, history)
    dots = tuple(_dot(counts, place, base, name in open_weeks) for place, name in enumerate(counts.weeks))
    cautions = (*_cautions(scatter, ask.scatter), *_elsewhere(counts))
    return StationTrend(basis, counts, dots, _trend_sentence(dots, basis, standing), cautions)


def _base(
    ask: Asking, station: str, basis: DayBasis, week: Period
) -> tuple[UsualBase | TooLittle, DispersionTest | TooLittle | None]:
    """Return what the station's ranges rest on, and how much its weeks scatter."""
    weeks = station_usual_weeks(ask, station, basis, week)
    if isinstance(weeks, TooLittle):
        return weeks, None
    counts = ask.counts.station_weeks(ask.slice(weeks.period, COUNTED), station, basis, ask.now_ms)
    return station_base(counts, weeks), _scatter(counts, weeks)


def _scatter(counts: StationWeeks, weeks: UsualWeeks) -> DispersionTest | TooLittle:
    rows = zip(counts.weeks, counts.confirmed, counts.suspected, counts.exposed, strict=True)
    kept = [(sure + guessed, seen, week) for week, sure, guessed, seen in rows if week in weeks.names]
    if any(count and not seen for count, seen, _ in kept):
        return TooLittle("scatter between weeks", say("a week has defects and no unit of the station's models"), 0, 1)
    return rate_dispersion(rates_of(*(list(column) for column in zip(*kept, strict=True))))


def _cautions(scatter: DispersionTest | TooLittle | None, widened: float) -> tuple[str, ...]:
    if not isinstance(scatter, DispersionTest) or scatter.p_more >= 1 - SCATTER_LEVEL:
        return ()
    if widened:
        told = say(
            "The weeks that the range rests on went up and down more than luck alone makes them (their variance is "
            "{index:.1f} times what chance gives). Either something happened in them, and the range sits where it "
            "should not, or several defects on a unit often have one cause, for which it is widened. Look at those "
            "weeks first.",
            index=scatter.index,
        )
        return (told,)
    told = say(
        "The weeks that the range rests on went up and down more than luck alone makes them (their variance is "
        "{index:.1f} times what chance gives). Either something happened in them, and the range sits where it should "
        "not, or several defects on a unit often have one cause, and it is too narrow. Look at those weeks first.",
        index=scatter.index,
    )
    return (told,)


def _elsewhere(counts: StationWeeks) -> tuple[str, ...]:
    number = sum(counts.elsewhere)
    if not number:
        return ()
    told = say_many(
        "{number} defect more is put down to {station}, on a unit whose build does not contain {station} (its line may "
        "have been corrected since): it stands in none of these counts.",
        "{number} defects more are put down to {station}, on units whose build does not contain {station} (their line "
        "may have been corrected since): they stand in none of these counts.",
        number, station=counts.station,
    )  # fmt: skip
    return (told,)


def _open_weeks(ask: Asking, station: str, basis: DayBasis, history: Period) -> frozenset[str]:
    """Return the weeks of the history that are not over, or whose units have not all come to daylight yet."""
    today, calendar = ask.today, ProductionCalendar(ask.plant)
    yesterday = today - timedelta(days=1)  # today's units are still being looked at
    dated = basis == "work" and ask.plant.stations[station].kind in LINE_KINDS
    seen = calendar.work_day(yesterday, station) if dated else yesterday
    own = station if dated else ""
    weeks = [week_of(history.first + timedelta(weeks=n), today) for n in range(history.weeks)]
    return frozenset(week.code for week in weeks if week.partial or seen < _last_working_day(calendar, week, own))


def _last_working_day(calendar: ProductionCalendar, week: Period, station: str) -> date:
    days = [week.last_day - timedelta(days=back) for back in range(7)]
    return next((day for day in days if calendar.is_working(day, station)), week.first)


def _dot(counts: StationWeeks, place: int, base: UsualBase | TooLittle, is_open: bool) -> WeekDot:
    confirmed, suspected, exposed = counts.confirmed[place], counts.suspected[place], counts.exposed[place]
    defects, expected = confirmed + suspected, usual_on(base, exposed)
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
        week=counts.weeks[place],
        confirmed=confirmed,
        suspected=suspected,
        defects=defects,
        defectives=counts.defectives[place],
        exposed=exposed,
        usual=expected,
        state=state,
    )


def _trend_sentence(dots: tuple[WeekDot, ...], basis: DayBasis, standing: bool) -> str:
    whole = [dot for dot in dots if dot.state != "partial"]
    when = say("by the day the work was done") if basis == "work" else say("by the day the unit was presented")
    if not whole:
        return say("No week is over whose units have all been looked at ({when}).", when=when)
    last = whole[-1]
    week, exposed = week_words(last.week), units(last.exposed)
    told = say("{defects} in {week} on {units}, {when}", defects=last.defects, week=week, units=exposed, when=when)
    if isinstance(last.usual, TooLittle):
        return say("{told}; what is usual cannot be said: {reason}.", told=told, reason=last.usual.reason)
    if last.state == "no units":
        return say("No unit in {week} ({when}).", week=week, when=when)
    usual = {"told": told, "low": last.usual.low, "high": last.usual.high, "weeks": last.usual.rests_on}
    if last.state == "more":
        return say("{told}; {low} to {high} is usual, by {weeks}: more than usual.", **usual)
    if last.state == "fewer":
        return say("{told}; {low} to {high} is usual, by {weeks}: fewer than usual.", **usual)
    inside = say("{told}; {low} to {high} is usual, by {weeks}.", **usual)
    still = say("One week inside the range does not end the signal.")
    return f"{inside} {still}" if standing and last.state == "usual" else inside
