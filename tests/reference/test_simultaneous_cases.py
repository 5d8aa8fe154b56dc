"""Simultaneous intervals against the published examples (they run through statsmodels, so this checks the wiring)."""

import numpy as np
import pytest

from qc.stats.by_command.intervals.simultaneous import goodman_intervals, sison_glaz_intervals
from qc.stats.series import counts_of


@pytest.mark.parametrize(
    ("name", "intervals"), [("multi-goodman-1", goodman_intervals), ("multi-sison-glaz-1", sison_glaz_intervals)]
)
def test_the_intervals_are_the_published_ones(case, name, intervals):
    facts = case(name)
    counts = facts.given["counts"]

    answer = intervals(counts_of(counts, tuple("abcdefg")), 0.95)

    facts.agrees("low", list(answer.low))
    facts.agrees("high", list(answer.high))


def test_fifty_equal_categories_give_the_published_interval():
    """Source: Sison & Glaz (1995), example 2, value as in the statsmodels test suite (0, 0.05304026)."""
    answer = sison_glaz_intervals(counts_of((5,) * 50, tuple(map(str, range(50)))), 0.95)

    assert set(answer.low) == {0.0}
    assert answer.high == pytest.approx((0.05304026,) * 50, abs=1e-4)


def test_goodmans_formula_by_hand():
    """Source: Goodman (1965): (q + 2x ± sqrt(q(q + 4x(n-x)/n))) / (2(n+q)), q the 1 - 0.05/k chi-square quantile."""
    from scipy.special import chdtri

    counts = np.array([3, 0, 41])
    q, n = chdtri(1, 0.05 / 3), 44
    half = np.sqrt(q * (q + 4 * counts * (n - counts) / n))

    answer = goodman_intervals(counts_of(counts.tolist(), ("a", "b", "c")), 0.95)

    assert answer.low == pytest.approx(np.maximum((q + 2 * counts - half) / (2 * (n + q)), 0))
    assert answer.high == pytest.approx((q + 2 * counts + half) / (2 * (n + q)))
