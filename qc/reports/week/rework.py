"""Rework minutes a unit: what the week's majors and minors usually take to put right, by week, with their counts."""

from dataclasses import dataclass

from qc.domain.counted.counts import PRESENTED
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import marked, say
from qc.reports.asking import Asking
from qc.reports.how_many import units
from qc.reports.periods import ONE_WEEK, WEEK, Period
from qc.reports.wording import severities_words

MOST_WEEKS = 13  # of the trend: each week is asked for by itself


@dataclass(frozen=True, slots=True)
class ReworkWeek:
    """One ISO week: usual minutes of the defects found at first presentation, and the units presented."""

    week: str
    minutes: int
    units: int
    partial: bool

    @property
    def a_unit(self) -> float | None:
        """Return the minutes a unit, None where no unit was presented."""
        return self.minutes / self.units if self.units else None


@dataclass(frozen=True, slots=True)
class ReworkMinutes:
    """The weeks in time order, the week asked for last; minutes are those usual for each type, never clocked ones.

    window_minutes, window_units: of the weeks before it; denominator, sentence: in words.
    """

    weeks: tuple[ReworkWeek, ...]
    window_minutes: int
    window_units: int
    denominator: str
    sentence: str


DENOMINATOR = marked(
    "Minutes that each type usually takes (the plant's own table, not clocked), summed over {severities} found at "
    "first presentation; {presented}."
)


def rework_minutes(ask: Asking, week: Period, window: Period, history: Period) -> ReworkMinutes:
    """Return rework minutes a unit of the week, of the window before it, and by week over the history."""
    mondays = [history.first + n * WEEK for n in range(history.weeks)][-MOST_WEEKS:]
    weeks = tuple(_week(ask, Period(day, day + WEEK, ONE_WEEK, False), week) for day in mondays)
    before = ask.counts.category_counts(ask.slice(window, ask.counted), "type")
    minutes = sum(before.minutes)
    return ReworkMinutes(
        weeks,
        minutes,
        before.inspected,
        say(DENOMINATOR, severities=severities_words(ask.counted), presented=say(PRESENTED)),
        _sentence(weeks, minutes, before.inspected, window),
    )


def _week(ask: Asking, one: Period, asked: Period) -> ReworkWeek:
    counts = ask.counts.category_counts(ask.slice(one, ask.counted), "type")
    return ReworkWeek(one.code, sum(counts.minutes), counts.inspected, asked.partial and one.first == asked.first)


def _sentence(weeks: tuple[ReworkWeek, ...], minutes: int, seen: int, window: Period) -> str:
    own = weeks[-1]
    if own.a_unit is None:
        return say("No unit was presented in {week}.", week=week_words(own.week))
    values = {"each": own.a_unit, "week": week_words(own.week), "minutes": own.minutes, "units": units(own.units)}
    told = (
        say("{each:.0f} usual minutes a unit in {week} so far ({minutes} on {units})", **values)
        if own.partial
        else say("{each:.0f} usual minutes a unit in {week} ({minutes} on {units})", **values)
    )
    if not seen:
        return "; ".join((told, say("no unit was presented in the weeks before.")))
    each = [one.a_unit for one in weeks[:-1][-window.weeks :] if one.a_unit is not None]
    before = {"each": minutes / seen, "period": window.name, "minutes": minutes, "units": seen}
    if len(each) < 2:
        return "; ".join((told, say("{each:.0f} in the {period} ({minutes} on {units}).", **before)))
    ranged = say(
        "{each:.0f} in the {period} ({minutes} on {units}), week by week {low:.0f} to {high:.0f}.",
        low=min(each),
        high=max(each),
        **before,
    )
    return f"{told}; {ranged}"
