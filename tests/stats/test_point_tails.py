"""Tails of a period's count after a baseline, against scipy's negative binomial distribution."""

import pytest
from scipy.stats import nbinom

from qc.stats.point_tails import at_least, at_most


@pytest.mark.parametrize("count", [0, 1, 7, 30])
@pytest.mark.parametrize(("defects", "size"), [(0, 0.1), (12, 0.125), (80, 0.3)])
def test_tails_are_those_of_the_negative_binomial(count, defects, size):
    law = nbinom(defects + 0.5, 1 / (1 + size))

    assert at_least(count, defects, size) == pytest.approx(law.sf(count - 1), rel=1e-9)
    assert at_most(count, defects, size) == pytest.approx(law.cdf(count), rel=1e-9)


def test_a_count_below_nought_is_named():
    with pytest.raises(ValueError, match="count"):
        at_least(-1, 3, 0.5)
