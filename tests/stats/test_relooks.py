"""Inspectors on the same units. Fisher's test and the exact intervals are checked in tests/reference."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.change.comparison import fisher_exact
from qc.stats.looks.relooks import shares_found


def test_each_is_tested_against_all_the_others_with_holms_factor():
    """By hand: three looked at, so the smallest p-value is taken three times."""
    answer = shares_found((18, 40, 42), (30, 45, 46), ("I1", "I2", "I3"), 0.95)

    assert answer.inspectors[0].p_value == pytest.approx(3 * fisher_exact(18, 12, 82, 9).p_value)
    assert answer.inspectors[0].stands_out
    assert answer.inspectors[0].finds_fewer
    assert answer.inspectors[0].others.inspected == 91


def test_everybody_alike_names_nobody():
    answer = shares_found((36, 40, 38), (40, 45, 43), ("I1", "I2", "I3"), 0.95)

    assert not any(one.stands_out for one in answer.inspectors)


def test_none_and_all_found_have_intervals():
    answer = shares_found((0, 12), (12, 12), ("I1", "I2"), 0.95)

    assert answer.inspectors[0].found.low == 0
    assert answer.inspectors[1].found.high == 1


def test_an_inspector_nobody_looked_after_is_named_and_not_compared():
    answer = shares_found((9, 0, 8), (10, 0, 10), ("I1", "I2", "I3"), 0.95)

    assert answer.too_few == ("I2",)
    assert isinstance(shares_found((9, 0), (10, 0), ("I1", "I2"), 0.95), TooLittle)


def test_alike_inspectors_are_called_different_no_oftener_than_the_level_says():
    """Simulation with known truth, seeded: four inspectors who all find 0.9, level 0.95, 500 trials."""
    source, finds = np.random.default_rng(51), (60, 55, 70, 20)
    calls = 0
    for _ in range(500):
        answer = shares_found(source.binomial(finds, 0.9).tolist(), finds, tuple("abcd"), 0.95)
        calls += any(one.stands_out for one in answer.inspectors)

    assert calls / 500 <= 0.07


def test_more_in_common_than_the_second_found_is_refused():
    with pytest.raises(ValueError, match=r"second must be at least both \(5\), got 4 for 'I1'"):
        shares_found((5, 1), (4, 3), ("I1", "I2"), 0.95)


finds = st.integers(0, 40).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(each=st.lists(finds, min_size=2, max_size=6))
def test_the_order_of_inspectors_does_not_matter(each):
    both, second = zip(*each, strict=True)
    names = [f"I{place}" for place in range(len(each))]
    one, other = shares_found(both, second, names, 0.95), shares_found(both[::-1], second[::-1], names[::-1], 0.95)

    if isinstance(one, TooLittle):
        assert other == one
        return
    assert {inspector.label: (inspector.found, inspector.stands_out) for inspector in one.inspectors} == {
        inspector.label: (inspector.found, inspector.stands_out) for inspector in other.inspectors
    }
    assert sorted(one.too_few) == sorted(other.too_few)
