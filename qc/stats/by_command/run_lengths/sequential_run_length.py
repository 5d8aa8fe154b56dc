"""How long until a cusum or an EWMA signals.

For normal values the run length solves an integral equation, here at Gauss-Legendre nodes; for defects and
for single units the sums move on a lattice and the Markov chain is exact. Neither numpy nor scipy has run
lengths; qc.stats.by_command.run_lengths.first_passage solves the equations.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, inf, sqrt
from typing import TYPE_CHECKING, Any

from qc.stats.by_command.charts.cusum import between, poisson_allowance
from qc.stats.by_command.run_lengths.first_passage import mean_steps
from qc.stats.by_command.run_lengths.run_length import RunLength
from qc.stats.refusals import (
    demand_count,
    demand_inner_share,
    demand_number,
    demand_positive,
    demand_ratio,
    demand_share,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Nodes: at least so many, and no further apart than this in standard deviations of a step.
FEWEST_NODES, APART = 96, 0.45
MOST_NODES = 2_000
# An allowance is a fraction with at most this denominator, so that the lattice stays small.
FINEST = 200
NEARLY = 0.02  # of the shift: how far below the formula's an allowance may lie to be a coarse fraction
COARSE = (1, 2, 4, 5, 10, 20, 25, 50, 100, 200)
MOST_HEIGHTS = 4000
MOST_COUNTS = 20_000  # of one period that the chain tells apart


def normal_cusum_run_length(shift: float, allowance: float, decision: float) -> RunLength:
    """Return the average run length of the two-sided cusum of standardised normal values, both sums from 0.

    shift, allowance (at least 0) and decision (above 0) in standard deviations. 1/ARL = 1/ARL+ + 1/ARL-,
    which holds where one sum can only signal with the other at 0, so for every allowance of at least 0.
    Sources: Page (1954), Biometrika 41, 100-115; Lucas & Crosier (1982), Technometrics 24, 199-205.
    """
    shift = demand_number(shift, "shift")
    if (allowance := demand_number(allowance, "allowance")) < 0:
        raise ValueError(f"allowance must be at least 0, got {allowance!r}")
    decision = demand_positive(decision, "decision")
    nodes = _nodes_over(decision, 1.0, "decision", decision)
    up = _one_sided(shift - allowance, decision, nodes)
    down = _one_sided(-shift - allowance, decision, nodes)
    situation = f"normal, shifted by {shift:g} standard deviations"
    mean = 1 / (1 / up + 1 / down) if min(up, down) < inf else inf
    return RunLength(mean, situation, nodes + 1, METHOD)


METHOD = "integral equation, Gauss-Legendre"


def _nodes_over(span: float, step: float, name: str, value: float) -> int:
    """Return how many nodes a span takes where a step has this standard deviation; refuse what takes too many."""
    nodes = max(FEWEST_NODES, ceil(span / (APART * step)))
    if nodes > MOST_NODES:
        most = value * MOST_NODES / nodes
        raise ValueError(f"{name} must be at most about {most:.3g} for this method to resolve its steps, got {value!r}")
    return nodes


def _nodes(low: float, high: float, nodes: int) -> "tuple[NDArray[Any], NDArray[Any]]":
    import numpy as np

    places, weights = np.polynomial.legendre.leggauss(nodes)
    return (high - low) / 2 * places + (high + low) / 2, (high - low) / 2 * weights


def _density(x: "NDArray[Any]") -> "NDArray[Any]":
    import numpy as np

    return np.asarray(np.exp(-x * x / 2) / sqrt(2 * np.pi))


def _one_sided(drift: float, decision: float, nodes: int) -> float:
    """Return the run length from 0 of a sum that adds a normal value of this mean and stays at 0 or above.

    L(s) = 1 + L(0) P(s + X <= 0) + integral of L(y) density(y - s - drift) over 0 < y <= decision.
    """
    import numpy as np
    from scipy.special import ndtr

    y, weights = _nodes(0.0, decision, nodes)
    places = np.concatenate(([0.0], y))
    kernel = np.empty((nodes + 1, nodes + 1))
    kernel[:, 0] = ndtr(-places - drift)
    kernel[:, 1:] = weights * _density(y[None, :] - places[:, None] - drift)
    return mean_steps(kernel, np.asarray(ndtr(places + drift - decision)))


def ewma_run_length(shift: float, weight: float, width: float) -> RunLength:
    """Return the average run length of an EWMA of standardised normal values with asymptotic limits, from 0.

    weight in (0, 1]; width in standard deviations of the average. Below a weight of 0.01 the nodes no longer
    resolve the steps, and it is refused. Source: Crowder (1987), Technometrics 29, 401-407.
    """
    shift = demand_number(shift, "shift")
    if not 0.01 <= (weight := demand_number(weight, "weight")) <= 1:
        raise ValueError(f"weight must be at least 0.01 and at most 1, got {weight!r}")
    width = demand_positive(width, "width")
    import numpy as np
    from scipy.special import ndtr

    limit = width * sqrt(weight / (2 - weight))
    nodes = _nodes_over(2 * limit, weight, "width", width)
    y, weights = _nodes(-limit, limit, nodes)
    places = np.concatenate(([0.0], y))
    kept = (1 - weight) * places
    kernel = np.zeros((nodes + 1, nodes + 1))
    kernel[:, 1:] = weights * _density((y[None, :] - kept[:, None]) / weight - shift) / weight
    ends = ndtr(shift - (limit - kept) / weight) + ndtr((-limit - kept) / weight - shift)
    situation = f"normal, shifted by {shift:g} standard deviations"
    return RunLength(mean_steps(kernel, np.asarray(ends)), situation, nodes + 1, METHOD)


def poisson_cusum_run_length(mean: float, allowance: float, decision: float) -> RunLength:
    """Return the average run length, from 0, of the cusum of Poisson defects that watches for a rise.

    mean: defects a period, at least 0; allowance: what is taken off each period, above 0 and a fraction with
    a denominator up to 200 (round it and say so); decision: a sum strictly above it signals.
    Source: Lucas (1985), Technometrics 27, 129-144; Brook & Evans (1972), Biometrika 59, 539-549.
    """
    if (mean := demand_number(mean, "mean")) < 0:
        raise ValueError(f"mean must be at least 0, got {mean!r}")
    step, per_one, top = _lattice(allowance, decision)
    import numpy as np
    from scipy.special import gammaln, pdtrc, xlogy

    counts = np.arange((top + step) // per_one + 1)
    chances = np.exp(xlogy(counts, mean) - mean - gammaln(counts + 1))
    # The most defects that leave a height at or below the top: more end the run.
    room = (top + step - np.arange(top + 1)) // per_one
    ends = np.asarray(pdtrc(room.astype(float), mean))
    return _lattice_run_length(chances, ends, step, per_one, f"{mean:g} defects a period")


def bernoulli_cusum_run_length(share: float, allowance: float, decision: float) -> RunLength:
    """Return the mean number of units to a signal, from 0, of the cusum of units that watches for a rise.

    share: true share of defective units in [0, 1]; allowance in (0, 1), a fraction as in
    poisson_cusum_run_length; decision: a sum strictly above it signals.
    Source: Reynolds & Stoumbos (1999), Journal of Quality Technology 31, 87-108.
    """
    share = demand_share(share, "share")
    allowance = demand_inner_share(allowance, "allowance")
    step, per_one, top = _lattice(allowance, decision)
    import numpy as np

    ends = np.where(np.arange(top + 1) + per_one - step > top, share, 0.0)
    chances = np.array([1 - share, share])
    return _lattice_run_length(chances, ends, step, per_one, f"{share:g} of the units defective")


def _lattice(allowance: float, decision: float) -> tuple[int, int, int]:
    """Return (allowance, 1, decision) in steps of the common denominator."""
    allowance = demand_positive(allowance, "allowance")
    decision = demand_positive(decision, "decision")
    fraction = Fraction(allowance).limit_denominator(FINEST)
    if abs(float(fraction) - allowance) > 1e-9:
        raise ValueError(
            f"allowance must be a fraction with a denominator up to {FINEST}, say {float(fraction):.6g} "
            f"({fraction}), got {allowance!r}"
        )
    top = int(decision * fraction.denominator + 1e-9)
    top = demand_count(top, "decision in steps of the lattice")
    if top > MOST_HEIGHTS:
        raise ValueError(f"decision must be at most {MOST_HEIGHTS} steps of 1/{fraction.denominator}, got {decision!r}")
    if (top + fraction.numerator) // fraction.denominator > MOST_COUNTS:
        raise ValueError(f"allowance must be at most about {MOST_COUNTS} for this chain, got {allowance!r}")
    return fraction.numerator, fraction.denominator, top


def _lattice_run_length(
    chances: "NDArray[Any]", ends: "NDArray[Any]", step: int, per_one: int, situation: str
) -> RunLength:
    """Solve the chain of heights, one an end: a count c moves the height by c per_one - step, floored at 0."""
    import numpy as np

    size = len(ends)
    chain = np.zeros((size, size))
    heights = np.arange(size)
    for count, chance in enumerate(chances):
        reached = np.maximum(0, heights + count * per_one - step)
        inside = reached < size
        np.add.at(chain, (heights[inside], reached[inside]), chance)
    return RunLength(mean_steps(chain, ends), situation, size, "Markov chain")


@dataclass(frozen=True, slots=True)
class CusumDesign:
    """A decision interval found for a wanted run length, with what it then gives.

    allowance: the reference value for a chart of these periods, the stated one or a fraction that the lattice holds;
    decision: a sum strictly above it signals; quiet: run length while nothing has changed; after_shift: run length
    after the shift. Both run lengths are those of the chart with this allowance.
    """

    allowance: float
    decision: float
    quiet: RunLength
    after_shift: RunLength


def poisson_cusum_design(mean: float, ratio: float, wanted: float, *, allowance: float | None = None) -> CusumDesign:
    """Return the smallest decision interval with a run length of at least wanted periods while nothing changed.

    mean: defects a period; ratio: of the rise to watch for, above 1; wanted above 1.
    allowance: a stated reference value between mean and mean times ratio, a fraction as in poisson_cusum_run_length.
    None takes poisson_allowance, mean (ratio - 1) / ln(ratio), or a fraction less than a fiftieth of the shift
    below it: a chart that takes the allowance of the formula waits no less long for a false alarm.
    Raises ValueError, also where the interval would be longer than the lattice holds.
    Source: Lucas (1985), Technometrics 27, 129-144.
    """
    mean = demand_positive(mean, "mean")
    if (ratio := demand_ratio(ratio)) <= 1:
        raise ValueError(f"ratio must be above 1, a rise, got {ratio!r}")
    shifted = mean * ratio
    if (wanted := demand_number(wanted, "wanted")) <= 1:
        raise ValueError(f"wanted must be above 1 period, got {wanted!r}")
    allowance = between("allowance", allowance, _fraction_below(mean, ratio), mean, shifted)
    step = _lattice(allowance, 1.0)[1]
    low, high = 0, step
    while poisson_cusum_run_length(mean, allowance, high / step).mean < wanted:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        enough = poisson_cusum_run_length(mean, allowance, middle / step).mean >= wanted
        low, high = (low, middle) if enough else (middle, high)
    decision = high / step
    return CusumDesign(
        allowance,
        decision,
        poisson_cusum_run_length(mean, allowance, decision),
        poisson_cusum_run_length(shifted, allowance, decision),
    )


def _fraction_below(mean: float, ratio: float) -> float:
    """Return the coarsest decimal within NEARLY of the shift below the reference value, else the nearest fraction."""
    reference = poisson_allowance(mean, ratio)

    def below(parts: int) -> float:
        return floor(reference * parts + 1e-12) / parts

    near = [below(parts) for parts in COARSE if reference - below(parts) <= NEARLY * (mean * ratio - mean)]
    found = near[0] if near else max(below(parts) for parts in range(1, FINEST + 1))
    if found <= mean:
        raise ValueError(
            f"mean must leave a fraction with a denominator up to {FINEST} below {reference:.6g}, got {mean!r}; "
            "take longer periods"
        )
    return found
