"""A slow drift's exact chance against the binomial law and enumeration, its limits against simulation."""

from itertools import product
from math import factorial, prod
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from qc.stats.series import rates_of
from qc.stats.watch import drift
from qc.stats.watch.drift import chance_of_drift, drift_chance, drift_limits, drift_score


def strata(defects, units):
    """Return the defects and units of each model as series."""
    return [rates_of(found, made, range(len(found))) for found, made in zip(defects, units, strict=True)]


def chance(defects, units):
    return drift_chance(strata(defects, units))


def score_of(defects, units):
    return drift_score(strata(defects, units))


@pytest.mark.parametrize(("first", "second", "units"), [(5, 15, (50, 50)), (3, 9, (40, 20)), (0, 4, (10, 10))])
def test_two_periods_are_a_binomial_test(first, second, units):
    """scipy's exact test: given the total, each defect falls in the second period by its share of the units."""
    expected = binomtest(second, first + second, units[1] / sum(units), alternative="greater").pvalue

    assert chance([[first, second]], [units]) == pytest.approx(expected, rel=1e-9)


def test_three_periods_of_two_models_agree_with_every_way_in_which_their_defects_can_fall():
    defects, units = [(1, 0, 3), (0, 2, 1)], [(10, 20, 10), (5, 5, 20)]

    def laws(counts, sizes):
        total, shares = sum(counts), [size / sum(sizes) for size in sizes]
        for way in product(range(total + 1), repeat=3):
            if sum(way) == total:
                ways = factorial(total) / prod(factorial(one) for one in way)
                yield way[1] + 2 * way[2], ways * prod(share**one for share, one in zip(shares, way, strict=True))

    seen = sum(counts[1] + 2 * counts[2] for counts in defects)
    pairs = product(laws(defects[0], units[0]), laws(defects[1], units[1]))
    expected = sum(p * q for (one, p), (other, q) in pairs if one + other >= seen)
    assert chance(defects, units) == pytest.approx(expected, rel=1e-9)


def test_more_of_a_model_with_many_defects_is_no_drift():
    """Large units have 1 defect each, small ones 0.1; the mix turns from 10 : 40 to 40 : 10 half way."""
    large, small = [10] * 8 + [40] * 8, [40] * 8 + [10] * 8
    counts = [large, [size // 10 for size in small]]

    assert chance(counts, [large, small]) == pytest.approx(0.5, abs=0.05)
    assert chance([[a + b for a, b in zip(*counts, strict=True)]], [[50] * 16]) < 1e-9


def test_the_score_is_near_the_chance():
    counts, units = [[7, 8, 5, 9, 8, 7, 9, 8, 10, 9, 12, 11, 13, 15]], [[50] * 10 + [30] + [50] * 3]

    assert 1 - NormalDist().cdf(score_of(counts, units)) == pytest.approx(chance(counts, units), rel=0.1)


@pytest.mark.parametrize("score", [0.0, 2.0, 4.0, 6.0])
def test_counts_too_large_for_the_exact_law_are_told_by_one_that_agrees_with_it(score, monkeypatch):
    places = np.arange(26) - 12.5
    slope = score * np.sqrt(20_000 * (26**2 - 1) / 12) / (places**2).sum()
    defects, units = [np.rint(20_000 / 26 + slope * places).astype(int).tolist()], [[100.0] * 26]
    exact = chance(defects, units)
    monkeypatch.setattr(drift, "MOST_STEPS", 1000)

    assert chance(defects, units) != exact
    assert chance(defects, units) == pytest.approx(exact, rel=0.03)


def test_no_defect_tells_nothing():
    assert chance([[0, 0, 0]], [[5, 5, 5]]) == 1
    assert chance([], []) == 1
    assert score_of([[0, 0, 0]], [[5, 5, 5]]) == 0
    assert chance([[0, 4, 0]], [[0, 5, 0]]) == 1  # all units in one period


@given(st.lists(st.integers(0, 12), min_size=3, max_size=12))
def test_the_chances_of_so_late_and_of_so_early_add_up_to_one_and_the_chance_of_exactly_so(counts):
    units = [10] * len(counts)
    late, early = chance([counts], [units]), chance([counts[::-1]], [units])

    assert late + early >= 1 - 1e-9
    assert chance([counts], [[2 * one for one in units]]) == pytest.approx(late)


@pytest.mark.parametrize(("mean", "periods", "share"), [(8, 8, 1 / 250), (4, 13, 1 / 500)])
def test_a_watch_for_drift_alarms_first_as_often_in_each_period_as_it_says(mean, periods, share):
    """20,000 series drawn with numpy's generators; their chances by the score, which is near."""
    runs, watched = 20_000, 20
    limits = drift_limits(periods, watched, share)
    counts = np.random.default_rng(11).poisson(mean, (runs, periods + watched))
    quiet, firsts = np.ones(runs, dtype=bool), []
    for week, limit in enumerate(limits.chances, 1):
        n = periods + week
        places = np.arange(n) - (n - 1) / 2
        total = counts[:, :n].sum(axis=1)
        scores = counts[:, :n] @ places / np.sqrt(total * (places**2).mean())
        alarms = quiet & (scores > NormalDist().inv_cdf(1 - limit))
        firsts.append(alarms.mean())
        quiet &= ~alarms

    error = np.sqrt(share / runs)
    assert limits.chances[0] == pytest.approx(share, rel=0.01)
    assert max(firsts) < share + 4.5 * error
    assert np.mean(firsts) == pytest.approx(share, abs=4 * error / np.sqrt(watched))


@pytest.mark.parametrize("watched", [1, 7, 26, 30])
def test_as_strong_as_the_limit_is_as_often_as_the_watch_says(watched):
    limits = drift_limits(8, watched, 1 / 500)

    assert chance_of_drift(8, watched, limits.chances[-1]) == pytest.approx(watched / 500, rel=0.01)


def test_a_stronger_drift_is_rarer_and_hardly_any_chance_is_still_a_number():
    assert chance_of_drift(8, 10, 1e-4) < chance_of_drift(8, 10, 1e-3) < chance_of_drift(8, 10, 0.9) == 1
    assert 0 < chance_of_drift(8, 10, 1e-12) < 1e-6


@pytest.mark.parametrize(
    ("ask", "named"),
    [
        (lambda: chance([[1, 2]], [[5.0]]), "units"),
        (lambda: chance([[1, 2]], [[5.0, 0.0]]), "must be above 0"),
        (lambda: chance([[1, -2]], [[5.0, 5.0]]), "-2"),
        (lambda: drift_limits(2, 26, 0.001), "periods"),
        (lambda: drift_limits(8, 0, 0.001), "watched"),
        (lambda: chance_of_drift(8, 100_000, 0.001), "watched must be at most 1000 periods, got 100000"),
        (lambda: drift_limits(8, 26, 0.05), "share"),
        (lambda: chance_of_drift(8, 26, 0.0), "chance"),
        (lambda: chance_of_drift(8, 26, 1.5), "chance"),
    ],
)
def test_an_argument_that_cannot_be_is_named(ask, named):
    with pytest.raises(ValueError, match=named):
        ask()
