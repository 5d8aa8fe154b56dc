"""The demerit chart: defects of several severities in one number, weighted by a scale that the plant names."""

from collections.abc import Mapping, Sequence
from math import inf, sqrt

from qc.stats.baselines import Baseline, Standard, WeightedBaseline
from qc.stats.chart_points import ControlChart, Limits, changed_since_frozen, chart_points, sigma_limits
from qc.stats.control_charts import baseline_cautions
from qc.stats.period_counts import check_rate_counts
from qc.stats.refusals import demand_as_many, demand_counts, demand_kind, demand_positive


def demerit_chart(
    counts_by_class: Mapping[str, Sequence[int]],
    exposure: Sequence[float],
    labels: Sequence[str],
    baseline: WeightedBaseline,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart:
    """Return the chart of weighted defects per unit, Σ w u, each period with limits for its own exposure.

    counts_by_class maps each severity class of the baseline to its defects by period; exposure in units.
    sigma_i = sqrt(Σ w² ubar / n_i), with the weights squared and not the rates. A point's events are the
    weighted sum. Gaps, partial_last, limits as in u_chart. Raises ValueError naming argument and value.
    Source: Montgomery, Introduction to Statistical Quality Control, ch. 7, section 7.3.3.
    """
    width = demand_positive(width, "width")
    demand_kind(baseline, WeightedBaseline, "baseline")
    demand_kind(counts_by_class, Mapping, "counts_by_class")
    if set(counts_by_class) != set(baseline.classes):
        raise ValueError(f"counts_by_class must have the classes {list(baseline.classes)}, got {list(counts_by_class)}")
    counted = {
        severity: demand_counts(counts, f"counts_by_class[{severity!r}]")
        for severity, counts in counts_by_class.items()
    }
    for severity, counts in counted.items():
        demand_as_many(f"counts_by_class[{severity!r}]", counts, "labels", labels)
        labels, _, exposure = check_rate_counts(labels, counts, exposure)
    columns = zip(*(counted[severity] for severity in baseline.classes), strict=True)
    weighted = [
        sum(weight * count for weight, count in zip(baseline.weights, column, strict=True)) for column in columns
    ]
    centre, scatter = baseline.centre, sqrt(baseline.variance)

    def judge(total: float, size: float) -> Limits:
        return sigma_limits(total / size, centre, scatter / sqrt(size), width, inf)

    points = chart_points(labels, weighted, exposure, baseline, partial_last, judge, centre)
    changed = _changed(counted, exposure, labels, baseline)
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


def _fullest(baseline: WeightedBaseline) -> Baseline | Standard:
    """Return the estimated part with most events: it says whether the baseline as a whole is too little."""
    parts = [part for part in baseline.parts if isinstance(part, Baseline)]
    return max(parts, key=lambda part: part.total_events) if parts else baseline.parts[0]


def _changed(
    counts_by_class: Mapping[str, Sequence[int]],
    exposure: Sequence[float],
    labels: Sequence[str],
    baseline: WeightedBaseline,
) -> tuple[str, ...]:
    changed = {
        label
        for severity, part in zip(baseline.classes, baseline.parts, strict=True)
        for label in changed_since_frozen(labels, counts_by_class[severity], exposure, part)
    }
    return tuple(label for label in labels if label in changed)
