"""Exact limits, widened charts, demerits and charts of rare events agree with the sources named in their cases."""

from datetime import date

import pytest
from scipy.stats import betabinom, binom, chisquare, geom, nbinom, poisson

from qc.stats.by_command.charts.demerit_chart import demerit_chart
from qc.stats.charts.baselines import (
    gap_baseline,
    given_standard,
    rate_baseline,
    share_baseline,
    weighted_baseline,
)
from qc.stats.charts.control_charts import p_chart
from qc.stats.charts.dispersion import expected_poisson_counts, rate_dispersion, share_chart_choice
from qc.stats.charts.exact_limits import exact_p_chart
from qc.stats.charts.overdispersed_charts import p_prime_chart
from qc.stats.charts.rare_events import exact_t_chart, g_chart, geometric_limits, t_chart
from qc.stats.intervals.count_limits import (
    THREE_SIGMA_TAIL,
    binomial_limits,
    poisson_limits,
    predictive_rate_limits,
    predictive_share_limits,
)
from qc.stats.series import rates_of, shares_of
from qc.stats.stated_chances import LEAST

DAY = date(2024, 1, 8)


def numbered(counts):
    return [str(place) for place in range(1, len(counts) + 1)]


def positions(chart):
    return [int(label) for label in chart.signals]


def test_a_p_prime_chart_has_the_limits_of_laneys_formula(case):
    facts = case("laney-p-over")
    counts, sizes = facts.given["counts"], facts.given["sizes"]
    baseline = share_baseline("trial", DAY, shares_of(counts, sizes, numbered(counts)), {})
    widened = p_prime_chart(shares_of(counts, sizes, numbered(counts)), baseline)

    facts.agrees("center", baseline.centre)
    facts.agrees("sigma_z", widened.spread)
    facts.agrees("ucl", [point.upper for point in widened.points])
    facts.agrees("lcl", [point.lower for point in widened.points])
    facts.agrees("signals", positions(widened))
    facts.agrees("signals_unadjusted", positions(p_chart(shares_of(counts, sizes, numbered(counts)), baseline)))
    assert share_chart_choice(shares_of(counts, sizes, numbered(counts)), 0.99).kind == "p′"


def test_binomial_limits_are_found_by_direct_summation(case):
    facts = case("exact-binomial-50-02")
    limits = binomial_limits(facts.given["n"], facts.given["p"], THREE_SIGMA_TAIL)

    facts.agrees("lcl", limits.lower)
    facts.agrees("ucl", limits.upper)
    facts.agrees("p_high", limits.p_high)
    assert not limits.has_lower


def test_poisson_limits_are_found_by_direct_summation(case):
    facts = case("exact-poisson-16")
    limits = poisson_limits(facts.given["mu"], THREE_SIGMA_TAIL)

    facts.agrees("lcl", limits.lower)
    facts.agrees("ucl", limits.upper)
    facts.agrees("p_high", limits.p_high)
    facts.agrees("p_low", limits.p_low)


@pytest.mark.parametrize("tail", [0.00135, 0.025, 0.2])
@pytest.mark.parametrize("inspected", [1, 7, 50, 400])
@pytest.mark.parametrize("share", [0.001, 0.02, 0.5, 0.97])
def test_binomial_limits_agree_with_scipy_quantiles(inspected, share, tail):
    limits = binomial_limits(inspected, share, tail)

    law = binom(inspected, share)
    assert law.sf(limits.upper) <= tail < law.sf(limits.upper - 1)
    assert law.cdf(limits.lower - 1) <= tail
    assert limits.lower == inspected or law.cdf(limits.lower) > tail


@pytest.mark.parametrize("tail", [0.00135, 0.025, 0.2])
@pytest.mark.parametrize("mean", [0.01, 0.7, 5.0, 16.0, 900.0])
def test_poisson_limits_agree_with_scipy_quantiles(mean, tail):
    limits = poisson_limits(mean, tail)

    law = poisson(mean)
    assert law.sf(limits.upper) <= tail < law.sf(limits.upper - 1)
    assert law.cdf(limits.lower - 1) <= tail < law.cdf(limits.lower)


@pytest.mark.parametrize("tail", [0.00135, 0.05])
@pytest.mark.parametrize(("inspected", "events", "size"), [(1, 0, 1), (20, 0, 50), (50, 7, 40), (300, 90, 1000)])
def test_predictive_limits_of_shares_agree_with_scipys_beta_binomial(inspected, events, size, tail):
    limits = predictive_share_limits(inspected, events, size, tail)

    law = betabinom(inspected, events + 0.5, size - events + 0.5)
    assert law.sf(limits.upper) <= tail < law.sf(limits.upper - 1)
    assert law.cdf(limits.lower - 1) <= tail < law.cdf(limits.lower)
    assert limits.p_high == pytest.approx(law.sf(limits.upper), abs=1e-12)


@pytest.mark.parametrize("tail", [0.00135, 0.05])
@pytest.mark.parametrize(("exposure", "events", "size"), [(1.0, 0, 5.0), (12.0, 30, 60.0), (100.0, 900, 90.0)])
def test_predictive_limits_of_rates_agree_with_scipys_negative_binomial(exposure, events, size, tail):
    limits = predictive_rate_limits(exposure, events, size, tail)

    law = nbinom(events + 0.5, size / (size + exposure))
    assert law.sf(limits.upper) <= tail < law.sf(limits.upper - 1)
    assert law.cdf(limits.lower - 1) <= tail < law.cdf(limits.lower)


def test_an_exact_chart_does_not_signal_where_three_sigma_would_cry_wolf(case):
    # The case: at n 50, share .02, three sigma signals from 4 on, 13 times as often as meant.
    facts = case("exact-binomial-50-02")
    standard = given_standard("agreed", DAY, "share", facts.given["p"], facts.source)
    counts, sizes = [4, 5, 6], [50, 50, 50]

    assert positions(p_chart(shares_of(counts, sizes, numbered(counts)), standard)) == [1, 2, 3]
    exact = exact_p_chart(shares_of(counts, sizes, numbered(counts)), standard, THREE_SIGMA_TAIL)
    assert positions(exact) == [3]


def test_demerits_square_the_weights_in_their_variance(case):
    facts = case("demerit-weights-100-50-10-1")
    names = ["A", "B", "C", "D"]
    rates = dict(zip(names, facts.given["rates"], strict=True))
    parts = {name: given_standard(name, DAY, "rate", rate, facts.source) for name, rate in rates.items()}
    weights = dict(zip(names, facts.given["weights"], strict=True))
    counts = {
        name: rates_of([count], [facts.given["n"]], ["1"])
        for name, count in zip(names, facts.given["class_counts"], strict=True)
    }
    chart = demerit_chart(counts, weighted_baseline("given", DAY, parts, weights))
    (point,) = chart.points

    facts.agrees("center", point.centre)
    facts.agrees("sigma", point.sigma)
    facts.agrees("ucl", point.upper)
    facts.agrees("lcl", point.lower_drawn)
    facts.agrees("u_i", point.value)


def test_a_g_chart_has_the_limits_of_the_geometric_law(case):
    facts = case("g-basic")
    gaps = facts.given["gaps"]
    baseline = gap_baseline("trial", DAY, gaps, numbered(gaps), {})
    chart = g_chart(gaps, numbered(gaps), baseline, "good units between")

    facts.agrees("center", chart.baseline.centre)
    facts.agrees("ucl", chart.points[0].upper)
    facts.agrees("lcl", chart.points[0].lower_drawn)
    facts.agrees("signals", positions(chart))
    facts.agrees("p_hat", 1 / (chart.baseline.centre + 1))
    assert chart.high_is == "better"


@pytest.mark.parametrize("tail", [0.00135, 0.025, 0.1])
@pytest.mark.parametrize("share", [0.9, 0.3, 0.0353, 0.001])
def test_exact_gap_limits_agree_with_scipys_geometric_law(share, tail):
    # scipy's law counts the event in: gaps from 1.
    law = geom(share)
    lower, upper = geometric_limits(1 / share, "up to and with the defective", tail)

    assert law.sf(upper) <= tail * (1 + 1e-7)
    assert law.sf(upper - 1) > tail
    least = 1 if lower is None else lower
    assert law.cdf(least - 1) <= tail < law.cdf(least)
    lower_without, upper_without = geometric_limits(1 / share - 1, "good units between", tail)
    assert upper_without == upper - 1
    assert (lower_without is None) == (lower is None)


def test_a_t_chart_has_the_printed_transformed_times(case):
    facts = case("t-valve")
    times = facts.given["times"]
    baseline = gap_baseline("trial", DAY, times, numbered(times), {})
    chart = t_chart(times, numbered(times), baseline)

    facts.agrees("transformed", [point.value for point in chart.points])
    facts.agrees("center", chart.points[0].centre)
    facts.agrees("ucl", chart.points[0].upper)
    facts.agrees("lcl", chart.points[0].centre - 3 * chart.points[0].sigma)
    facts.agrees("signals", positions(chart))
    assert chart.points[0].lower is None


def test_exact_limits_of_times_are_exponential_quantiles():
    # -m ln(1 - a) and -m ln a with m = 100, a = .00135: .135091 and 660.765, by calculator.
    baseline = gap_baseline("trial", DAY, [50, 150], ["1", "2"], {})
    (point, _) = exact_t_chart([50, 150], ["1", "2"], baseline, THREE_SIGMA_TAIL).points

    assert (point.lower, point.upper) == pytest.approx((0.135091, 660.765), rel=1e-5)


def test_the_horse_kicks_scatter_as_chance_would(case):
    facts = case("trend-horsekick")
    counts = [kicks for kicks, corps in enumerate(facts.given["freq"]) for _ in range(corps)]
    test = rate_dispersion(rates_of(counts, [1] * len(counts), numbered(counts)))

    facts.agrees("mean", test.centre)
    facts.agrees("var", test.variance)
    facts.agrees("df", test.degrees)
    facts.agrees("expected", list(expected_poisson_counts(200, test.centre, 4)))
    assert test.p_more > 0.4


def test_the_dispersion_of_rates_agrees_with_scipys_chisquare():
    defects, units = [12, 7, 15, 30, 9], [10, 8, 14, 11, 9]
    test = rate_dispersion(rates_of(defects, units, numbered(defects)))

    expected = [sum(defects) * size / sum(units) for size in units]
    theirs = chisquare(defects, expected)
    assert (test.chi_square, test.p_more) == pytest.approx((theirs.statistic, theirs.pvalue), rel=1e-10)


def test_a_rate_baseline_of_defects_that_are_alike_has_index_0():
    baseline = rate_baseline("flat", DAY, rates_of([4, 4, 4], [2, 2, 2], ["1", "2", "3"]), {})
    test = rate_dispersion(rates_of([4, 4, 4], [2, 2, 2], baseline.labels))

    assert (test.index, test.p_less, test.p_more) == (0.0, LEAST, 1.0)  # no chance is stated as 0
