"""p and u charts whose limits are counts from the exact law, or from what a short baseline lets one predict."""

from collections.abc import Callable
from functools import cache
from math import sqrt

from qc.domain.words.speaking import say
from qc.stats.charts.baselines import Baseline, Standard
from qc.stats.charts.chart_points import ControlChart, Limits, changed_since_frozen, chart_points
from qc.stats.charts.control_charts import baseline_cautions, demand_baseline
from qc.stats.intervals.count_limits import (
    CountLimits,
    binomial_limits,
    demand_tail,
    poisson_limits,
    predictive_rate_limits,
    predictive_share_limits,
)
from qc.stats.refusals import demand_kind, demand_positive
from qc.stats.series import Rates, Shares


def exact_p_chart(
    shares: Shares,
    baseline: Baseline | Standard,
    tail: float,
    *,
    partial_last: bool = False,
) -> ControlChart:
    """Return the chart of the share of defective units with binomial limits, tail each side (0.00135).

    A limit of U units is drawn at U / inspected; z is the plain standardised value, on which zone rules are
    rough for small counts. Arguments, gaps and errors as in p_chart. Source: see binomial_limits.
    """
    demand_kind(shares, Shares, "shares")
    demand_baseline(baseline, "share")
    tail = demand_tail(tail)
    centre = baseline.centre
    scatter = sqrt(centre * (1 - centre))
    limits_for = cache(lambda size: binomial_limits(int(size), centre, tail))
    law = say("exact binomial limits around the pooled baseline, {promise}", promise=_promise(tail))
    return _count_chart("p", law, shares, baseline, partial_last, scatter, limits_for, False)


def exact_u_chart(
    rates: Rates,
    baseline: Baseline | Standard,
    tail: float,
    *,
    partial_last: bool = False,
) -> ControlChart:
    """Return the chart of defects per unit with Poisson limits, tail each side; otherwise as exact_p_chart."""
    demand_kind(rates, Rates, "rates")
    demand_baseline(baseline, "rate")
    tail = demand_tail(tail)
    centre = baseline.centre
    limits_for = cache(lambda size: poisson_limits(size * centre, tail))
    law = say("exact Poisson limits around the pooled baseline, {promise}", promise=_promise(tail))
    return _count_chart("u", law, rates, baseline, partial_last, sqrt(centre), limits_for, False)


def predictive_p_chart(
    shares: Shares,
    baseline: Baseline,
    tail: float,
    *,
    partial_last: bool = False,
) -> ControlChart:
    """Return the exact p chart whose limits allow for the baseline being an estimate: for short baselines.

    The limits are predictive_share_limits, wide for a baseline of few units and close to those of exact_p_chart
    for a long one. A period of the baseline itself is judged as if it were new, so a little too kindly.
    Otherwise as exact_p_chart.
    """
    demand_kind(shares, Shares, "shares")
    demand_kind(baseline, Baseline, "baseline")
    demand_baseline(baseline, "share")
    tail = demand_tail(tail)
    events, units = int(baseline.total_events), int(baseline.total_size)
    scatter = sqrt(baseline.centre * (1 - baseline.centre))
    limits_for = cache(lambda size: predictive_share_limits(int(size), events, units, tail))
    law = say(
        "limits that allow for a baseline of {events} of {units} units, {promise}",
        events=events,
        units=units,
        promise=_promise(tail),
    )
    return _count_chart("p", law, shares, baseline, partial_last, scatter, limits_for, True)


def predictive_u_chart(
    rates: Rates,
    baseline: Baseline,
    tail: float,
    *,
    partial_last: bool = False,
    dispersion: float = 1.0,
) -> ControlChart:
    """Return the exact u chart whose limits allow for the baseline being an estimate; as predictive_p_chart.

    dispersion: variance of counts over Poisson's, at least 1: more where defects gather on units (one cause, several
    defects). sigma and z are then of that variance.
    """
    demand_kind(rates, Rates, "rates")
    demand_kind(baseline, Baseline, "baseline")
    demand_baseline(baseline, "rate")
    tail = demand_tail(tail)
    if (dispersion := demand_positive(dispersion, "dispersion")) < 1:
        raise ValueError(f"dispersion must be at least 1, got {dispersion!r}")
    events, size, scatter = int(baseline.total_events), baseline.total_size, sqrt(baseline.centre * dispersion)
    limits_for = cache(lambda own: predictive_rate_limits(own, events, size, tail, dispersion=dispersion))
    told = {"events": events, "size": size, "promise": _promise(tail)}
    if dispersion == 1:
        law = say("limits that allow for a baseline of {events} defects on {size:g}, {promise}", **told)
    else:
        law = say(
            "limits that allow for a baseline of {events} defects on {size:g} and for a scatter of {dispersion:.2f} "
            "times Poisson's, {promise}",
            dispersion=dispersion,
            **told,
        )
    return _count_chart("u", law, rates, baseline, partial_last, scatter, limits_for, True)


def _promise(tail: float) -> str:
    return say("a false alarm on each side at most {tail:g}", tail=tail)


def _count_chart(
    kind: str,
    method: str,
    series: Shares | Rates,
    baseline: Baseline | Standard,
    partial_last: bool,
    scatter: float,
    limits_for: Callable[[float], CountLimits],
    allows_for_guess: bool,
) -> ControlChart:
    centre = baseline.centre

    def judge(count: float, size: float) -> Limits:
        own = limits_for(size)
        # Where hardly any is expected the limit is a count below the centre: drawn at the centre it judges the same,
        # since the next count lies beyond both.
        lower = min(centre, own.lower / size) if own.has_lower else None
        return Limits(count / size, centre, scatter / sqrt(size), lower, max(centre, own.upper / size))

    points = chart_points(series.events, series.sizes, series.labels, baseline, partial_last, judge, centre)
    changed = changed_since_frozen(series.events, series.sizes, series.labels, baseline)
    cautions = baseline_cautions(baseline, changed, allows_for_guess=allows_for_guess)
    return ControlChart(
        kind=kind,
        method=method,
        width=0.0,
        high_is="worse",
        baseline=baseline,
        points=points,
        cautions=cautions,
        changed_since_frozen=changed,
    )
