"""Defects per unit by week, plain on their control chart and as in one model mix; criticals are in neither."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from qc.domain.counted.counts import WeekCounts
from qc.domain.plant.calendar import week_start
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import figure, marked, say, say_many
from qc.reports.asking import LEVEL, Asking, judged_week
from qc.reports.how_many import units
from qc.reports.periods import ONE_WEEK, WEEK, Period, week_name
from qc.reports.week.chosen_chart import rate_chart
from qc.reports.week.level_runs import led_in, level_cautions, run_words, runs_shown
from qc.reports.week.limit_words import against_limits, none_presented
from qc.reports.wording import percent, severities_words
from qc.stats.answers import TooLittle
from qc.stats.change.adjustment import DirectRate, fay_feuer_rate
from qc.stats.change.mix_exposure import DispersionWithin, dispersion_within
from qc.stats.change.mix_reading import Claim, MixReading, mix_reading
from qc.stats.change.stratified_ratio import RateRatio, mantel_haenszel_ratio, strata
from qc.stats.charts.chart_points import ControlChart
from qc.stats.charts.run_rules import Finding
from qc.stats.series import rates_of
from qc.store.counts import LINE

RECENT_WEEKS = 8


@dataclass(frozen=True, slots=True)
class MixAdjustedWeek:
    """Defects per unit of one week, plain and as it would be in the baseline's model mix.

    answer: both rates with their intervals, or TooLittle. defects, units: of the week; partial: not over yet.
    """

    week: str
    units: int
    defects: int
    partial: bool
    answer: DirectRate | TooLittle


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectsPerUnitWeeks:
    """Plain and mix-adjusted defects per unit, week by week; criticals are in neither.

    standard: the mix used, units by model in the order of models; standard_name: where it comes from.
    disagree: the plain rate moved and the adjusted one did not, or the other way round (the last 8 whole weeks
    against the baseline). sentence: says it. chart: the plain rate against its limits; why: why they are of this
    kind, "" without any; level_sentence: the last whole week against them. severities: what is counted, in words.
    runs, cautions: as of UnitsWithDefect.
    """

    models: tuple[str, ...]
    standard: tuple[int, ...]
    standard_name: str
    weeks: tuple[MixAdjustedWeek, ...]
    disagree: bool
    sentence: str
    chart: ControlChart | TooLittle
    why: str
    level_sentence: str
    severities: str = "majors and minors"
    runs: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()


def defects_per_unit_weeks(
    ask: Asking, week: Period, history: Period, baseline: Period | TooLittle
) -> DefectsPerUnitWeeks:
    """Return plain and mix-adjusted defects per unit by week, criticals never among them.

    The standard mix is the baseline's, or while there is none, that of the whole weeks of the history.
    """
    by_model = ask.counts.week_counts_by_model(ask.slice(history, ask.counted), LINE, ask.now_ms)
    before = (
        {}
        if isinstance(baseline, TooLittle)
        else ask.counts.week_counts_by_model(ask.slice(baseline, ask.counted), LINE, ask.now_ms)
    )
    models = tuple(by_model)
    mix = history if isinstance(baseline, TooLittle) else baseline
    standard = _standard(ask, mix, models)
    whole = summed(by_model)
    quiet = without_weeks(before, ask.left_out)
    scatter = scatter_within_models(quiet or _whole_weeks(by_model))
    weeks = tuple(
        _mix_adjusted(name, place, by_model, standard, scatter, whole.partial and place == len(whole.weeks) - 1)
        for place, name in enumerate(whole.weeks)
    )
    judged = judged_week(week).code
    reading = _mix_reading(by_model, quiet, judged, baseline)
    chosen = rate_chart(baseline, whole, summed(before) if before else None, ask.left_out)
    chart = chosen.chart
    runs = runs_shown(chart, _led_chart(ask, history, baseline, chart, before), ask.criteria)
    return DefectsPerUnitWeeks(
        models=models,
        standard=standard,
        standard_name=mix.name,
        weeks=weeks,
        disagree=isinstance(reading, MixReading) and reading.disagree,
        sentence=_reading_sentence(reading),
        chart=chart,
        why=chosen.why,
        level_sentence=_level_sentence(chart, whole, judged) + run_words(runs, judged),
        severities=severities_words(ask.counted),
        runs=runs,
        cautions=level_cautions(chart, ask.criteria, judged) if not isinstance(chart, TooLittle) else (),
    )


def _led_chart(
    ask: Asking,
    history: Period,
    baseline: Period | TooLittle,
    shown: ControlChart | TooLittle,
    before: Mapping[str, WeekCounts],
) -> ControlChart | TooLittle:
    """Return the chart of the weeks shown with those in which a run may have begun."""
    period = led_in(ask, history)
    if period == history:
        return shown
    led = summed(ask.counts.week_counts_by_model(ask.slice(period, ask.counted), LINE, ask.now_ms))
    return rate_chart(baseline, led, summed(before) if before else None, ask.left_out).chart


def _standard(ask: Asking, mix: Period, models: tuple[str, ...]) -> tuple[int, ...]:
    """Return the units of each model in the mix's weeks, those left out of the baseline not among them."""
    seen = Counter(ask.counts.seen_units(ask.slice(mix)))
    for week in ask.left_out:
        monday = week_start(week)
        seen.subtract(ask.counts.seen_units(ask.slice(Period(monday, monday + WEEK, ONE_WEEK, False))))
    return tuple(seen.get(model, 0) for model in models)


def without_weeks(by_model: Mapping[str, WeekCounts], left_out: Collection[str]) -> dict[str, WeekCounts]:
    """Return the counts of each model without some weeks."""
    return {model: _without(counts, left_out) for model, counts in by_model.items()} if left_out else dict(by_model)


def _whole_weeks(by_model: Mapping[str, WeekCounts]) -> dict[str, WeekCounts]:
    """Return the counts of each model without the week that is not over."""
    any_model = next(iter(by_model.values()))
    return without_weeks(by_model, any_model.weeks[-1:] if any_model.partial else ())


def _without(counts: WeekCounts, left_out: Collection[str]) -> WeekCounts:
    kept = [place for place, week in enumerate(counts.weeks) if week not in left_out]

    def of(row: Sequence[int]) -> tuple[int, ...]:
        return tuple(row[place] for place in kept)

    weeks = tuple(counts.weeks[place] for place in kept)
    inspected, defectives, defects = of(counts.inspected), of(counts.defectives), of(counts.defects)
    return replace(counts, weeks=weeks, inspected=inspected, defectives=defectives, defects=defects)


def summed(by_model: Mapping[str, WeekCounts]) -> WeekCounts:
    """Return the weeks of several models as one row; at least one model."""
    parts = list(by_model.values())
    return replace(
        parts[0],
        inspected=tuple(map(sum, zip(*(part.inspected for part in parts), strict=True))),
        defectives=tuple(map(sum, zip(*(part.defectives for part in parts), strict=True))),
        defects=tuple(map(sum, zip(*(part.defects for part in parts), strict=True))),
    )


def _level_sentence(chart: ControlChart | TooLittle, counts: WeekCounts, week: str) -> str:
    place = counts.weeks.index(week) if week in counts.weeks else -1
    if place < 0 or not counts.inspected[place]:
        return none_presented(counts, week)
    rate = counts.defects[place] / counts.inspected[place]
    found, seen = counts.defects[place], counts.inspected[place]
    told = say(
        "{defects} on {units} in {week} ({rate:.2f} a unit)",
        defects=say_many("{number} defect", "{number} defects", found),
        units=units(seen),
        week=week_words(week),
        rate=rate,
    )
    if isinstance(chart, TooLittle):
        return f"{told}; {chart.reason}."
    point = chart.points[place]
    low, high = figure(point.lower_drawn, ".2f"), figure(point.upper or 0.0, ".2f")
    return f"{told}, {against_limits(point.state, low, high)}."


def _reading_sentence(reading: MixReading | TooLittle) -> str:
    if isinstance(reading, TooLittle):
        return f"{reading.reason[0].upper()}{reading.reason[1:]}."
    told = say(
        "The weeks since against the baseline: plain {plain}, with the same models in both {adjusted}.",
        plain=_change(reading.plain),
        adjusted=_change(reading.adjusted),
    )
    plain, adjusted = say(_CLAIMS[reading.plain_claim]), say(_CLAIMS[reading.adjusted_claim])
    if not reading.disagree:
        return " ".join((told, say("Both say: {claim}.", claim=plain)))
    return " ".join((told, say("They disagree ({one} against {other}): read the second.", one=plain, other=adjusted)))


_CLAIMS: dict[Claim, str] = {
    "fewer": marked("fewer"),
    "more": marked("more"),
    "no difference shown": marked("no difference shown"),
}


def _change(ratio: RateRatio) -> str:
    """Return a ratio of rates as a change in per cent, with its interval."""
    if not 0 < ratio.ratio < inf or ratio.high == inf:
        return say("no estimate (nothing was found in one of the two)")
    ends = {"low": _moved(ratio.low), "high": _moved(ratio.high)}
    return say("{change} ({low} to {high})", change=_moved(ratio.ratio), **ends)


def _moved(ratio: float) -> str:
    if abs(ratio - 1) < 0.005:
        return say("no change")
    share = percent(abs(ratio - 1))
    return say("{share} fewer", share=share) if ratio < 1 else say("{share} more", share=share)


def _mix_adjusted(
    name: str, place: int, by_model: Mapping[str, WeekCounts], standard: tuple[int, ...],
    scatter: DispersionWithin | TooLittle, partial: bool,
) -> MixAdjustedWeek:  # fmt: skip
    """Return one week. scatter: of the weeks before, which widens the interval; unknown in a record's first week."""
    defects = tuple(counts.defects[place] for counts in by_model.values())
    units = tuple(counts.inspected[place] for counts in by_model.values())
    answer: DirectRate | TooLittle
    if not sum(standard):
        answer = TooLittle("mix-adjusted rate", say("no unit has been presented yet"), 0, 1)
    elif not sum(units):
        answer = TooLittle("defects per unit", say("no unit was presented"), 0, 1)
    else:
        known = (1.0, inf) if isinstance(scatter, TooLittle) else (scatter.factor, float(scatter.degrees))
        answer = fay_feuer_rate(rates_of(defects, units, tuple(by_model)), standard, LEVEL, *known)
    return MixAdjustedWeek(name, sum(units), sum(defects), partial, answer)


def _mix_reading(
    by_model: Mapping[str, WeekCounts], before: Mapping[str, WeekCounts], week: str, baseline: Period | TooLittle
) -> MixReading | TooLittle:
    """Compare the 8 weeks up to the last whole one with the baseline; its scatter widens the interval."""
    if isinstance(baseline, TooLittle):
        return baseline
    names = next(iter(by_model.values())).weeks
    recent = [place for place, name in enumerate(names) if week_after(baseline) <= name <= week][-RECENT_WEEKS:]
    if not recent:
        reason = say("the week still belongs to the baseline's weeks, there is nothing to compare them with")
        return TooLittle("change against the baseline", reason, 0, 1)
    two = strata(
        rates_of(
            [sum(counts.defects) for counts in before.values()],
            [sum(counts.inspected) for counts in before.values()],
            tuple(by_model),
        ),
        rates_of(
            [sum(counts.defects[place] for place in recent) for counts in by_model.values()],
            [sum(counts.inspected[place] for place in recent) for counts in by_model.values()],
            tuple(by_model),
        ),
    )
    scatter = scatter_within_models(before)
    if isinstance(scatter, TooLittle):
        return scatter
    return mix_reading(two, lambda one: mantel_haenszel_ratio(one, LEVEL, scatter.factor, scatter.degrees))


def scatter_within_models(before: Mapping[str, WeekCounts]) -> DispersionWithin | TooLittle:
    """Return how much the baseline's weeks scatter round each model's own rate: a change of mix is no scatter."""
    weeks = next(iter(before.values())).weeks
    if not weeks:  # a record whose first week still runs
        return TooLittle("scatter between weeks", say("no week is over yet"), 0, 2)
    defects = [[counts.defects[place] for counts in before.values()] for place in range(len(weeks))]
    units = [[counts.inspected[place] for counts in before.values()] for place in range(len(weeks))]
    return dispersion_within(defects, units, weeks, tuple(before))


def week_after(baseline: Period) -> str:
    """Return the first ISO week after a baseline."""
    return week_name(baseline.end)
