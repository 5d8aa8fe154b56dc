"""Which neighbours of a Pareto could stand the other way round by chance, in each of its orders."""

from collections.abc import Sequence
from itertools import pairwise

from qc.reports.asking import LEVEL
from qc.stats.answers import TooLittle
from qc.stats.causes.pareto import ParetoBar, could_swap
from qc.stats.intervals.one_sample import clopper_pearson_interval


def swaps_by_count(bars: Sequence[ParetoBar]) -> tuple[bool, ...]:
    """Return for each bar but the last whether it and the next could swap; amounts are counts themselves.

    Two bars of nothing are no order that chance could turn round.
    """
    amounts = [int(bar.amount) for bar in bars]
    either = could_swap(amounts, LEVEL)
    return tuple(swap and one + two > 0 for swap, (one, two) in zip(either, pairwise(amounts), strict=True))


def swaps_by_weight(bars: Sequence[ParetoBar]) -> tuple[bool, ...]:
    """Return the same where one defect of a bar weighs as much as any other of it (a type's usual minutes).

    Given the defects of both, two bars of equal weighted rates split them as the weights of the other: the exact
    conditional test of could_swap with a coin that is not fair (Przyborowski & Wilenski 1940), read off the interval.
    """
    return tuple(_even(one, two) for one, two in pairwise(bars))


def _even(one: ParetoBar, two: ParetoBar) -> bool:
    if not one.count or not two.count or not one.amount or not two.amount:
        return False
    weights = one.amount / one.count, two.amount / two.count
    share = clopper_pearson_interval(one.count, one.count + two.count, LEVEL)
    return not isinstance(share, TooLittle) and share.low <= weights[1] / sum(weights) <= share.high
