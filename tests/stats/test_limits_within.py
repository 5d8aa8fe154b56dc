"""Every function that gives limits: they lie within what the quantity can be, lower ≤ centre ≤ upper.

Counts, sizes and targets at the edges on purpose: none, all, one unit, targets next to 0.
"""

from datetime import date
from math import inf, isfinite

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.by_command.charts.ewma import ewma_chart, ewma_of_chart
from qc.stats.by_command.intervals.simultaneous import goodman_intervals, sison_glaz_intervals
from qc.stats.charts.baselines import given_standard, rate_baseline, share_baseline
from qc.stats.charts.control_charts import c_chart, np_chart, p_chart, u_chart
from qc.stats.charts.exact_limits import exact_p_chart, exact_u_chart, predictive_p_chart, predictive_u_chart
from qc.stats.charts.overdispersed_charts import p_prime_chart, u_prime_chart
from qc.stats.charts.usual_range import usual_range
from qc.stats.intervals.count_limits import (
    binomial_limits,
    poisson_limits,
    predictive_rate_limits,
    predictive_share_limits,
)
from qc.stats.intervals.one_sample import (
    agresti_coull_interval,
    clopper_pearson_interval,
    jeffreys_interval,
    poisson_interval,
    wilson_interval,
)
from qc.stats.series import counts_of, rates_of, shares_of
from qc.stats.stations.funnel import additive_funnel, exact_funnel, indicator_of, multiplicative_funnel

TAILS = st.sampled_from([1e-6, 0.00135, 0.025, 0.2])
LEVELS = st.sampled_from([0.5, 0.8, 0.95, 0.998, 1 - 1e-9])
FROZEN = date(2026, 3, 2)
TARGETS = st.one_of(st.floats(1e-9, 1 - 1e-9), st.sampled_from([1e-9, 0.002, 0.5, 0.998]))
ANSWERED = settings(max_examples=20, deadline=None)


@st.composite
def units(draw, least=1, most=12):
    """Draw (defectives, inspected) by group: few and many units, none and all defective."""
    sizes = draw(st.lists(st.sampled_from([1, 2, 5, 10, 60, 1000]), min_size=least, max_size=most))
    return [draw(st.one_of(st.integers(0, n), st.sampled_from([0, n]))) for n in sizes], sizes


def names(rows):
    return [f"W{i}" for i in range(len(rows))]


def within(lower, centre, upper, least=0.0, most=inf):
    """Hold limits to what the quantity can be; None is no limit."""
    assert lower is None or least <= lower <= centre + 1e-12
    assert upper is None or centre - 1e-12 <= upper <= most
    assert upper is None or isfinite(upper)


@given(units(), TARGETS, LEVELS)
@ANSWERED
def test_limits_of_a_funnel(groups, target, inner):
    of_shares, of_rates = (
        indicator_of(shares_of(*groups, names(groups[0])), target),
        indicator_of(rates_of(*groups, names(groups[0])), 20 * target),
    )
    for indicator, most in ((of_shares, 1.0), (of_rates, inf)):
        for made in (
            exact_funnel(indicator, inner, (1 + inner) / 2),
            multiplicative_funnel(indicator, inner, (1 + inner) / 2, 0.1),
            additive_funnel(indicator, inner, (1 + inner) / 2, 0.1),
        ):
            for point in () if isinstance(made, TooLittle) else made.points:
                within(point.limits[1], indicator.target, point.limits[2], 0.0, most)
                assert 0 <= point.limits[0] <= point.limits[1] <= point.limits[2] <= point.limits[3] <= most
                assert 0 < point.tail <= 1


def test_a_funnel_whose_upper_limit_lay_below_nought():
    """Ten units at a target of 0.002: the interpolation gave -0.0005 for both upper limits."""
    point = exact_funnel(indicator_of(shares_of([0], [10], ["A"]), 0.002), 0.95, 0.998).points[0]

    assert point.limits[:3] == (0.0, 0.0, 0.002)
    assert point.limits[3] > 0.002


@given(units(3), TAILS, st.sampled_from([0.2, 1.0]), st.sampled_from([0.5, 3.0, 6.0]))
@ANSWERED
def test_limits_of_the_charts(periods, tail, weight, width):
    """The limits of an exact chart that were moved to its centre judge every count as the counts' own limits do."""
    events, sizes = periods
    labels, equal = names(events), [min(k, 5) for k in events]
    share, rate = (
        share_baseline("B", FROZEN, shares_of(events, sizes, labels), {}),
        rate_baseline("B", FROZEN, rates_of(events, sizes, labels), {}),
    )
    level = rate_baseline("B", FROZEN, rates_of(events, [1] * len(events), labels), {})
    fives = share_baseline("B", FROZEN, shares_of(equal, [5] * len(equal), labels), {})
    charts = [
        (p_chart(shares_of(events, sizes, labels), share, width=width), 1.0),
        (np_chart(shares_of(equal, [5] * len(equal), labels), fives, width=width), 5.0),
        (u_chart(rates_of(events, sizes, labels), rate, width=width), inf),
        (c_chart(counts_of(events, labels), level, width=width), inf),
        (p_prime_chart(shares_of(events, sizes, labels), share, width=width), 1.0),
        (u_prime_chart(rates_of(events, sizes, labels), rate, width=width), inf),
        (exact_p_chart(shares_of(events, sizes, labels), share, tail), 1.0),
        (exact_u_chart(rates_of(events, sizes, labels), rate, tail), inf),
        (predictive_p_chart(shares_of(events, sizes, labels), share, tail), 1.0),
        (predictive_u_chart(rates_of(events, sizes, labels), rate, tail), inf),
    ]
    for chart, most in charts:
        for point in () if isinstance(chart, TooLittle) else chart.points:
            within(point.lower, point.centre, point.upper, 0.0, most)
    for made, limits in (
        (charts[6][0], lambda n: binomial_limits(n, share.centre, tail)),
        (charts[7][0], lambda n: poisson_limits(n * rate.centre, tail)),
        (charts[8][0], lambda n: predictive_share_limits(n, sum(events), sum(sizes), tail)),
        (charts[9][0], lambda n: predictive_rate_limits(n, sum(events), sum(sizes), tail)),
    ):
        for point, count, size in zip(made.points, events, sizes, strict=True):
            own = limits(size)
            said = "signal_high" if count > own.upper else "signal_low" if count < own.lower else "in"
            assert point.state == said
    for chart, most in (charts[0], charts[2]):
        if 0 < chart.points[0].centre < most:
            for point in ewma_of_chart(chart, weight, width).points:
                within(point.lower, chart.points[0].centre, point.upper, 0.0, most)
                assert 0 <= point.average <= most


def test_an_ewma_of_shares_has_no_limit_below_none_or_above_all():
    labels = names([1] * 4)
    high = ewma_of_chart(
        p_chart(shares_of([3, 4, 4, 4], [4] * 4, labels), given_standard("S", FROZEN, "share", 0.97, "plan")), 0.2, 3.0
    )
    low = ewma_of_chart(
        p_chart(shares_of([0, 1, 0, 0], [4] * 4, labels), given_standard("S", FROZEN, "share", 0.03, "plan")), 0.2, 3.0
    )

    assert {point.upper for point in high.points} == {1.0}
    assert {point.lower for point in low.points} == {0.0}


def test_a_baseline_without_scatter_is_blamed_by_name():
    chart = p_chart(
        shares_of([0, 0, 1], [10] * 3, names([1] * 3)),
        share_baseline("B", FROZEN, shares_of([0, 0], [10, 10], ["W0", "W1"]), {}),
    )

    with pytest.raises(
        ValueError, match="chart must have a baseline that leaves scatter for an EWMA, got a centre of 0"
    ):
        ewma_of_chart(chart, 0.2, 3.0)


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        ({"least": 0.6}, r"target must be from least \(0.6\) to most \(inf\), got 0.5"),
        ({"most": 0.8}, r"values\[1\] must be from least \(-inf\) to most \(0.8\), got 0.9"),
        ({"least": "none"}, "least must be a finite number"),
    ],
)
def test_ends_of_an_ewma_that_leave_something_out_are_refused(ends, told):
    with pytest.raises(ValueError, match=told):
        ewma_chart([0.5, 0.9], [0.1, 0.1], ["a", "b"], 0.5, 0.2, 3.0, "exact", **ends)


@given(units(1, 1), LEVELS)
@ANSWERED
def test_intervals_of_shares_and_rates(one, level):
    (count,), (size,) = one
    for interval in (wilson_interval, clopper_pearson_interval, agresti_coull_interval, jeffreys_interval):
        made = interval(count, size, level)
        assert 0 <= made.low <= made.share <= made.high <= 1
    rate = poisson_interval(count, size, level)
    assert 0 <= rate.low <= rate.rate <= rate.high
    usual = usual_range(count, size, 10.0, max(level, 0.8))
    assert 0 <= usual.low <= usual.expected + 1
    assert usual.expected - 1 <= usual.high


@given(st.lists(st.integers(0, 200), min_size=2, max_size=9), LEVELS)
@ANSWERED
def test_intervals_of_all_shares_at_once(counts, level):
    for made in (
        goodman_intervals(counts_of(counts, names(counts)), level),
        sison_glaz_intervals(counts_of(counts, names(counts)), level),
    ):
        if not isinstance(made, TooLittle):
            for low, share, high in zip(made.low, made.shares, made.high, strict=True):
                assert 0 <= low <= share <= high <= 1
