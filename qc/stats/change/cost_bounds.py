"""Between what the best divisions of simulated series cost, without a search: most need none.

What a step asks of a simulated series is whether its gain reaches the one that was seen. Bounds tell that of most; what
they leave open is searched.
"""

import math
from typing import TYPE_CHECKING

from qc.stats.change.segments import exposures_to

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

BLOCK = 16  # periods that a least cost is worked out from together
FINE = 0.05  # log likelihood that chord and tangent may lie apart for a stretch of the usual rate
FAR = 2.5  # standard errors: the further off a rate, the shorter its stretches, and the wider its chords may be
HARDLY = 1e-6  # part of all defects that a stretch without any is taken to have
NEXT_TO_NONE = 7  # logarithms below the lowest usual rate where the chord from a rate of 0 ends
ROUNDED = 1e-9  # how far a rate may come out beyond the lowest and the highest of all periods
SINGLE, DOUBLE = 2.0**-24, 1e-13  # what one step of single precision rounds, and some steps of double precision
HELD = 40_000  # numbers of single precision of each kind at work: what fits a processor's own memory


def poisson_least_costs(
    defects: "NDArray[np.int64]", units: "NDArray[np.float64]", cuts: tuple[int, ...], most: int
) -> "NDArray[np.float64]":
    """Return of each series what the stretches between given cuts cost, and below what none with 1, 2 ... most costs.

    series by cuts, as best_costs, but cheap: more cuts never cost more, so a division costs no less than one with a cut
    at every block's edge and at every period of those blocks, as many as it has cuts, where that spares most.
    """
    import numpy as np
    from scipy.special import xlogy

    length = defects.shape[1]

    def costs(edges: "NDArray[np.int64]") -> "NDArray[np.float64]":
        c, t = np.add.reduceat(defects, edges, axis=1), np.add.reduceat(units, edges, axis=1)
        return np.asarray(-2 * (xlogy(c, c / t) - c))

    blocks = np.arange(0, length, BLOCK)
    whole, apart = costs(blocks), np.add.reduceat(costs(np.arange(length)), blocks, axis=1)
    spared = -np.sort(apart - whole, axis=1)[:, :most]
    spared = np.pad(spared, ((0, 0), (0, most - spared.shape[1])))
    given = costs(np.array((0, *cuts))).sum(axis=1)
    return np.column_stack([given, whole.sum(axis=1)[:, None] - spared.cumsum(axis=1)])


def poisson_cost_bounds(
    defects: "NDArray[np.int64]", units: "NDArray[np.float64]", cuts: tuple[int, ...], shortest: int, most: int
) -> "tuple[NDArray[np.float64], NDArray[np.float64]]":
    """Return below and above what the best divisions with 0, 1 ... most cuts cost: two arrays, series by cuts.

    defects: series by periods, at least one in all; units: one row, more than 0; cuts: where the rate of the series
    changes as far as known, which decides how wide the bounds are, not whether they hold. The costs are those of
    best_costs less what one rate for all costs. The log likelihood of a stretch is convex in its rate: it lies
    below chords and above the tangents parallel to them. For such lines the best division takes one pass over the
    periods for each line, where the best one of all looks at every stretch (so Rigaill 2015, J. Soc. Fr. Stat. 156,
    180-205, who keeps every rate instead). What single precision may round is added to the bounds.
    """
    import numpy as np

    shortest, starts = max(1, shortest), (0, *cuts)
    found, exposed = np.add.reduceat(defects.mean(axis=0), starts), np.add.reduceat(units[0], starts)
    single = defects / units
    nodes = _nodes(found, exposed, lowest=float(single.min()), highest=float(single.max()))
    together, middle = max(16, HELD // (2 * len(nodes))), float(found.sum() / exposed.sum())
    parts = [
        _bounds(defects[first : first + together], units[0], middle, shortest, most, nodes)
        for first in range(0, len(defects), together)
    ]
    below, above = np.concatenate(parts, axis=2)
    return below.T, above.T


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
    most: int,
    nodes: "NDArray[np.float64]",
) -> "NDArray[np.float64]":
    """Return the bounds of series that fit a processor's memory: below and above by cuts by series.

    Log likelihoods are less those of one rate for all, the middle, so that numbers stay small.
    """
    import numpy as np

    length, series = len(units), len(defects)
    held = np.concatenate([np.zeros((1, series)), np.cumsum(defects, axis=1).T])
    exposed = np.concatenate([[0.0], np.cumsum(units)])
    at_nodes = _worth(nodes, np.ones(1), middle)
    slopes = np.diff(at_nodes) / np.diff(nodes)
    # a stretch of c defects on t units is worth c * slope + t * level of its best line: under chords, over tangents
    levels = np.stack([at_nodes[:-1] - slopes * nodes[:-1], middle - middle * np.exp(slopes)])
    beyond, beside = held - middle * exposed[:, None], exposed[:, None, None] * (levels + middle * slopes)
    size = float((np.abs(beyond).max() * np.abs(slopes) + np.abs(beside).max(axis=(0, 1))).max())
    rise, over, next_to = (part.astype(np.float32) for part in (slopes[:, None], beyond, beside[..., None]))

    # best[cuts, end, chords or tangents, 0, series]; opened[cuts, ...]: the best that a line can start from, less what
    # the line itself is worth up to there
    best = np.full((most + 1, length + 1, 2, 1, series), -np.inf, np.float32)
    best[0, shortest:, :, 0] = _worth(held[shortest:], exposed[shortest:, None], middle)[:, None]
    kind = (2, len(slopes), series)
    opened, room = np.full((most, *kind), -np.inf, np.float32), np.empty(kind, np.float32)
    lines, sloped = np.empty((shortest + 1, *kind), np.float32), np.empty(kind[1:], np.float32)
    for end in range(shortest, length + 1):
        line = lines[end % len(lines)]
        np.multiply(over[end], rise, out=sloped)
        np.add(sloped, next_to[end], out=line)
        if (start := end - shortest) < shortest:
            continue
        for cuts in range(1, most):
            np.subtract(best[cuts - 1, start], lines[start % len(lines)], out=room)
            np.maximum(opened[cuts], room, out=opened[cuts])
            np.add(opened[cuts], line, out=room)
            room.max(axis=1, out=best[cuts, end, :, 0])
    starts = slice(shortest, length - shortest + 1)
    last = _worth(held[-1] - held[starts], exposures_to(units, length)[starts, None], middle)[:, None]
    divided = ((best[cuts, starts, :, 0] + last).max(axis=0, initial=-np.inf) for cuts in range(most))
    greatest = np.stack([best[0, -1, :, 0], *divided])

    largest = float(np.abs(best, where=np.isfinite(best), out=np.zeros_like(best)).max())
    # a line is off by 4 steps of its size, at a stretch's start and at its end; there two sums of up to twice are taken
    rounded = SINGLE * (most + 1) * (11 * size + 3 * largest) + DOUBLE * held[-1].max() * (1 + np.abs(slopes).max())
    return np.stack([-2 * (greatest[:, 0] + rounded), -2 * (greatest[:, 1] - rounded)])


def _worth(defects: "NDArray[np.float64]", units: "NDArray[np.float64]", rate: float) -> "NDArray[np.float64]":
    """Return the log likelihood of stretches under rates of their own, less that under the rate given."""
    import numpy as np
    from scipy.special import xlogy

    return np.asarray(xlogy(defects, defects / (rate * units)) - (defects - rate * units))
