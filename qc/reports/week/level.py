"""The level: units with a defect a week on a p chart, and defects per unit beside it."""

from dataclasses import dataclass

from qc.domain.counted.counts import WeekCounts
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import marked, say
from qc.reports.asking import Asking, judged_week, record_baseline
from qc.reports.periods import Period
from qc.reports.week.chosen_chart import share_chart
from qc.reports.week.defects_per_unit import DefectsPerUnitWeeks, MixAdjustedWeek, defects_per_unit_weeks, summed
from qc.reports.week.level_runs import led_in, level_cautions, run_words, runs_shown
from qc.reports.week.limit_words import against_limits, none_presented
from qc.reports.wording import percent
from qc.stats.answers import TooLittle
from qc.stats.charts.chart_points import ControlChart
from qc.stats.charts.run_rules import Finding
from qc.store.counts import LINE

A_MAJOR, ANY = marked("a critical or major"), marked("any defect")

__all__ = ["DefectsPerUnitWeeks", "Level", "MixAdjustedWeek", "UnitsWithDefect", "level"]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitsWithDefect:
    """Share of units with a defect by week: all models (model "") or one; chart or why there is none yet.

    what: the counted severities, A_MAJOR or ANY. sentence: the last whole week against its limits, the partial week
    told apart. why: why the chart is of this kind, "" without one. runs: weeks that completed nine in a row on one
    side. cautions: what to know beside the chart's own.
    """

    model: str
    model_name: str
    what: str
    counts: WeekCounts
    chart: ControlChart | TooLittle
    sentence: str
    why: str = ""
    runs: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Level:
    """The week's level. units_with_defect: all models first, then each model; a chart of any defect comes last."""

    units_with_defect: tuple[UnitsWithDefect, ...]
    defects_per_unit: DefectsPerUnitWeeks


def level(ask: Asking, week: Period, history: Period) -> Level:
    """Return the level of the week on the charts of the history."""
    baseline = record_baseline(ask, week)
    major = _charts(ask, week, history, baseline)
    anything = _any_defect(ask, week, history, baseline)
    return Level((*major, anything), defects_per_unit_weeks(ask, week, history, baseline))


def _charts(ask: Asking, week: Period, history: Period, baseline: Period | TooLittle) -> list[UnitsWithDefect]:
    """Return the charts of units with a critical or major: all models, whose counts are the models' sums, and each."""
    by_model, led, before = (
        {}
        if isinstance(period, TooLittle)
        else ask.counts.week_counts_by_model(ask.slice(period, ("critical", "major")), LINE, ask.now_ms)
        for period in (history, led_in(ask, history), baseline)
    )
    what = A_MAJOR
    every = summed(by_model), summed(led)
    whole = _with_chart(ask, "", week, baseline, every, summed(before) if before else None, what)
    models = [
        _with_chart(ask, model, week, baseline, (counts, led[model]), before.get(model), what)
        for model, counts in by_model.items()
    ]
    return [whole, *models]


def _any_defect(ask: Asking, week: Period, history: Period, baseline: Period | TooLittle) -> UnitsWithDefect:
    counts, led = (
        ask.counts.week_counts(ask.slice(period), LINE, ask.now_ms) for period in (history, led_in(ask, history))
    )
    before = None if isinstance(baseline, TooLittle) else ask.counts.week_counts(ask.slice(baseline), LINE, ask.now_ms)
    return _with_chart(ask, "", week, baseline, (counts, led), before, ANY)


def _with_chart(
    ask: Asking,
    model: str,
    week: Period,
    baseline: Period | TooLittle,
    shown_and_led: tuple[WeekCounts, WeekCounts],
    before: WeekCounts | None,
    what: str,
) -> UnitsWithDefect:
    """Return one chart; shown_and_led: the counts of the weeks shown, and with those in which a run may have begun."""
    counts, led = shown_and_led
    name = ask.plant.models[model].name if model else say("All models")
    chosen, judged = share_chart(baseline, counts, before, ask.left_out), judged_week(week).code
    chart = chosen.chart
    of_led = chart if led.weeks == counts.weeks else share_chart(baseline, led, before, ask.left_out).chart
    runs = runs_shown(chart, of_led, ask.criteria)
    cautions = level_cautions(chart, ask.criteria, judged) if not isinstance(chart, TooLittle) else ()
    sentence = _chart_sentence(chart, counts, judged) + run_words(runs, judged)
    return UnitsWithDefect(
        model=model,
        model_name=name,
        what=what,
        counts=counts,
        chart=chart,
        sentence=sentence,
        why=chosen.why,
        runs=runs,
        cautions=cautions,
    )


def _chart_sentence(chart: ControlChart | TooLittle, counts: WeekCounts, week: str) -> str:
    place = counts.weeks.index(week) if week in counts.weeks else -1
    if place < 0 or not counts.inspected[place]:
        return none_presented(counts, week)
    found, seen = counts.defectives[place], counts.inspected[place]
    told = say("{found} of {units} units in {week}", found=found, units=seen, week=week_words(week))
    if isinstance(chart, TooLittle):
        return f"{told}; {chart.reason}."
    point = chart.points[place]
    if point.upper is None:
        return f"{told}."
    low, high = percent(point.lower_drawn), percent(point.upper)
    return f"{told} ({percent(found / seen)}), {against_limits(point.state, low, high)}."
