"""The level: units with a defect a week on a p chart, defects per unit plain and adjusted for the model mix."""

from dataclasses import dataclass, replace

from qc.domain.counts import WeekCounts
from qc.reports.asking import COUNTED, LEVEL, Asking, judged_week, record_baseline
from qc.reports.periods import Period, week_name
from qc.reports.wording import percent
from qc.stats.adjustment import DirectRate, fay_feuer_rate
from qc.stats.answers import TooLittle
from qc.stats.baselines import share_baseline
from qc.stats.chart_points import ControlChart
from qc.stats.control_charts import p_chart
from qc.stats.dispersion import rate_dispersion, share_chart_choice
from qc.stats.mix_reading import MixReading, mix_reading
from qc.stats.overdispersed_charts import p_prime_chart
from qc.stats.stratified_ratio import mantel_haenszel_ratio, strata
from qc.store.counts import LINE

SCATTER_LEVEL = 0.99  # at which the baseline's scatter is called more than chance
RECENT_WEEKS = 8


@dataclass(frozen=True, slots=True)
class UnitsWithDefect:
    """Share of units with a defect by week: all models (model "") or one; chart or why there is none yet.

    what: the counted severities in words ("critical or major", "any defect"). sentence: the last whole week against
    its limits, the partial week told apart.
    """

    model: str
    model_name: str
    what: str
    counts: WeekCounts
    chart: ControlChart | TooLittle
    sentence: str


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


@dataclass(frozen=True, slots=True)
class DefectsPerUnitWeeks:
    """Plain and mix-adjusted defects per unit, week by week; criticals are in neither.

    standard: the mix used, units by model in the order of models; standard_name: where it comes from.
    disagree: the plain rate moved and the adjusted one did not, or the other way round (last whole week against
    the weeks before). sentence: says it.
    """

    models: tuple[str, ...]
    standard: tuple[int, ...]
    standard_name: str
    weeks: tuple[MixAdjustedWeek, ...]
    disagree: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Level:
    """The week's level. units_with_defect: all models first, then each model; a chart of any defect comes last."""

    units_with_defect: tuple[UnitsWithDefect, ...]
    defects_per_unit: DefectsPerUnitWeeks


def level(ask: Asking, week: Period, history: Period) -> Level:
    """Return the level of the week on the charts of the history."""
    baseline = record_baseline(ask, week)
    major = _charts(ask, week, history, baseline, ("critical", "major"), "a critical or major")
    anything = _chart(ask, "", week, history, baseline, (), "any defect")
    return Level((*major, anything), defects_per_unit_weeks(ask, week, history, baseline))


def _charts(
    ask: Asking, week: Period, history: Period, baseline: Period | TooLittle, severities: tuple[str, ...], what: str
) -> list[UnitsWithDefect]:
    whole = _chart(ask, "", week, history, baseline, severities, what)
    by_model = ask.counts.week_counts_by_model(ask.slice(history, severities), LINE, ask.now_ms)
    before = (
        {}
        if isinstance(baseline, TooLittle)
        else ask.counts.week_counts_by_model(ask.slice(baseline, severities), LINE, ask.now_ms)
    )
    models = [
        _with_chart(ask, model, week, baseline, counts, before.get(model), what) for model, counts in by_model.items()
    ]
    return [whole, *models]


def _chart(
    ask: Asking,
    model: str,
    week: Period,
    history: Period,
    baseline: Period | TooLittle,
    severities: tuple[str, ...],
    what: str,
) -> UnitsWithDefect:
    counts = ask.counts.week_counts(ask.slice(history, severities), LINE, ask.now_ms)
    before = (
        None
        if isinstance(baseline, TooLittle)
        else ask.counts.week_counts(ask.slice(baseline, severities), LINE, ask.now_ms)
    )
    return _with_chart(ask, model, week, baseline, counts, before, what)


def _with_chart(
    ask: Asking,
    model: str,
    week: Period,
    baseline: Period | TooLittle,
    counts: WeekCounts,
    before: WeekCounts | None,
    what: str,
) -> UnitsWithDefect:
    name = ask.plant.models[model].name if model else "All models"
    chart = _judged(baseline, counts, before)
    return UnitsWithDefect(model, name, what, counts, chart, _chart_sentence(chart, counts, judged_week(week).name))


def _judged(baseline: Period | TooLittle, counts: WeekCounts, before: WeekCounts | None) -> ControlChart | TooLittle:
    if isinstance(baseline, TooLittle) or before is None:
        return baseline if isinstance(baseline, TooLittle) else TooLittle("p chart", "no unit of it", 0, 1)
    frozen = share_baseline(baseline.name, baseline.end, before.weeks, before.defectives, before.inspected, {})
    if isinstance(frozen, TooLittle):
        return frozen
    choice = share_chart_choice(before.weeks, before.defectives, before.inspected, SCATTER_LEVEL)
    widened = not isinstance(choice, TooLittle) and choice.kind == "p′"
    draw = p_prime_chart if widened else p_chart
    chart = draw(counts.defectives, counts.inspected, counts.weeks, frozen, partial_last=counts.partial)
    if widened and isinstance(chart, ControlChart) and not isinstance(choice, TooLittle):
        told = choice.reason[0].upper() + choice.reason[1:]
        return replace(chart, cautions=(*chart.cautions, told))
    return chart


def _chart_sentence(chart: ControlChart | TooLittle, counts: WeekCounts, week: str) -> str:
    place = counts.weeks.index(week) if week in counts.weeks else -1
    if place < 0 or not counts.inspected[place]:
        return f"No unit was presented in {week}."
    told = f"{counts.defectives[place]} of {counts.inspected[place]} units in {week}"
    if isinstance(chart, TooLittle):
        return f"{told}; {chart.reason}."
    point = chart.points[place]
    if point.upper is None:
        return f"{told}."
    low, high = percent(point.lower_drawn), percent(point.upper)
    share = percent(counts.defectives[place] / counts.inspected[place])
    state = {"signal_high": "above", "signal_low": "below"}.get(point.state, "inside")
    return f"{told} ({share}), {state} the limits of {low} to {high}."


def defects_per_unit_weeks(
    ask: Asking, week: Period, history: Period, baseline: Period | TooLittle
) -> DefectsPerUnitWeeks:
    """Return plain and mix-adjusted defects per unit by week, majors and minors only.

    The standard mix is the baseline's, or while there is none, that of the whole weeks of the history.
    """
    by_model = ask.counts.week_counts_by_model(ask.slice(history, COUNTED), LINE, ask.now_ms)
    models = tuple(by_model)
    mix = history if isinstance(baseline, TooLittle) else baseline
    seen = ask.counts.seen_units(ask.slice(mix))
    standard = tuple(seen.get(model, 0) for model in models)
    names = next(iter(by_model.values())).weeks
    partial = next(iter(by_model.values())).partial
    weeks = tuple(
        _mix_adjusted(name, place, by_model, standard, partial and place == len(names) - 1)
        for place, name in enumerate(names)
    )
    reading = _mix_reading(ask, by_model, judged_week(week).name, baseline)
    return DefectsPerUnitWeeks(
        models,
        standard,
        mix.name,
        weeks,
        isinstance(reading, MixReading) and reading.disagree,
        reading.sentence if isinstance(reading, MixReading) else f"{reading.reason[0].upper()}{reading.reason[1:]}.",
    )


def _mix_adjusted(
    name: str, place: int, by_model: dict[str, WeekCounts], standard: tuple[int, ...], partial: bool
) -> MixAdjustedWeek:
    defects = tuple(counts.defects[place] for counts in by_model.values())
    units = tuple(counts.inspected[place] for counts in by_model.values())
    answer: DirectRate | TooLittle
    if not sum(standard):
        answer = TooLittle("mix-adjusted rate", "no unit has been presented yet", 0, 1)
    elif not sum(units):
        answer = TooLittle("defects per unit", "no unit was presented", 0, 1)
    else:
        answer = fay_feuer_rate(defects, units, standard, tuple(by_model), LEVEL)
    return MixAdjustedWeek(name, sum(units), sum(defects), partial, answer)


def _mix_reading(
    ask: Asking, by_model: dict[str, WeekCounts], week: str, baseline: Period | TooLittle
) -> MixReading | TooLittle:
    """Compare the 8 weeks up to the last whole one with the baseline; its scatter widens the interval."""
    if isinstance(baseline, TooLittle):
        return baseline
    before = ask.counts.week_counts_by_model(ask.slice(baseline, COUNTED), LINE, ask.now_ms)
    names = next(iter(by_model.values())).weeks
    recent = [place for place, name in enumerate(names) if week_after(baseline) <= name <= week][-RECENT_WEEKS:]
    if not recent:
        reason = "the week still belongs to the baseline's weeks, there is nothing to compare them with"
        return TooLittle("change against the baseline", reason, 0, 1)
    two = strata(
        [sum(counts.defects) for counts in before.values()],
        [sum(counts.inspected) for counts in before.values()],
        [sum(counts.defects[place] for place in recent) for counts in by_model.values()],
        [sum(counts.inspected[place] for place in recent) for counts in by_model.values()],
        tuple(by_model),
    )
    scatter = max(1.0, _dispersion(before))
    return mix_reading(two, lambda one: mantel_haenszel_ratio(one, LEVEL, scatter))


def _dispersion(before: dict[str, WeekCounts]) -> float:
    weeks = next(iter(before.values())).weeks
    defects = [sum(counts.defects[place] for counts in before.values()) for place in range(len(weeks))]
    units = [sum(counts.inspected[place] for counts in before.values()) for place in range(len(weeks))]
    test = rate_dispersion(weeks, defects, units)
    return 1.0 if isinstance(test, TooLittle) else test.index


def week_after(baseline: Period) -> str:
    """Return the first ISO week after a baseline."""
    return week_name(baseline.end)
