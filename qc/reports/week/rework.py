"""Rework minutes a unit: what the week's majors and minors usually take to put right, by week, with their counts."""

from dataclasses import dataclass

from qc.domain.counts import PRESENTED
from qc.reports.asking import Asking
from qc.reports.periods import ONE_WEEK, WEEK, Period
from qc.reports.wording import counted, severities_words

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


DENOMINATOR = (
    "Minutes that each type usually takes (the plant's own table, not clocked), summed over {} found at "
    f"first presentation; {PRESENTED}."
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
        DENOMINATOR.format(severities_words(ask.counted)),
        _sentence(weeks, minutes, before.inspected, window),
    )


def _week(ask: Asking, one: Period, asked: Period) -> ReworkWeek:
    counts = ask.counts.category_counts(ask.slice(one, ask.counted), "type")
    return ReworkWeek(one.code, sum(counts.minutes), counts.inspected, asked.partial and one.first == asked.first)


def _sentence(weeks: tuple[ReworkWeek, ...], minutes: int, units: int, window: Period) -> str:
    own = weeks[-1]
    if own.a_unit is None:
        return f"No unit was presented in {own.week}."
    so_far = " so far" if own.partial else ""
    told = (
        f"{own.a_unit:.0f} usual minutes a unit in {own.week}{so_far} ({own.minutes} on {counted(own.units, 'unit')})"
    )
    if not units:
        return f"{told}; no unit was presented in the weeks before."
    each = [one.a_unit for one in weeks[:-1][-window.weeks :] if one.a_unit is not None]
    ranged = f", week by week {min(each):.0f} to {max(each):.0f}" if len(each) > 1 else ""
    return f"{told}; {minutes / units:.0f} in the {window.name} ({minutes} on {units}){ranged}."
