"""Defects that neither of two looks found, over several pairs of people.

One pair is Chapman's count itself, which tests/reference checks against published cases; the sums are by hand.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.looks.recapture import chapman
from qc.stats.looks.recapture_strata import _left_by_one, missed_by_both


def test_one_pair_is_chapmans_count():
    alone, one = missed_by_both([20], [18], [15], ["A and B"], 0.95), chapman(20, 18, 15, 0.95)

    assert alone.left == pytest.approx(one.left)
    assert alone.low <= one.low_log - one.found
    assert alone.high >= max(one.high_log, one.high_exact) - one.found
    assert alone.found == one.found == 23


def test_pairs_are_estimated_apart_and_added():
    # (20+1)(18+1)/16 - 1 - 23 = 0.9375 and (10+1)(40+1)/10 - 1 - 41 = 3.1
    both = missed_by_both([20, 10], [18, 40], [15, 9], ["A and B", "B and C"], 0.95)
    spread = sum(chapman(*looks, 0.95).variance for looks in ((20, 18, 15), (10, 40, 9)))
    factor = math.exp(1.959964 * math.sqrt(math.log1p(spread / 4.0375**2)))

    assert both.left == pytest.approx(0.9375 + 3.1)
    assert both.low <= math.floor(4.0375 / factor)
    assert both.high >= math.ceil(4.0375 * factor)


def integrated(first, second, both, left):
    """Return the weight of so many left, summed over both looks' shares found on a fine grid; prior as the source."""
    found = first + second - both
    ways = math.lgamma(found + left + 1) - math.lgamma(left + 1)
    angle = (np.arange(2000) + 0.5) / 2000 * math.pi / 2  # of which the share is the squared sine

    def of_one(hits):
        return np.mean(np.sin(angle) ** (2 * hits) * np.cos(angle) ** (2 * (found + left - hits)))

    return math.exp(ways) * of_one(first) * of_one(second) / (found + left)


@pytest.mark.parametrize("looks", [(5, 4, 3), (8, 7, 6), (4, 4, 4)])
def test_the_law_of_what_is_left_is_that_of_an_integral_over_both_shares(looks):
    by_hand = np.array([integrated(*looks, left) for left in range(60)])
    answer = missed_by_both(*([one] for one in looks), ["A and B"], 0.5)
    up_to = np.cumsum(by_hand) / by_hand.sum()

    assert answer.low <= int(np.searchsorted(up_to, 0.25, "right"))
    assert np.allclose(_left_by_one(chapman(*looks, 0.95), 1e-6)[:9], by_hand[:9] / by_hand.sum(), rtol=1e-3)


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


@pytest.mark.parametrize(("alike", "most"), [(1, 38), (3, 4), (7, 2)])
def test_looks_that_agree_on_everything_leave_what_the_exact_limits_leave(alike, most):
    # An overlap of all has the chance 1 / C(N, alike): at N = 7 and 3 it is 1/35, at N = 8 1/56 < 0.025.
    answer = missed_by_both([alike], [alike], [alike], ["A and B"], 0.95)

    assert (answer.left, answer.low, answer.high) == (0, 0, most)
    assert chapman(alike, alike, alike, 0.95).high == alike + most


def test_a_pair_with_nothing_found_by_both_is_named_and_in_no_number():
    answer = missed_by_both([20, 25], [18, 0], [15, 0], ["A and B", "A and C"], 0.95)

    assert (answer.labels, answer.too_few, answer.found) == (("A and B",), ("A and C",), 23)
    assert isinstance(missed_by_both([25], [3], [0], ["A and C"], 0.95), TooLittle)


@pytest.mark.parametrize(
    ("there", "shares"),
    [
        ([10], [(0.9, 0.9)]),
        ([30], [(0.8, 0.9)]),
        ([5] * 8, [(0.9, 0.9)] * 8),
        ([40] * 10, [(0.6, 0.9), (0.9, 0.9)] * 5),
    ],
)
def test_the_interval_holds_the_number_left_as_often_as_it_says(there, shares):
    """Simulation with known truth, seeded: 200 times each; 0.90 is two standard errors and more below 0.95."""
    source, held = np.random.default_rng(77), 0
    for _ in range(200):
        looks, left = [], 0
        for many, (one, other) in zip(there, shares, strict=True):
            seen, again = source.random(many) < one, source.random(many) < other
            looks.append((int(seen.sum()), int(again.sum()), int((seen & again).sum())))
            left += int((~seen & ~again).sum())
        answer = missed_by_both(*zip(*looks, strict=True), [str(place) for place in range(len(looks))], 0.95)
        held += answer.low <= left <= answer.high

    assert held / 200 >= 0.90


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
    assert one.high >= max(each.high_exact - each.found for each in one.by_pair)
