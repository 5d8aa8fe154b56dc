"""How sure the Pareto's order is: edges, exact neighbours, repeatable draws.

Sources: the two-category chance is the beta tail of the Dirichlet posterior (Gelman et al., Bayesian Data Analysis,
sec. 3.4); checked against scipy.stats.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from qc.stats.answers import TooLittle
from qc.stats.by_command.causes.rank_certainty import rank_certainty
from qc.stats.series import counts_of


def order_of(counts, weights=None, prior=0.5, level=0.95, draws=2000, seed=3):
    labels = tuple(f"T{i:02}" for i in range(len(counts)))
    return rank_certainty(counts_of(counts, labels), weights or (1,) * len(counts), prior, level, draws, seed)


def test_two_categories_swap_with_the_beta_tail():
    """Reference library: scipy.stats.beta."""
    first = order_of((20, 12)).ranked[0]

    assert first.chance_above_next == pytest.approx(stats.beta(20.5, 12.5).sf(0.5))
    assert first.swaps_with_next


def test_drawn_ranks_agree_with_the_exact_chance():
    answer = order_of((20, 12), draws=40_000)

    assert answer.ranked[0].chance_of_rank == pytest.approx(stats.beta(20.5, 12.5).sf(0.5), abs=0.01)


def test_a_weighted_bar_is_compared_on_its_weight():
    """By symmetry: one of weight 2 against two of weight 1 with shapes 10 and 10 swaps when the share is below 1/3."""
    first = order_of((10, 10), weights=(2, 1), prior=1).ranked[0]

    assert first.chance_above_next == pytest.approx(stats.beta(11, 11).sf(1 / 3))


@settings(max_examples=30)
@given(st.lists(st.integers(0, 60), min_size=2, max_size=9).filter(any))
def test_chances_of_ranks_are_shares_and_ranges_hold_the_rank_drawn(counts):
    answer = order_of(counts)

    assert [bar.rank for bar in answer.ranked] == list(range(1, len(counts) + 1))
    assert [bar.count for bar in answer.ranked] == sorted(counts, reverse=True)
    for bar in answer.ranked:
        assert 0 <= bar.chance_of_rank <= 1
        assert 1 <= bar.rank_low <= bar.rank_high <= len(counts)


def test_equal_bars_stand_in_label_order_and_may_swap():
    answer = order_of((7, 7, 7))

    assert [bar.label for bar in answer.ranked] == ["T00", "T01", "T02"]
    assert answer.ranked[0].chance_above_next == pytest.approx(0.5)


def test_clear_order_is_sure_and_the_last_bar_swaps_with_nothing():
    answer = order_of((500, 200, 0))

    assert not any(bar.swaps_with_next for bar in answer.ranked)
    assert answer.ranked[-1].chance_above_next == 1
    assert [bar.rank_low for bar in answer.ranked] == [bar.rank_high for bar in answer.ranked] == [1, 2, 3]


def test_ten_times_the_data_makes_the_order_surer():
    few, many = order_of((30, 20)).ranked[0], order_of((300, 200)).ranked[0]

    assert many.chance_above_next > few.chance_above_next


def test_the_same_seed_gives_the_same_answer_and_another_seed_nearly():
    assert order_of((9, 8, 7), seed=1) == order_of((9, 8, 7), seed=1)
    assert order_of((9, 8, 7), seed=1) != order_of((9, 8, 7), seed=2)


@pytest.mark.parametrize("counts", [(0, 0), (5,), ()])
def test_nothing_to_order_is_too_little(counts):
    assert isinstance(order_of(counts), TooLittle)


@pytest.mark.parametrize(
    ("change", "words"),
    [({"prior": 0}, "prior must be more than 0"), ({"draws": 10}, "draws must be .* 1000"), ({"level": 95}, "level")],
)
def test_impossible_settings_are_refused(change, words):
    with pytest.raises(ValueError, match=words):
        order_of((3, 4), **change)
