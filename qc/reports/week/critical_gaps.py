"""Units between one critical and the next: short gaps are the bad news, so the limits look for those too."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from qc.domain.counted.counts import Critical, Slice
from qc.domain.words.said_weeks import day_figures
from qc.domain.words.speaking import marked, say
from qc.reports.asking import BASELINE_WEEKS, Asking
from qc.reports.how_many import units
from qc.reports.periods import WEEK, Period
from qc.stats.answers import TooLittle
from qc.stats.charts.baselines import gap_baseline
from qc.stats.charts.chart_points import ChartPoint, ControlChart
from qc.stats.charts.rare_events import predictive_g_chart

LEAST_GAPS = 8  # a first guess, said to be one (common practice, no source)
BASELINE_GAPS = 20  # 20 to 25 are usual (Montgomery, ch. 7)
# A tail of three standard deviations would show no gap as too short unless criticals were rarer than one in 740
# units. Each critical is looked at by itself anyway, so one gap in forty may be called short by chance.
TAIL = 0.025
OPEN = marked("so far")


@dataclass(frozen=True, slots=True)
class CriticalGaps:
    """The gaps that ended in the weeks shown, in the order found, and the open one since the last critical.

    chart: labels are the days found ("2026-07-06", "2026-07-06 (2)" for the second of a day), OPEN for the open gap.
    ended_by: for each point the unit and type of the critical that ended its gap, "" for the open one.
    sentence: in words.
    """

    chart: ControlChart
    ended_by: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class _Gap:
    label: str
    units: int
    day: date
    ended_by: str


def critical_gaps(
    ask: Asking, week: Period, history: Period, rows: Sequence[Critical], since: int | None
) -> CriticalGaps | TooLittle:
    """Return the units between criticals against the first gaps of the record, or how many that needs.

    rows: the criticals of the history, in the order found; since: units presented since the last of them.
    """
    before = _gaps(_first_criticals(ask, week, history, rows))[:BASELINE_GAPS]
    if len(before) < LEAST_GAPS:
        reason = say(
            "a usual range of the units between criticals needs {need} gaps before this week, the record has {have}",
            need=LEAST_GAPS,
            have=len(before),
        )
        return TooLittle("units between criticals", reason, len(before), LEAST_GAPS)
    last = day_figures(before[-1].day)
    name = say("first {number} gaps of the record, up to {day}", number=len(before), day=last)
    frozen_on = before[-1].day + timedelta(days=1)
    frozen = gap_baseline(name, frozen_on, [one.units for one in before], [one.label for one in before], {})
    if isinstance(frozen, TooLittle) or frozen.centre <= 0:
        return TooLittle("units between criticals", say("the criticals follow each other at once"), 0, 1)
    shown = _gaps(rows)
    labels, sizes = [one.label for one in shown], [one.units for one in shown]
    if since is not None:
        labels, sizes = [*labels, say(OPEN)], [*sizes, since]
    chart = predictive_g_chart(sizes, labels, frozen, "good units between", TAIL, partial_last=since is not None)
    ended_by = (*(one.ended_by for one in shown), *([""] if since is not None else []))
    return CriticalGaps(chart, ended_by, _sentence(chart, since))


def _first_criticals(ask: Asking, week: Period, history: Period, rows: Sequence[Critical]) -> Sequence[Critical]:
    """Return criticals from the record's beginning on, as many weeks as it takes, none of the week itself."""
    first, weeks = ask.counts.first_week(), BASELINE_WEEKS
    if first is None or history.first <= first:
        return [row for row in rows if row.found_day < week.first]
    while True:
        end = min(first + weeks * WEEK, week.first)
        early = ask.counts.criticals(Slice(first, end, ask.models, ask.shifts, builds=ask.builds))
        if len(early) > BASELINE_GAPS or end == week.first:
            return early
        weeks *= 2


def _gaps(rows: Sequence[Critical]) -> list[_Gap]:
    """Return the gap that each critical ended; the first on record ended none."""
    seen: dict[date, int] = {}
    gaps = []
    for row in rows:
        seen[row.found_day] = nth = seen.get(row.found_day, 0) + 1
        label = row.found_day.isoformat() + (f" ({nth})" if nth > 1 else "")
        if row.units_since_last is not None:
            ended_by = f"{row.shop_number} {row.type}"
            gaps.append(_Gap(label, row.units_since_last, row.found_day, ended_by))
    return gaps


def _sentence(chart: ControlChart, since: int | None) -> str:
    ended = [point for point in chart.points if point.state != "partial"]
    told = (
        say("The last gap was {units}: {reading}.", units=units(int(ended[-1].events)), reading=_reading(ended[-1]))
        if ended
        else ""
    )
    now = say("{number} since the last one, still open.", number=since) if since is not None else ""
    return " ".join(part for part in (told, _usual(chart), now) if part)


def _reading(point: ChartPoint) -> str:
    if point.state == "signal_low":
        return say("shorter than usual, criticals come closer together")
    return say("longer than usual") if point.state == "signal_high" else say("usual")


def _usual(chart: ControlChart) -> str:
    if not chart.points:
        return say("No gap ended in the weeks shown.")
    low, high = chart.points[0].lower, chart.points[0].upper
    half = f"{chart.median or 0:.0f}"
    if low is None:
        return say(
            "By chance alone 95 of 100 gaps are of at most {high} units, half of them of at most {half}; even two in a "
            "row would not stand out.",
            high=f"{high:.0f}",
            half=half,
        )
    return say(
        "By chance alone 95 of 100 gaps are of {low:.0f} to {high:.0f} units, half of them of at most {half}.",
        low=low,
        high=high,
        half=half,
    )
