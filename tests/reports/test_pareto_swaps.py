"""Neighbours that could swap, against scipy.stats.binomtest (the reference library): the exact two-sided test.

Twice the smaller tail is compared with 1 - level, which an equal-tailed interval that holds the null share is too.
"""

import pytest
from scipy.stats import binom

from qc.reports.week.pareto_swaps import swaps_by_count, swaps_by_weight
from qc.stats.causes.pareto import ParetoBar

MINUTES = (20.0, 45.0, 8.0, 180.0)


def bars(counts, weights):
    return [
        ParetoBar(f"T{n}", count, count * weight, 0.1, 0.1, (f"T{n}",))
        for n, (count, weight) in enumerate(zip(counts, weights, strict=True))
    ]


def doubled_tail(one, two, even):
    return 2 * min(binom.cdf(one, one + two, even), binom.sf(one - 1, one + two, even))


@pytest.mark.parametrize("counts", [(12, 5, 20, 1), (3, 1, 7, 1), (30, 2, 9, 1), (9, 4, 1, 1)])
def test_minutes_could_swap_where_the_exact_test_does_not_reject(counts):
    drawn = bars(counts, MINUTES)
    expected = tuple(
        doubled_tail(counts[n], counts[n + 1], MINUTES[n + 1] / (MINUTES[n] + MINUTES[n + 1])) >= 0.05 for n in range(3)
    )

    assert swaps_by_weight(drawn) == expected


def test_equal_weights_give_the_marks_of_plain_counts():
    for counts in ((60, 30, 28), (9, 8, 1), (5, 5, 4)):
        assert swaps_by_weight(bars(counts, (7.0,) * 3)) == swaps_by_count(bars(counts, (1.0,) * 3))


def test_bars_of_nothing_do_not_swap():
    assert swaps_by_count(bars((3, 0, 0), (1, 1, 1))) == (True, False)
    assert swaps_by_weight(bars((3, 0, 0), (2.0,) * 3)) == (False, False)
