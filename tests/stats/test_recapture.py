"""Two looks at the same units: edges and refusals. Sources: tests/reference/test_recapture_cases.py."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom

from qc.stats.answers import TooLittle
from qc.stats.looks.recapture import chapman, lincoln_petersen, paired_relook

looks = st.integers(0, 40).flatmap(
    lambda both: st.tuples(st.integers(both, both + 40), st.integers(both, both + 40), st.just(both))
)


@given(looks)
def test_there_were_at_least_as_many_as_were_found(counts):
    answer = chapman(*counts, 0.95)
    if isinstance(answer, TooLittle):
        assert counts == (0, 0, 0)
        return

    assert answer.left >= -1e-9
    assert answer.found - 1e-9 <= answer.low_log <= answer.total + 1e-9
    assert answer.total - 1e-9 <= answer.high_log
    assert answer.found <= answer.low_exact <= answer.high_exact


@given(looks)
def test_which_look_came_first_does_not_matter_to_the_count(counts):
    first, second, both = counts

    assert chapman(first, second, both, 0.95) == TooLittle(
        "defects there were", "neither look found a defect", 0, 1
    ) or chapman(first, second, both, 0.95).total == pytest.approx(chapman(second, first, both, 0.95).total)


def test_nothing_in_common_has_no_petersen_and_a_chapman():
    assert isinstance(lincoln_petersen(5, 4, 0), TooLittle)
    assert chapman(5, 4, 0, 0.95).total == 29
    assert math.isinf(chapman(5, 4, 0, 0.95).high_exact)


def test_the_same_finds_leave_nothing():
    assert lincoln_petersen(8, 8, 8).left == 0
    assert chapman(8, 8, 8, 0.95).left == 0
    # By hand: with 9 there the same eight are found with chance 1/9, with 10 with 1/45, below 0.025.
    assert (chapman(8, 8, 8, 0.95).low_exact, chapman(8, 8, 8, 0.95).high_exact) == (8, 9)
    assert paired_relook(8, 8, 8, 0.95).by_first.share == 1
    assert paired_relook(8, 8, 8, 0.95).by_first.low < 0.7


def test_the_first_looks_share_is_of_what_the_second_found():
    answer = paired_relook(25, 20, 15, 0.95)

    assert answer.by_first.inspected == 20
    assert answer.by_second.inspected == 25


def test_a_second_look_that_found_nothing_judges_nobody():
    assert isinstance(paired_relook(6, 0, 0, 0.95), TooLittle)


def test_a_first_look_that_found_nothing_found_none_of_the_seconds():
    answer = paired_relook(0, 6, 0, 0.95)

    assert answer.by_first.share == 0
    assert isinstance(answer.by_second, TooLittle)
    assert answer.by_either == 0


def test_more_in_common_than_found_is_refused():
    with pytest.raises(ValueError, match=r"both must be at most what each look found \(3 and 5\), got 4"):
        lincoln_petersen(3, 5, 4)


@pytest.mark.parametrize(("first", "second", "both"), [(1, 4, 1), (12, 9, 4), (60, 80, 1), (300, 200, 20)])
def test_the_exact_limits_are_the_least_and_greatest_that_the_overlap_leaves(first, second, both):
    # Against scipy.stats.hypergeom; 1 of 1 and 4 is on the bound itself at 160 and so ruled out there.
    answer = chapman(first, second, both, 0.95)
    low, high = int(answer.low_exact), int(answer.high_exact)
    bound = 0.025 * (1 + 1e-9)

    assert hypergeom(low, first, second).cdf(both) > bound
    assert low == first + second - both or hypergeom(low - 1, first, second).cdf(both) <= bound
    assert hypergeom(high, first, second).sf(both - 1) > bound >= hypergeom(high + 1, first, second).sf(both - 1)


def test_looks_at_very_many_defects_are_answered_at_once():
    answer = chapman(100_000, 100_000, 10, 0.95)

    assert answer.low_exact < answer.total < answer.high_exact
