"""Shrinkage and ranks: edges, order, no station named on a handful of units. Sources: tests/reference."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.series import rates_of, shares_of
from qc.stats.stations.ranking import chance_of_being_worst, rank_ranges
from qc.stats.stations.shrinkage import (
    AllAlike,
    BetaPrior,
    GammaPrior,
    beta_binomial_shares,
    fitted_beta_prior,
    fitted_gamma_prior,
    gamma_poisson_rates,
    james_stein,
)

PRIOR = GammaPrior(2, 20)
groups = st.lists(st.tuples(st.integers(0, 40), st.integers(1, 300)), min_size=2, max_size=8)


def numbered(things):
    return tuple(map(str, range(len(things))))


def rates(pairs, prior=PRIOR):
    counts, units = zip(*pairs, strict=True)
    return gamma_poisson_rates(rates_of(counts, units, numbered(pairs)), prior, 0.95)


@given(groups)
def test_a_shrunken_rate_lies_between_the_plain_one_and_the_prior(pairs):
    answer = rates(pairs)

    for value, plain in zip(answer.values, answer.plain, strict=True):
        assert min(plain, 0.1) - 1e-12 <= value <= max(plain, 0.1) + 1e-12


@given(st.integers(0, 30), st.integers(30, 200))
def test_more_units_at_the_same_rate_shrink_less_and_narrow(count, unit):
    answer = rates([(count, unit), (10 * count, 10 * unit)])

    assert answer.weights[1] > answer.weights[0]
    assert answer.high[1] - answer.low[1] <= answer.high[0] - answer.low[0]


def test_a_group_without_units_is_its_prior():
    answer = rates([(0, 0), (5, 50)])

    assert answer.values[0] == pytest.approx(0.1)
    assert answer.weights[0] == 0
    assert answer.plain[0] == pytest.approx(0.1)


def test_none_and_all_defective_stay_off_the_ends():
    answer = beta_binomial_shares(shares_of((0, 12), (12, 12), ("a", "b")), BetaPrior(1, 9), 0.95)

    assert 0 < answer.low[0] < answer.values[0]
    assert answer.values[1] < answer.high[1] < 1


def test_groups_that_scatter_no_more_than_chance_are_all_alike():
    assert fitted_gamma_prior(rates_of((10, 11, 9, 10), (50, 50, 50, 50), numbered("abcd"))) == AllAlike(
        0.2, "the rates scatter no more than Poisson counts would"
    )
    answer = fitted_beta_prior(shares_of((10, 11, 9, 10), (50, 50, 50, 50), numbered("abcd")))
    assert isinstance(answer, AllAlike)
    assert answer.common == pytest.approx(0.2)


def test_the_fitted_prior_finds_the_one_that_made_the_data():
    """Simulation with known truth, seeded: 400 groups from Gamma(3, rate 6)."""
    source = np.random.default_rng(8)
    counts = source.poisson(source.gamma(3, 1 / 6, 400) * 50)

    prior = fitted_gamma_prior(rates_of(counts.tolist(), (50,) * 400, numbered(counts)))

    assert prior.shape == pytest.approx(3, rel=0.25)
    assert prior.shape / prior.rate == pytest.approx(0.5, rel=0.1)


@pytest.mark.parametrize("counts", [(3, 4), (0, 0, 0)])
def test_two_groups_or_no_defect_have_no_spread_to_tell(counts):
    assert isinstance(fitted_gamma_prior(rates_of(counts, (10,) * len(counts), numbered(counts))), TooLittle)


def test_all_units_defective_everywhere_has_no_spread_to_tell():
    assert isinstance(fitted_beta_prior(shares_of((5, 6, 7), (5, 6, 7), ("a", "b", "c"))), TooLittle)


@settings(max_examples=40)
@given(groups)
def test_chances_of_being_worst_sum_to_one(pairs):
    assert sum(chance_of_being_worst(rates(pairs), 0.9).chances) == pytest.approx(1, abs=1e-5)


def test_the_highest_plain_rate_on_few_units_is_not_named_worst():
    """Two defects in twelve units against a station with a long record of more."""
    answer = chance_of_being_worst(rates([(2, 12), (60, 400), (20, 400)]), 0.9)

    assert answer.shrunken.plain[0] == max(answer.shrunken.plain)
    assert answer.named == ()


def test_a_station_that_stands_out_is_named():
    assert chance_of_being_worst(rates([(90, 300), (20, 400), (25, 400)]), 0.9).named == ("0",)


def test_equal_stations_have_equal_chances():
    assert chance_of_being_worst(rates([(7, 70)] * 4), 0.9).chances == pytest.approx([0.25] * 4, abs=1e-4)
    # Of 200 the highest lies far out in every posterior: a grid of plain quantiles made the sum 1.003.
    assert chance_of_being_worst(rates([(3, 10)] * 200), 0.9).chances == pytest.approx([1 / 200] * 200, rel=5e-4)


def test_ranks_repeat_with_their_seed_and_reach_from_1_to_k():
    pairs = rates([(2, 12), (60, 400), (20, 400)])

    assert rank_ranges(pairs, 0.95, 1000, 3) == rank_ranges(pairs, 0.95, 1000, 3)
    assert min(rank_ranges(pairs, 0.95, 1000, 3).rank_low) == 1
    assert max(rank_ranges(pairs, 0.95, 1000, 3).rank_high) == 3


def test_one_station_has_no_rank():
    assert isinstance(chance_of_being_worst(rates([(2, 12)]), 0.9), TooLittle)
    assert isinstance(rank_ranges(rates([(2, 12)]), 0.9, 1000, 1), TooLittle)


def test_james_stein_never_turns_the_order_round():
    """Positive part: values that scatter less than their own error are all drawn to the mean."""
    assert james_stein((0.20, 0.21, 0.19, 0.20), 0.01, numbered("abcd")).factor == 0
    assert james_stein((5.0, 5.0, 5.0, 5.0), 1.0, numbered("abcd")).values == (5.0,) * 4
    assert isinstance(james_stein((1.0, 2.0, 3.0), 1.0, numbered("abc")), TooLittle)


def test_defects_on_no_unit_are_refused():
    with pytest.raises(ValueError, match=r"units must be above 0 where there are defects \(1\)"):
        rates([(1, 0), (3, 10)])
