"""Between what the best divisions of simulated series cost, without a search: most need none.

What a step asks of a simulated series is whether its gain reaches the one that was seen. Bounds tell that of most; what
they leave open is searched.
"""

import math
from typing import TYPE_CHECKING

from qc.stats.change.segments import entropies, exposures_to

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

BLOCK = 16  # periods that a least cost is worked out from together
FINE = 0.05  # log likelihood that a chord may lie above a stretch of the usual rate
FAR = 2.5  # standard errors: the further off a rate, the shorter its stretches, and the wider its chords may be
HARDLY = 1e-6  # part of all defects that a stretch without any is taken to have
NEXT_TO_NONE = 7  # logarithms below the lowest usual rate where the chord from a rate of 0 ends
ROUNDED = 1e-9  # how far a rate may come out beyond the lowest and the highest of all periods
WINDOW = 4  # periods from which more would narrow the rates little
TINY = 1e-6  # defects expected, instead of none
SINGLE, DOUBLE = 2.0**-24, 1e-13  # what one step of single precision rounds, and some steps of double precision
HELD = 20_000  # numbers of single precision of each kind at work: what fits a processor's own memory


def poisson_least_costs(
    defects: "NDArray[np.int64]", units: "NDArray[np.float64]", cuts: tuple[int, ...], most: int
) -> "NDArray[np.float64]":
    """Return of each series what the stretches between given cuts cost, and below what none with 1, 2 ... most costs.

    series by cuts, as best_costs, but cheap: more cuts never cost more, so a division costs no less than one with a cut
    at every block's edge and at every period of those blocks, as many as it has cuts, where that spares most.
    """
    import numpy as np

    length, total = defects.shape[1], int(defects.sum(axis=1).max(initial=0))
    entropy_of = entropies(total)

    def costs(edges: "NDArray[np.int64]") -> "NDArray[np.float64]":
        c, t = np.add.reduceat(defects, edges, axis=1), np.add.reduceat(units, edges, axis=1)
        worth = np.empty(c.shape)
        entropy_of(c, worth)
        worth -= c * (np.log(t) + 1)
        return np.multiply(worth, -2, out=worth)

    blocks = np.arange(0, length, BLOCK)
    whole, apart = costs(blocks), np.add.reduceat(costs(np.arange(length)), blocks, axis=1)
    spared = -np.sort(apart - whole, axis=1)[:, :most]
    spared = np.pad(spared, ((0, 0), (0, most - spared.shape[1])))
    given = costs(np.array((0, *cuts))).sum(axis=1)
    rounded = DOUBLE * total * (1 + float(np.abs(np.log(units)).max()) + math.log(max(1, total)))
    return np.column_stack([given + rounded, whole.sum(axis=1)[:, None] - spared.cumsum(axis=1) - rounded])


def poisson_cost_bounds(
    defects: "NDArray[np.int64]", units: "NDArray[np.float64]", cuts: tuple[int, ...], shortest: int, most: int
) -> "tuple[NDArray[np.float64], NDArray[np.float64]]":
    """Return below and above what the best divisions with 0, 1 ... most cuts cost: two arrays, series by cuts.

    defects: series by periods, at least one in all; units: one row, more than 0; cuts: where the rate of the series
    changes as far as known, which decides how wide the bounds are, not whether they hold: above what fewer cuts than
    these cost stands infinity. The costs are those of best_costs less what one rate for all costs. The log likelihood
    of a stretch is convex in its rate: it lies below chords. For such lines the best division takes one pass over the
    periods for each line, where the best one of all looks at every stretch (so Rigaill 2015, J. Soc. Fr. Stat. 156,
    180-205, who keeps every rate instead). What single precision may round is added to the bound. No best division
    costs more than the one that is found on the way back over what the passes reached.
    """
    import numpy as np

    shortest, starts = max(1, shortest), (0, *cuts)
    found, exposed = np.add.reduceat(defects.mean(axis=0), starts), np.add.reduceat(units[0], starts)
    lowest, highest = _rates_between(defects, units[0], shortest)
    nodes = _nodes(found, exposed, lowest=lowest, highest=highest)
    together, middle = max(16, HELD // len(nodes)), float(found.sum() / exposed.sum())
    parts = [
        _bounds(defects[first : first + together], units[0], middle, shortest, (len(cuts), most), nodes)
        for first in range(0, len(defects), together)
    ]
    below, above = np.concatenate(parts, axis=2)
    return below.T, above.T


def _rates_between(defects: "NDArray[np.int64]", units: "NDArray[np.float64]", shortest: int) -> tuple[float, float]:
    """Return below and above the rate of every stretch: each falls into windows of one to nearly two shortest ones."""
    import numpy as np

    first = min(shortest, WINDOW)
    counted, exposed, lowest, highest = np.ascontiguousarray(defects.T), units, math.inf, 0.0
    more = counted.copy()
    for length in range(1, min(2 * first, len(units) + 1)):
        if length > 1:
            more, exposed = more[:-1], exposed[:-1] + units[length - 1 :]
            more += counted[length - 1 :]
        if length >= first:
            lowest = min(lowest, float((more.min(axis=1) / exposed).min()))
            highest = max(highest, float((more.max(axis=1) / exposed).max()))
    return lowest, highest


def _nodes(
    defects: "NDArray[np.float64]", units: "NDArray[np.float64]", *, lowest: float, highest: float
) -> "NDArray[np.float64]":
    """Return the rates that chords go through, from below the lowest to above the highest.

    Near the rate of a stretch they stand so close that it loses FINE.
    """
    import numpy as np

    centres = np.log(np.maximum(defects, HARDLY * defects.sum()) / units)
    near, wider = np.sqrt(8 * FINE / np.maximum(defects, FINE)), math.sqrt(8 * FINE) / FAR
    at = math.log(lowest * (1 - ROUNDED)) if lowest > 0 else min(float(centres.min()), math.log(highest)) - NEXT_TO_NONE
    nodes = [math.exp(at)] if lowest > 0 else [0.0, math.exp(at)]
    while nodes[-1] <= highest * (1 + ROUNDED):
        at += float(np.maximum(near, wider * np.abs(at - centres)).min())
        nodes.append(math.exp(at))
    return np.array(nodes)


def _bounds(
    defects: "NDArray[np.int64]",
    units: "NDArray[np.float64]",
    middle: float,
    shortest: int,
    span: tuple[int, int],
    nodes: "NDArray[np.float64]",
) -> "NDArray[np.float64]":
    """Return the bounds of series that fit a processor's memory: below and above by cuts by series.

    span: fewest cuts that are bounded above, and most. Log likelihoods are less those of one rate for all, the middle,
    so that numbers stay small.
    """
    import numpy as np

    length, series, (fewest, most) = len(units), len(defects), span
    held = np.zeros((length + 1, series), np.int64)
    np.cumsum(defects.T, axis=0, out=held[1:])
    exposed = np.concatenate([[0.0], np.cumsum(units)])
    at_nodes = _worth(nodes, np.ones(1), middle)
    slopes = np.diff(at_nodes) / np.diff(nodes)
    # a stretch of c defects on t units is worth at most c * slope + t * level of its best line
    levels = at_nodes[:-1] - slopes * nodes[:-1]
    beyond, beside = held - middle * exposed[:, None], exposed[:, None] * (levels + middle * slopes)
    size = float((np.abs(beyond).max() * np.abs(slopes) + np.abs(beside).max(axis=0)).max())
    rise, over, next_to = (part.astype(np.float32) for part in (slopes[:, None], beyond, beside[..., None]))

    # best[cuts, end, series]; opened[cuts, ...]: the best that a line can start from, less what the line itself is
    # worth up to there
    best = np.full((most + 1, length + 1, series), -np.inf, np.float32)
    best[0, shortest:] = _counted_worth(held[shortest:], exposed[shortest:, None], middle)
    kind, between = (len(slopes), series), max(0, most - 1)
    opened, room = np.full((between, *kind), -np.inf, np.float32), np.empty((between, *kind), np.float32)
    lines = np.empty((shortest + 1, *kind), np.float32)
    for end in range(shortest, length + 1):
        line = lines[end % len(lines)]
        np.multiply(over[end], rise, out=line)
        np.add(line, next_to[end], out=line)
        if (start := end - shortest) < shortest:
            continue
        np.subtract(best[:between, start, None], lines[start % len(lines)], out=room)
        np.maximum(opened, room, out=opened)
        np.add(opened, line, out=room)
        room.max(axis=1, out=best[1 : between + 1, end])
    starts = slice(shortest, length - shortest + 1)
    last = _counted_worth(held[-1] - held[starts], exposures_to(units, length)[starts, None], middle)
    undivided = _counted_worth(held[-1], exposed[-1:], middle)
    greatest, found = [undivided], [undivided]
    for cuts in range(most):
        whole = best[cuts, starts] + last
        greatest.append(whole.max(axis=0, initial=-np.inf))
        if cuts + 1 < fewest or (cuts + 2) * shortest > length:
            found.append(np.full(series, -np.inf))
        else:
            divided = _traced(best[: cuts + 1], over, exposed * middle, shortest, whole.argmax(axis=0) + shortest)
            found.append(_total(defects, units, divided, middle))

    largest = float(np.abs(best, where=np.isfinite(best), out=np.zeros_like(best)).max())
    double = DOUBLE * held[-1].max() * (1 + np.abs(slopes).max())
    # a line is off by 4 steps of its size, at a stretch's start and at its end; there two sums of up to twice are taken
    rounded = SINGLE * (most + 1) * (11 * size + 3 * largest) + double
    return np.stack([-2 * (np.stack(greatest) + rounded), -2 * (np.stack(found) - double)])


def _traced(
    best: "NDArray[np.float32]",
    over: "NDArray[np.float32]",
    expected: "NDArray[np.float64]",
    shortest: int,
    last: "NDArray[np.int64]",
) -> "NDArray[np.int64]":
    """Return good cuts of each series, in order, going back from its last one: cuts by series.

    best: as in _bounds, with 0, 1 ... cuts before the last one; over: defects up to each period beyond those expected
    there. Rough figures do: whatever comes out is a division.
    """
    import numpy as np

    ends, found = last, [last]
    # (1 + x) log(1 + x) - x is nearly x * x / (2 + 2 x / 3)
    size, places = (2 * expected[:, None] + 2 / 3 * over).astype(np.float32), np.arange(len(over))[:, None]
    for reached in best[-2::-1]:
        most = int(ends.max()) - shortest + 1
        more = np.take_along_axis(over, ends[None], axis=0) - over[:most]
        least = np.take_along_axis(size, ends[None], axis=0) - size[:most]
        np.multiply(more, more, out=more)
        more /= np.maximum(least, np.float32(TINY), out=least)
        more += reached[:most]
        more[places[:most] > ends - shortest] = -np.inf
        ends = more.argmax(axis=0)
        found.append(ends)
    return np.stack(found[::-1])


def _total(
    defects: "NDArray[np.int64]", units: "NDArray[np.float64]", cuts: "NDArray[np.int64]", middle: float
) -> "NDArray[np.float64]":
    """Return what each series is worth in stretches of its own, cuts by series."""
    import numpy as np

    firsts = np.arange(len(defects)) * len(units)
    starts = np.concatenate([firsts[None], cuts + firsts]).T.ravel()
    found, exposed = np.add.reduceat(defects.ravel(), starts), np.add.reduceat(np.tile(units, len(defects)), starts)
    return np.asarray(_counted_worth(found, exposed, middle).reshape(len(defects), -1).sum(axis=1))


def _worth(defects: "NDArray[np.float64]", units: "NDArray[np.float64]", rate: float) -> "NDArray[np.float64]":
    """Return the log likelihood of stretches under rates of their own, less that under the rate given."""
    import numpy as np
    from scipy.special import xlogy

    return np.asarray(xlogy(defects, defects / (rate * units)) - (defects - rate * units))


def _counted_worth(defects: "NDArray[np.int64]", units: "NDArray[np.float64]", rate: float) -> "NDArray[np.float64]":
    """Return the same for whole numbers of defects, whose logarithms are looked up."""
    import numpy as np

    worth = np.empty(defects.shape)
    entropies(int(defects.max(initial=0)))(defects, worth)
    worth -= defects * (np.log(rate * units) + 1)
    worth += rate * units
    return worth
