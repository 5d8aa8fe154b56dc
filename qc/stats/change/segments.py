"""The best division of a series into stretches of one rate or one mean, for any number of cuts.

Dynamic programming over all divisions; neither scipy nor statsmodels divides series.
"""

from collections.abc import Callable
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

AT_ONCE = 200  # series searched together: what is at work stays in the processor's own memory
TABLE = 1_000_000  # defects in all from which logarithms are no longer looked up


def poisson_costs(defects: "NDArray[np.int64]", units: "NDArray[np.float64]", shortest: int) -> "NDArray[np.float64]":
    """Return minus twice the log likelihood of every stretch: costs[series, start, end], end not included.

    defects: series by periods; units, more than 0: one row for all series. Stretches shorter than ``shortest`` cost
    infinity.
    """
    import numpy as np
    from scipy.special import xlogy

    ends = defects.shape[1] + 1
    start, end = np.triu_indices(ends, max(1, shortest))  # half of all pairs are no stretch: not worked out
    held = _running(defects)
    c = held[:, end] - held[:, start]
    t = np.concatenate([np.cumsum(units[0, first:])[max(1, shortest) - 1 :] for first in range(ends - 1)])
    costs = np.full((len(defects), ends, ends), np.inf)
    costs[:, start, end] = -2 * (xlogy(c, c / t) - c)
    return costs


def mean_costs(values: "NDArray[np.float64]", shortest: int) -> "NDArray[np.float64]":
    """Return the sum of squares about its own mean of every stretch, as poisson_costs."""
    import numpy as np

    centred = values - values.mean(axis=1, keepdims=True)
    lengths = _between(np.ones_like(centred))
    with np.errstate(divide="ignore", invalid="ignore"):
        costs = _between(centred**2) - _between(centred) ** 2 / lengths
    return _only(np.maximum(costs, 0), shortest)


def best_costs(costs: "NDArray[np.float64]", most: int) -> "NDArray[np.float64]":
    """Return the least total cost with 0, 1, ... most cuts: series by cuts."""
    return _forward(costs, most)[:, :, -1]


def poisson_best_costs(
    defects: "NDArray[np.int64]", units: "NDArray[np.float64]", shortest: int, most: int
) -> "NDArray[np.float64]":
    """Return best_costs of poisson_costs without the table of all stretches: many series of many periods at once.

    defects: series by periods, at least one series; units: one row.
    The stretches that end with one period after the other: what is at work stays small. One row for all series of
    each start, so that the best start is sought along whole rows. Sought is the greatest log likelihood.
    """
    import numpy as np

    parts = [defects[first : first + AT_ONCE] for first in range(0, max(1, len(defects)), AT_ONCE)]
    return np.concatenate([_searched(part, units[0], max(1, shortest), most) for part in parts])


def _searched(
    defects: "NDArray[np.int64]", units: "NDArray[np.float64]", shortest: int, most: int
) -> "NDArray[np.float64]":
    import numpy as np

    held = np.ascontiguousarray(_running(defects).T)
    counted = held.astype(np.int64)
    entropy_of, (ends, series) = entropies(int(counted[-1].max(initial=0))), held.shape
    best = np.full((most + 1, ends, series), -np.inf)
    counts = np.empty((ends, series), dtype=np.int64)
    gained, room = np.empty((ends, series)), np.empty((ends, series))
    for end in range(shortest, ends):
        starts = end - shortest + 1
        c, gain, work = counts[:starts], gained[:starts], room[:starts]
        np.subtract(counted[end], counted[:starts], out=c)
        entropy_of(c, gain)
        np.subtract(held[end], held[:starts], out=work)  # the same once more: turning c into it takes longer
        work *= np.log(exposures_to(units, end)[:starts, None]) + 1
        gain -= work
        best[0, end] = gain[0]
        for cuts in range(1, most + 1) if end == ends - 1 else range(1, most):
            np.add(best[cuts - 1, :starts], gain, out=work)
            work.max(axis=0, out=best[cuts, end])
    return np.asarray(-2 * best[:, -1].T)


def exposures_to(units: "NDArray[np.float64]", end: int) -> "NDArray[np.float64]":
    """Return the units from each period to ``end``, not included.

    Summed from there: as a difference of running sums, few units would vanish beside many.
    """
    import numpy as np

    return np.asarray(np.cumsum(units[end - 1 :: -1])[::-1])


def entropies(total: int) -> "Callable[[NDArray[np.int64], NDArray[np.float64]], object]":
    """Return what writes c log c of whole numbers up to the total; looked up unless that are too many."""
    import numpy as np
    from scipy.special import xlogy

    if total >= TABLE:
        return lambda c, into: xlogy(c, c, out=into)
    table = _table(1 << total.bit_length())
    return lambda c, into: np.take(table, c, out=into, mode="clip")  # no count lies outside; to ask costs a copy


@lru_cache(maxsize=4)
def _table(size: int) -> "NDArray[np.float64]":
    import numpy as np
    from scipy.special import xlogy

    return np.asarray(xlogy(np.arange(size), np.arange(size)))


def best_cuts(costs: "NDArray[np.float64]", cuts: int) -> tuple[int, ...]:
    """Return the ends (not included) of all stretches but the last, for the least total cost of one series."""
    table = _forward(costs[None], cuts)[0]
    end, ends = costs.shape[0] - 1, []
    for left in range(cuts, 0, -1):
        end = int((table[left - 1] + costs[:, end]).argmin())
        ends.append(end)
    return tuple(reversed(ends))


def _forward(costs: "NDArray[np.float64]", most: int) -> "NDArray[np.float64]":
    """Return the least cost of the first ``end`` periods with so many cuts: series by cuts by end."""
    import numpy as np

    table = [costs[:, 0, :]]
    for _ in range(most):
        table.append((table[-1][:, :, None] + costs).min(axis=1))
    return np.stack(table, axis=1)


def _between(values: "NDArray[np.float64] | NDArray[np.int64]") -> "NDArray[np.float64]":
    """Return the sum of every stretch: sums[series, start, end]."""
    import numpy as np

    running = _running(values)
    return np.asarray(running[:, None, :] - running[:, :, None])


def _running(values: "NDArray[np.float64] | NDArray[np.int64]") -> "NDArray[np.float64]":
    """Return the sum of the first 0, 1, 2 … periods of each series."""
    import numpy as np

    return np.concatenate([np.zeros((len(values), 1)), np.cumsum(values, axis=1)], axis=1)


def _only(costs: "NDArray[np.float64]", shortest: int) -> "NDArray[np.float64]":
    import numpy as np

    places = np.arange(costs.shape[1])
    allowed = places[None, :] - places[:, None] >= shortest
    return np.where(allowed[None], costs, np.inf)
