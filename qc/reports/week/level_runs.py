"""Nine weeks in a row on one side of the centre line: a shift too small for the limits, never across new criteria.

The rule takes each side for one half. Where few are expected most weeks lie on one side by chance alone (with one
defect in ten weeks nine of them have none), so a run is told only where its own weeks would hardly ever make one.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import say
from qc.reports.asking import Asking
from qc.reports.periods import WEEK, Period, monday_of, week_name
from qc.stats.answers import TooLittle
from qc.stats.charts.chart_points import ControlChart
from qc.stats.charts.one_side import chance_of_one_side
from qc.stats.charts.run_rules import NELSON_1984, NINE_ONE_SIDE, Finding, RuleSet, run_rules

# One rule beside the limits: each further one adds false alarms, and the signals watch each station and type anyway.
HARDLY = 0.01  # a run's chance, above which it is not told; 1 in 512 where a week is as likely above as below
RULES = RuleSet("nine on one side", NELSON_1984.source, (NINE_ONE_SIDE,))


def fresh_weeks(criteria: Sequence[date]) -> tuple[str, ...]:
    """Return the weeks at which a row of points begins anew because criteria changed on these days.

    A week in which they changed after its Monday holds both kinds of counts, so it stands alone.
    """
    weeks = []
    for day in sorted(criteria):
        monday = monday_of(day)
        weeks += [monday] if monday == day else [monday, monday + WEEK]
    return tuple(dict.fromkeys(week_name(monday) for monday in weeks))


def led_in(ask: Asking, history: Period) -> Period:
    """Return the weeks shown with those before them in which a row may have begun that ends in them."""
    first = ask.counts.first_week() or history.first
    begun = min(history.first, max(first, history.first - (NINE_ONE_SIDE.of - 1) * WEEK))
    return replace(history, first=begun)


def runs_shown(
    shown: ControlChart | TooLittle, led: ControlChart | TooLittle, criteria: Sequence[date]
) -> tuple[Finding, ...]:
    """Return the runs that a week shown completed; led: the chart of those weeks and of the weeks before them."""
    if isinstance(shown, TooLittle) or isinstance(led, TooLittle):
        return ()
    labels = {point.label for point in shown.points}
    return tuple(run for run in level_runs(led, criteria) if run.label in labels)


def level_runs(chart: ControlChart, criteria: Sequence[date]) -> tuple[Finding, ...]:
    """Return each week that completed nine in a row on one side which chance hardly makes.

    A week without units parts a row.
    """
    labels = [point.label for point in chart.points]
    fresh = [week for week in fresh_weeks(criteria) if week in labels]
    found = run_rules(chart.standardised, labels, RULES, across_gaps=False, fresh_from=fresh).findings
    return tuple(
        run
        for run in found
        if chance_of_one_side(chart, run.pattern, "high" if run.side == "high" else "low") <= HARDLY
    )


def run_words(runs: Sequence[Finding], week: str) -> str:
    """Return the run that the week completed as a sentence, "" where it completed none."""
    for run in runs:
        if run.label == week:
            ends = {"first": week_words(run.pattern[0]), "last": week_words(week)}
            told = (
                say("Nine weeks in a row above the centre line, {first} to {last}.", **ends)
                if run.side == "high"
                else say("Nine weeks in a row below the centre line, {first} to {last}.", **ends)
            )
            return f" {told}"
    return ""


def level_cautions(chart: ControlChart, criteria: Sequence[date], week: str) -> tuple[str, ...]:
    """Return what a reader must know of the weeks shown beside the chart's own cautions; week: the one judged."""
    return (*_own_week_words(chart, week), *criteria_words(chart, criteria))


def _own_week_words(chart: ControlChart, week: str) -> tuple[str, ...]:
    own = any(point.label == week and point.in_baseline for point in chart.points)
    if not own:
        return ()
    told = say("{week} is one of the baseline's own weeks, so its limits judge it too kindly.", week=week_words(week))
    return (told,)


def criteria_words(chart: ControlChart, criteria: Sequence[date]) -> tuple[str, ...]:
    """Return what a reader must know where criteria changed within the weeks shown, () where they did not."""
    changed = sorted({week_name(day) for day in criteria} & {point.label for point in chart.points})
    if not changed:
        return ()
    told = say(
        "Criteria changed in {weeks}: no run is counted across that, and a step there may be theirs, not the plant's.",
        weeks=", ".join(map(week_words, changed)),
    )
    return (told,)
