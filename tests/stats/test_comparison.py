"""Comparison of rates and shares: edges, orders and refusals. Sources: tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.change.comparison import (
    fisher_exact,
    profiles_compared,
    rates_compared,
    rates_compared_by_simulation,
    share_pairs,
)
from qc.stats.series import rates_of, shares_of


def test_equal_rates_on_unequal_exposure_do_not_differ():
    answer = rates_compared(rates_of((10, 20, 40), (100, 200, 400), ("w1", "w2", "w3")))

    assert answer.chi_square == pytest.approx(0)
    assert answer.p_value == pytest.approx(1)


def test_equal_counts_on_unequal_exposure_do_differ():
    """A short week with the full week's count: the count alone would show nothing."""
    assert rates_compared(rates_of((30, 30), (54, 12), ("week 21", "week 22"))).p_value < 0.001


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(1, 99)), min_size=2, max_size=6), st.integers(2, 50))
def test_the_unit_of_exposure_does_not_matter(pairs, scale):
    counts, exposures = zip(*pairs, strict=True)
    labels = tuple(map(str, range(len(pairs))))
    one, other = (rates_compared(rates_of(counts, [e * k for e in exposures], labels)) for k in (1, scale))

    assert one == other or one.chi_square == pytest.approx(other.chi_square)


def test_a_week_without_units_is_dropped_and_named():
    answer = rates_compared(rates_of((3, 0, 9), (10, 0, 12), ("w1", "w2", "w3")))

    assert answer.dropped == ("w2",)
    assert answer.degrees == 1


@pytest.mark.parametrize(("counts", "exposures"), [((0, 0), (5, 5)), ((3, 0), (5, 0))])
def test_too_little_to_compare_says_why(counts, exposures):
    assert isinstance(rates_compared(rates_of(counts, exposures, ("a", "b"))), TooLittle)


def test_small_expected_counts_are_told():
    assert rates_compared(rates_of((1, 2, 30), (1, 1, 20), ("a", "b", "c"))).small_expected == 2


def test_a_simulated_p_value_repeats_with_its_seed_and_nears_the_chi_square_where_counts_are_large():
    given_ = rates_of((110, 125, 100), (50, 50, 50), ("a", "b", "c"))
    first, again = (rates_compared_by_simulation(given_, 4999, 7) for _ in range(2))

    assert first == again
    assert first.p_value == pytest.approx(rates_compared(given_).p_value, abs=0.02)


def test_a_column_that_nobody_found_is_dropped_and_named():
    answer = profiles_compared([[5, 0, 9], [7, 0, 2]], ("gap", "leak", "scratch"))

    assert answer.dropped == ("leak",)
    assert answer.degrees == 1


def test_one_period_has_nothing_to_be_compared_with():
    assert isinstance(profiles_compared([[5, 3], [0, 0]], ("a", "b")), TooLittle)


@given(*[st.integers(0, 40)] * 4)
def test_fisher_does_not_mind_which_group_comes_first(a, b, c, d):
    assert fisher_exact(a, b, c, d).p_value == pytest.approx(fisher_exact(c, d, a, b).p_value)


@pytest.mark.parametrize("table", [(0, 0, 0, 0), (0, 5, 0, 9), (4, 0, 7, 0), (0, 0, 3, 4)])
def test_a_margin_of_nought_shows_no_difference(table):
    assert fisher_exact(*table).p_value == pytest.approx(1)


def test_a_tie_in_probability_counts_as_not_larger():
    """A table with equal margins has its mirror image exactly as likely: both tails belong to the p-value."""
    # By hand: hypergeometric with 10, 10, 7 drawn; P(1)+P(0) doubled.
    one_tail = (10 * 210 + 120) / 77520

    assert fisher_exact(1, 9, 6, 4).p_value == pytest.approx(2 * one_tail)


def test_groups_nobody_inspected_are_no_pair():
    answer = share_pairs(shares_of((3, 0, 5), (30, 0, 40), ("a", "b", "c")), 0.95)

    assert [(pair.first, pair.second) for pair in answer.pairs] == [("a", "c")]


def test_clean_groups_do_not_differ():
    answer = share_pairs(shares_of((0, 0), (30, 40), ("a", "b")), 0.95)

    assert not answer.pairs[0].differs


def test_more_defectives_than_inspected_is_refused():
    with pytest.raises(ValueError, match=r"inspected must be at least defectives \(9\), got 4 for 'b'"):
        share_pairs(shares_of((3, 9), (30, 4), ("a", "b")), 0.95)


def test_a_negative_cell_is_refused_by_name():
    with pytest.raises(ValueError, match="second_clean must be a whole number of at least 0, got -1"):
        fisher_exact(1, 2, 3, -1)


def test_a_table_of_very_many_units_is_answered_as_the_normal_law_has_it():
    # Halves of a thousand million each, 2 standard errors apart: p 0.0455 of the normal law.
    half, apart = 5 * 10**8, 22_361

    assert fisher_exact(half + apart, half - apart, half - apart, half + apart).p_value == pytest.approx(
        0.0455, abs=1e-4
    )
