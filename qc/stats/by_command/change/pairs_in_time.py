"""What every pair of values in time order says: how many rise and fall, and the median slope.

Of a series without impossible values, which whoever calls has checked. scipy has both only within a test that takes
long to import.
"""

from collections.abc import Sequence
from math import inf
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FEW = 200  # values: of no more, the slopes of all pairs are put in order
SAMPLE = 40_000  # pairs: their middle hundredth and one to either side hold the median but once in thousands


def rises_less_falls(y: Sequence[float]) -> int:
    """Return the pairs that rise less those that fall, bit by bit of the values' ranks.

    Two ranks are told apart by the highest bit in which they differ: among values with all higher bits alike, a pair
    rises where that bit is 0 first and 1 later. So each pair is counted once, all of them in n log n.
    """
    import numpy as np

    ranks = np.unique(np.array(y), return_inverse=True)[1]
    ones_later = zeros_later = 0
    for bit in range(int(ranks.max()).bit_length()):
        together = ranks >> (bit + 1)
        order = np.argsort(together, kind="stable")
        ones = (ranks[order] >> bit) & 1
        starts = np.flatnonzero(np.diff(together[order], prepend=-1))
        sizes = np.diff(starts, append=len(y))
        ones_before = np.cumsum(ones) - ones
        ones_before -= np.repeat(ones_before[starts], sizes)
        zeros_before = np.arange(len(y)) - np.repeat(starts, sizes) - ones_before
        ones_later += int(zeros_before[ones == 1].sum())
        zeros_later += int(ones_before[ones == 0].sum())
    return ones_later - zeros_later


def median_slope(y: Sequence[float]) -> float:
    """Return the median over all pairs of the change for one step (Theil and Sen).

    A sample of pairs says between which two slopes it lies; the pairs below are counted, and only those between are
    held and put in order. Where it does not lie there, all are.
    """
    import numpy as np

    values = np.array(y)
    pairs = len(y) * (len(y) - 1) // 2
    middle = [(pairs - 1) // 2, pairs // 2]
    low, high = _around_the_median(values) if len(y) > FEW else (-inf, inf)
    below, near = _slopes_between(values, low, high)
    if not below <= middle[0] <= middle[1] < below + len(near):
        below, near = _slopes_between(values, -inf, inf)
    at = [place - below for place in middle]
    return float(np.mean(np.partition(near, at)[at]))


def _around_the_median(values: "NDArray[np.float64]") -> tuple[float, float]:
    import numpy as np

    source = np.random.default_rng(1)  # any sample will do: what it says is checked
    first, second = np.sort(source.integers(len(values), size=(2, SAMPLE)), axis=0)
    first, second = first[first < second], second[first < second]
    with np.errstate(over="ignore"):
        slopes = np.sort((values[second] - values[first]) / (second - first))
    return float(slopes[int(0.49 * len(slopes))]), float(slopes[int(0.51 * len(slopes))])


def _slopes_between(values: "NDArray[np.float64]", low: float, high: float) -> "tuple[int, NDArray[np.float64]]":
    """Return how many slopes lie below the lower one, and all that lie between the two, both included."""
    import numpy as np

    steps, room, below = np.arange(1.0, len(values)), np.empty(len(values)), 0
    near = []
    with np.errstate(over="ignore"):  # a rise beyond any number is one all the same
        for i in range(len(values) - 1):
            slopes = np.subtract(values[i + 1 :], values[i], out=room[: len(values) - 1 - i])
            slopes /= steps[: len(slopes)]
            kept = slopes >= low
            below += len(slopes) - int(np.count_nonzero(kept))
            kept &= slopes <= high
            near.append(slopes[kept])
    return below, np.concatenate(near)
