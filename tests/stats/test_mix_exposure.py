"""Mix as exposure, and scatter within models.

Sources: with one model the index is Pearson's chi-square, checked against scipy.stats; the rest is by construction.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from qc.stats.answers import TooLittle
from qc.stats.change.mix_exposure import dispersion_within, mix_exposure
from qc.stats.series import rates_of

MODELS = ("small", "big")


def test_a_change_of_models_changes_the_expected_and_not_the_ratio():
    """By construction: 0.2 and 0.6 defects a unit; the second week builds more of the big one."""
    answer = mix_exposure(((40, 10), (10, 40)), ("w1", "w2"), rates_of((200, 300), (1000, 500), MODELS))

    assert answer.expected == pytest.approx((14, 26))
    assert answer.rates == pytest.approx((0.2, 0.6))


@given(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=1, max_size=8))
def test_the_baseline_itself_expects_what_it_held(units):
    small, big = (sum(column) for column in zip(*units, strict=True))
    if small == 0 or big == 0:
        return
    answer = mix_exposure(units, tuple(map(str, range(len(units)))), rates_of((7, 31), (small, big), MODELS))

    assert sum(answer.expected) == pytest.approx(38)


def test_a_week_without_units_expects_nought_and_a_new_model_is_told():
    assert mix_exposure(((0, 0), (5, 5)), ("w1", "w2"), rates_of((2, 3), (10, 10), MODELS)).expected[0] == 0
    answer = mix_exposure(((5, 1),), ("w1",), rates_of((2, 0), (10, 0), MODELS))

    assert isinstance(answer, TooLittle)
    assert "big" in answer.reason
    assert mix_exposure(((5, 0),), ("w1",), rates_of((2, 0), (10, 0), MODELS)).expected == (1.0,)
    assert isinstance(mix_exposure(((5, 0),), ("w1",), rates_of((0, 0), (10, 0), MODELS)), TooLittle)


def test_one_model_has_pearsons_index():
    """Reference library: scipy.stats.chisquare with expected counts by exposure."""
    counts, units = np.array([12, 30, 18, 5]), np.array([50, 54, 54, 12])
    theirs = stats.chisquare(counts, units / units.sum() * counts.sum())

    answer = dispersion_within([[int(c)] for c in counts], [[int(n)] for n in units], tuple("abcd"), ("all",))

    assert answer.index == pytest.approx(theirs.statistic / 3)
    assert answer.p_more == pytest.approx(theirs.pvalue)


def test_a_change_of_models_is_no_scatter():
    """By construction: every model exactly at its own rate, the mix turned round half way."""
    answer = dispersion_within(
        ((8, 6), (8, 6), (2, 24), (2, 24)), ((40, 10), (40, 10), (10, 40), (10, 40)), tuple("abcd"), MODELS
    )

    assert answer.index == pytest.approx(0, abs=1e-9)
    assert answer.factor == 1


def test_a_unit_effect_shows_as_scatter():
    """Simulation with known truth, seeded: 54 units of mean 3.5 each with a gamma(6) effect: 1 + 3.5 / 6 = 1.58."""
    source, index = np.random.default_rng(41), []
    for _ in range(60):
        effect = source.gamma(6, 1 / 6, size=(26, 54))
        totals = source.poisson(3.5 * effect).sum(axis=1)
        labels = tuple(map(str, range(26)))
        index.append(dispersion_within([[int(t)] for t in totals], [[54]] * 26, labels, ("all",)).index)

    assert np.mean(index) == pytest.approx(1 + 3.5 / 6, rel=0.08)


def test_one_week_or_no_defect_has_no_scatter_to_tell():
    assert isinstance(dispersion_within(((3, 4),), ((10, 10),), ("w1",), MODELS), TooLittle)
    assert isinstance(dispersion_within(((0, 0), (0, 0)), ((5, 5), (5, 5)), ("a", "b"), MODELS), TooLittle)


def test_defects_on_no_unit_are_refused():
    with pytest.raises(ValueError, match=r"units\[1\]\[0\] must be more than 0 where defects\[1\]\[0\] is 2"):
        dispersion_within(((1, 0), (2, 0)), ((5, 5), (0, 5)), ("a", "b"), MODELS)
