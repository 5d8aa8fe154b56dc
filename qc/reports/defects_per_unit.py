"""Defects per unit by week, plain and as they would be in one model mix; criticals are in neither."""

from dataclasses import dataclass

from qc.domain.counts import WeekCounts
from qc.reports.asking import COUNTED, LEVEL, Asking, judged_week
from qc.reports.periods import Period, week_name
from qc.stats.adjustment import DirectRate, fay_feuer_rate
from qc.stats.answers import TooLittle
from qc.stats.mix_exposure import DispersionWithin, dispersion_within
from qc.stats.mix_reading import MixReading, mix_reading
from qc.stats.stratified_ratio import mantel_haenszel_ratio, strata
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
    scatter = scatter_within_models(before)
    if isinstance(scatter, TooLittle):
        return scatter
    return mix_reading(two, lambda one: mantel_haenszel_ratio(one, LEVEL, scatter.factor, scatter.degrees))


def scatter_within_models(before: dict[str, WeekCounts]) -> DispersionWithin | TooLittle:
    """Return how much the baseline's weeks scatter round each model's own rate: a change of mix is no scatter."""
    weeks = next(iter(before.values())).weeks
    defects = [[counts.defects[place] for counts in before.values()] for place in range(len(weeks))]
    units = [[counts.inspected[place] for counts in before.values()] for place in range(len(weeks))]
    return dispersion_within(defects, units, weeks, tuple(before))


def week_after(baseline: Period) -> str:
    """Return the first ISO week after a baseline."""
    return week_name(baseline.end)
