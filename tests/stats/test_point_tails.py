"""Tails of a period's count after a baseline, against scipy's negative binomial distribution."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import nbinom

from qc.stats.charts.point_tails import at_least, at_most


@pytest.mark.parametrize("count", [0, 1, 7, 30])
@pytest.mark.parametrize(("defects", "size"), [(0, 0.1), (12, 0.125), (80, 0.3)])
def test_tails_are_those_of_the_negative_binomial(count, defects, size):
    law = nbinom(defects + 0.5, 1 / (1 + size))

    assert at_least(count, defects, size) == pytest.approx(law.sf(count - 1), rel=1e-9)
    assert at_most(count, defects, size) == pytest.approx(law.cdf(count), rel=1e-9)


def test_a_count_below_nought_is_named():
    with pytest.raises(ValueError, match="defects"):
        at_least(-1, 3, 0.5)


@given(count=st.integers(0, 60), defects=st.integers(0, 200), size=st.floats(0.01, 5))
def test_the_two_tails_are_one_together_and_fall_with_the_count(count, defects, size):
    assert at_most(count, defects, size) + at_least(count + 1, defects, size) == pytest.approx(1)
    assert at_least(count + 1, defects, size) <= at_least(count, defects, size)
    assert at_most(count, defects, size) <= at_most(count + 1, defects, size)
