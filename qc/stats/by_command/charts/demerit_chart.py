"""The demerit chart: defects of several severities in one number, weighted by a scale that the plant names."""

from collections.abc import Mapping
from math import inf, sqrt

from qc.stats.charts.baselines import Baseline, Standard, WeightedBaseline
from qc.stats.charts.chart_points import ControlChart, Limits, changed_since_frozen, chart_points, sigma_limits
from qc.stats.charts.control_charts import baseline_cautions
from qc.stats.refusals import demand_kind, demand_positive
from qc.stats.series import Rates


def demerit_chart(
    rates_by_class: Mapping[str, Rates],
    baseline: WeightedBaseline,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart:
    """Return the chart of weighted defects per unit, Σ w u, each period with limits for its own units.

    rates_by_class maps each severity class of the baseline to its defects by period, on the same units in all.
    sigma_i = sqrt(Σ w² ubar / n_i), with the weights squared and not the rates. A point's events are the
    weighted sum. Gaps, partial_last, limits as in u_chart. Raises ValueError naming argument and value.
    Source: Montgomery, Introduction to Statistical Quality Control, ch. 7, section 7.3.3.
    """
    width = demand_positive(width, "width")
    demand_kind(baseline, WeightedBaseline, "baseline")
    demand_kind(rates_by_class, Mapping, "rates_by_class")
    if set(rates_by_class) != set(baseline.classes):
        raise ValueError(f"rates_by_class must have the classes {list(baseline.classes)}, got {list(rates_by_class)}")
    for severity, rates in rates_by_class.items():
        demand_kind(rates, Rates, f"rates_by_class[{severity!r}]")
    units, labels = _shared(rates_by_class)
    columns = zip(*(rates_by_class[severity].defects for severity in baseline.classes), strict=True)
    weighted = [
        sum(weight * count for weight, count in zip(baseline.weights, column, strict=True)) for column in columns
    ]
    centre, scatter = baseline.centre, sqrt(baseline.variance)

    def judge(total: float, size: float) -> Limits:
        return sigma_limits(total / size, centre, scatter / sqrt(size), width, inf)

    points = chart_points(weighted, units, labels, baseline, partial_last, judge, centre)
    changed = _changed(rates_by_class, baseline)
    named = ", ".join(f"{name} {weight:g}" for name, weight in zip(baseline.classes, baseline.weights, strict=True))
    return ControlChart(
        kind="demerit",
        method=f"demerits per unit ({named}), {width:g} standard deviations around the baseline",
        width=width,
        high_is="worse",
        baseline=baseline,
        points=points,
        cautions=baseline_cautions(_fullest(baseline), changed),
        changed_since_frozen=changed,
    )


def _shared(rates_by_class: Mapping[str, Rates]) -> tuple[tuple[float, ...], tuple[str, ...]]:
    """Return the units and labels that all classes share; ValueError where one class has others."""
    first, *others = rates_by_class.items()
    for severity, rates in others:
        if (rates.units, rates.labels) != (first[1].units, first[1].labels):
            raise ValueError(
                f"rates_by_class must have the same units and labels in every class, got others for {severity!r} than "
                f"for {first[0]!r}"
            )
    return first[1].units, first[1].labels


def _fullest(baseline: WeightedBaseline) -> Baseline | Standard:
    """Return the estimated part with most events: it says whether the baseline as a whole is too little."""
    parts = [part for part in baseline.parts if isinstance(part, Baseline)]
    return max(parts, key=lambda part: part.total_events) if parts else baseline.parts[0]


def _changed(
    rates_by_class: Mapping[str, Rates],
    baseline: WeightedBaseline,
) -> tuple[str, ...]:
    changed = {
        label
        for severity, part in zip(baseline.classes, baseline.parts, strict=True)
        for label in _changed_in(rates_by_class[severity], part)
    }
    return tuple(label for label in next(iter(rates_by_class.values())).labels if label in changed)


def _changed_in(rates: Rates, part: Baseline | Standard) -> tuple[str, ...]:
    return changed_since_frozen(rates.defects, rates.units, rates.labels, part)
