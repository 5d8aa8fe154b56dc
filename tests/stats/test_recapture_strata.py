"""Defects that neither of two looks found, over several pairs of people.

One pair is Chapman's count itself, which tests/reference checks against published cases; the sums are by hand.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.recapture import chapman
from qc.stats.recapture_strata import missed_by_both


def test_one_pair_is_chapmans_count():
    alone, one = missed_by_both([20], [18], [15], ["A and B"], 0.95), chapman(20, 18, 15, 0.95)

    assert alone.left == pytest.approx(one.left)
    assert alone.low == pytest.approx(one.low_log - one.found)
    assert alone.high == pytest.approx(one.high_log - one.found)
    assert alone.found == one.found == 23


def test_pairs_are_estimated_apart_and_added():
    # (20+1)(18+1)/16 - 1 - 23 = 0.9375 and (10+1)(40+1)/10 - 1 - 41 = 3.1
    both = missed_by_both([20, 10], [18, 40], [15, 9], ["A and B", "B and C"], 0.95)
    spread = sum(chapman(*looks, 0.95).variance for looks in ((20, 18, 15), (10, 40, 9)))

    assert both.left == pytest.approx(0.9375 + 3.1)
    assert both.high / both.left == pytest.approx(both.left / both.low)
    assert math.log(both.high / both.left) == pytest.approx(1.959964 * math.sqrt(math.log1p(spread / both.left**2)))


def test_a_sharper_eye_that_is_now_first_now_second_does_not_bias_the_sum():
    # 200 defects each way; one finds 0.9, the other 0.6, whoever is first: 108 by both, 72 and 12 by one, 8 by none
    apart = missed_by_both([180, 120], [120, 180], [108, 108], ["A then B", "B then A"], 0.95)
    pooled = chapman(300, 300, 216, 0.95)

    assert apart.left == pytest.approx(16, abs=0.3)
    assert pooled.left > 30  # 16.7 + 16: the pooled looks are not independent


def test_a_pair_without_a_find_says_nothing_and_no_find_at_all_is_too_little():
    assert missed_by_both([5, 0], [5, 0], [5, 0], ["A and B", "B and C"], 0.95).labels == ("A and B",)
    assert isinstance(missed_by_both([0], [0], [0], ["A and B"], 0.95), TooLittle)
    assert isinstance(missed_by_both([], [], [], [], 0.95), TooLittle)


def test_a_pair_that_agrees_on_everything_leaves_none():
    answer = missed_by_both([7], [7], [7], ["A and B"], 0.95)

    assert (answer.left, answer.low, answer.high) == (0, 0, 0)


@pytest.mark.parametrize(
    ("looks", "word"), [(([3], [3], [4]), "both"), (([3], [3, 1], [2]), "second"), (([-1], [3], [0]), "first")]
)
def test_counts_that_cannot_be_are_refused_by_name(looks, word):
    with pytest.raises(ValueError, match=word):
        missed_by_both(*looks, ["A and B"], 0.95)


looks = st.tuples(st.integers(0, 40), st.integers(0, 40)).flatmap(
    lambda two: st.tuples(st.just(two[0]), st.just(two[1]), st.integers(0, min(two)))
)


@given(pairs=st.lists(looks, min_size=1, max_size=5))
def test_the_order_of_pairs_does_not_matter_and_each_adds_its_own(pairs):
    first, second, both = zip(*pairs, strict=True)
    names = [f"pair {place}" for place in range(len(pairs))]
    one = missed_by_both(first, second, both, names, 0.95)
    other = missed_by_both(first[::-1], second[::-1], both[::-1], names[::-1], 0.95)

    if isinstance(one, TooLittle):
        assert other == one
        return
    assert (one.left, one.low, one.high) == pytest.approx((other.left, other.low, other.high))
    assert one.left == pytest.approx(sum(each.left for each in one.by_pair))
    assert 0 <= one.low <= one.left <= one.high
