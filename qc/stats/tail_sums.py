"""Which counts of a long law hold all of its probability that a number can hold."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# In standard deviations of the widest law of this mean: beyond, probabilities are below 1e-300.
FAR = 40.0


def near_mean(lowest: int, highest: int, mean: float, least: int, most: int) -> "NDArray[np.int64]":
    """Return the counts from least to most of a law on lowest..highest that lie near its mean; at least one.

    For laws no wider than Poisson's of the same mean or of the same distance from the highest (binomial,
    hypergeometric). A range that lies wholly beyond is told by its end nearest to the mean.
    """
    import numpy as np

    reach = FAR * (1 + max(0.0, min(mean - lowest, highest - mean)) ** 0.5) + FAR
    first, last = max(least, lowest, int(mean - reach)), min(most, highest, int(mean + reach) + 1)
    if first > last:
        return np.array([max(least, lowest) if mean < max(least, lowest) else min(most, highest)])
    return np.arange(first, last + 1)
