"""Control limits from the binomial and the Poisson distribution themselves, for counts too small for sigma.

A count signals above upper or below lower; each side's false alarm is at most the tail that was asked for.
scipy.special has the tails and a first guess of the quantile; the limit is then checked on the tails.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil, sqrt

from qc.stats.baselines import Baseline, Standard
from qc.stats.chart_points import ControlChart, Limits, changed_since_frozen, chart_points
from qc.stats.control_charts import baseline_cautions, check_baseline
from qc.stats.period_counts import check_rate_counts, check_share_counts
from qc.stats.refusals import demand_count, demand_number

# The tail of a normal value beyond three standard deviations, as the tables print it.
THREE_SIGMA_TAIL = 0.00135


@dataclass(frozen=True, slots=True)
class CountLimits:
    """Limits on a count: a signal is a count above upper, or below lower.

    lower 0 means that there is no lower limit: no count is below it. p_high, p_low: the probabilities of a
    signal on each side while nothing has changed; tail: what each was allowed to be.
    """

    lower: int
    upper: int
    p_high: float
    p_low: float
    tail: float

    @property
    def has_lower(self) -> bool:
        """Return whether any count can signal on the low side."""
        return self.lower > 0


def binomial_limits(inspected: int, share: float, tail: float) -> CountLimits:
    """Return the limits on the number of defective units of so many inspected, at this share.

    upper is the least U with P(X > U) <= tail, lower the greatest L with P(X < L) <= tail.
    inspected at least 1; share in [0, 1]; tail in (0, 0.5). Raises ValueError. Source: direct definition.
    """
    demand_count(inspected, "inspected", 1)
    if not 0 <= share <= 1:
        raise ValueError(f"share must be between 0 and 1, got {share!r}")
    _check_tail(tail)
    if share in (0, 1):
        only = inspected if share else 0
        return CountLimits(only, only, 0.0, 0.0, tail)
    from scipy.special import bdtr, bdtrc, bdtrik

    return _count_limits(
        tail,
        inspected,
        float(bdtrik(1 - tail, inspected, share)),
        float(bdtrik(tail, inspected, share)),
        lambda count: float(bdtrc(count, inspected, share)),
        lambda count: float(bdtr(count, inspected, share)),
    )


def poisson_limits(mean: float, tail: float) -> CountLimits:
    """Return the limits on a number of defects at this mean, at least 0; tails as in binomial_limits."""
    if demand_number(mean, "mean") < 0:
        raise ValueError(f"mean must be at least 0, got {mean!r}")
    _check_tail(tail)
    if mean == 0:
        return CountLimits(0, 0, 0.0, 0.0, tail)
    from scipy.special import pdtr, pdtrc, pdtrik

    return _count_limits(
        tail,
        None,
        float(pdtrik(1 - tail, mean)),
        float(pdtrik(tail, mean)),
        lambda count: float(pdtrc(count, mean)),
        lambda count: float(pdtr(count, mean)),
    )


def _check_tail(tail: float) -> None:
    if not 0 < tail < 0.5:
        raise ValueError(f"tail must be a probability between 0 and 0.5, say {THREE_SIGMA_TAIL}, got {tail!r}")


def _count_limits(
    tail: float,
    most: int | None,
    upper_guess: float,
    lower_guess: float,
    above: Callable[[int], float],
    up_to: Callable[[int], float],
) -> CountLimits:
    upper = _guess(upper_guess)
    while above(upper) > tail:
        upper += 1
    while upper > 0 and above(upper - 1) <= tail:
        upper -= 1
    lower = _guess(lower_guess)
    while lower > 0 and up_to(lower - 1) > tail:
        lower -= 1
    while (most is None or lower < most) and up_to(lower) <= tail:
        lower += 1
    return CountLimits(lower, upper, above(upper), up_to(lower - 1) if lower else 0.0, tail)


def _guess(quantile: float) -> int:
    # bdtrik answers nan or below 0 where the quantile is under the first count.
    return max(0, ceil(quantile)) if quantile == quantile else 0


def exact_p_chart(
    defectives: Sequence[int],
    inspected: Sequence[int],
    labels: Sequence[str],
    baseline: Baseline | Standard,
    tail: float,
    *,
    partial_last: bool = False,
) -> ControlChart:
    """Return the chart of the share of defective units with binomial limits, tail each side (0.00135).

    A limit of U units is drawn at U / inspected; z is the plain standardised value, on which zone rules are
    rough for small counts. Arguments, gaps and errors as in p_chart.
    """
    check_share_counts(labels, defectives, inspected)
    check_baseline(baseline, "share")
    _check_tail(tail)
    centre = baseline.centre
    scatter = sqrt(centre * (1 - centre))
    limits_for = cache(lambda size: binomial_limits(int(size), centre, tail))
    return _exact_chart("p", defectives, inspected, labels, baseline, partial_last, scatter, tail, limits_for)


def exact_u_chart(
    defects: Sequence[int],
    exposure: Sequence[float],
    labels: Sequence[str],
    baseline: Baseline | Standard,
    tail: float,
    *,
    partial_last: bool = False,
) -> ControlChart:
    """Return the chart of defects per unit with Poisson limits, tail each side; otherwise as exact_p_chart."""
    check_rate_counts(labels, defects, exposure)
    check_baseline(baseline, "rate")
    _check_tail(tail)
    centre = baseline.centre
    limits_for = cache(lambda size: poisson_limits(size * centre, tail))
    return _exact_chart("u", defects, exposure, labels, baseline, partial_last, sqrt(centre), tail, limits_for)


def _exact_chart(
    kind: str,
    events: Sequence[int],
    sizes: Sequence[float],
    labels: Sequence[str],
    baseline: Baseline | Standard,
    partial_last: bool,
    scatter: float,
    tail: float,
    limits_for: Callable[[float], CountLimits],
) -> ControlChart:
    centre = baseline.centre

    def judge(count: float, size: float) -> Limits:
        own = limits_for(size)
        lower = own.lower / size if own.has_lower else None
        return Limits(count / size, centre, scatter / sqrt(size), lower, own.upper / size)

    points = chart_points(labels, events, sizes, baseline, partial_last, judge, centre)
    changed = changed_since_frozen(labels, events, sizes, baseline)
    law = "binomial" if kind == "p" else "Poisson"
    return ControlChart(
        kind,
        f"exact {law} limits around the pooled baseline, a false alarm on each side at most {tail:g}",
        0.0,
        "worse",
        baseline,
        points,
        baseline_cautions(baseline, changed),
        changed,
    )
