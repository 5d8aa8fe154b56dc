"""Decision limits of a cusum that keep its expected false alarms to the same share in each period of a watch.

The rate of a cell is known from a baseline of few weeks only, so the false alarms are averaged over what the baseline
leaves open; limits that take the rate as known alarm several times as often as they say.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, log

from qc.stats.refusals import (
    demand_as_many,
    demand_count,
    demand_counts,
    demand_inner_share,
    demand_kind,
    demand_number,
    demand_positive,
    demand_sizes,
)
from qc.stats.watch.watch_chain import WatchChain, allowance_of

MOST_A_PERIOD = 100_000  # defects a period: the chain holds a chance for each count of one
MOST_WATCHED = 520  # periods, worked out one after the other
LONGEST = 300  # watch for a baseline of one period, in periods: beyond, its rates lie too close together
# Of a period's allowance, above a limit downwards: at least, for each period so far, at most. A sum climbs by no more
# than the allowance in a period, so that the limit may lie at the very height that periods without a defect reach:
# periods a little larger than usual, one or all, must not pass it.
SPARE, SPARE_EACH, MOST_SPARE = 0.25, 0.06, 1.0
NO_SHIFT = 1e-6  # in the logarithm of a ratio
LEAST = 1e-9  # chances below are not told apart from what rounding leaves


@dataclass(frozen=True, slots=True)
class WatchDesign:
    """A cusum's limits. defects over periods: the baseline; ratio: the shift watched for, below 1 downwards.

    decisions: in defects, one for each period of the watch: a sum strictly above it alarms and starts again at 0.
    alarms: expected false alarms over the whole watch, periods of the baseline's usual size, if nothing changes; at
    least 1e-9 a period, which stands for whatever is less.
    """

    defects: int
    periods: float
    ratio: float
    decisions: tuple[float, ...]
    alarms: float
    method: str


METHOD = "Poisson cusum, equal chance of a false alarm each week, baseline's doubt averaged over"


def watch_design(defects: int, periods: float, ratio: float, share: float, watched: int) -> WatchDesign:
    """Return the lowest limits under which each of ``watched`` periods expects at most ``share`` false alarms.

    defects: of the baseline's ``periods``, whose rate the cusum takes for true (0 is taken as 1); ratio: the shift it
    is made for; share: at least 1e-9, finer ones are not resolved; watched: at most 520, and 300 times the baseline's
    periods. The true rate is drawn from the gamma law that the baseline leaves (Jeffreys' prior). What the chain does
    not tell apart counts as an alarm: over the grid of tests/bench/watch_limits.py 0.99 of what is stated comes.
    Raises ValueError naming argument and value.
    Source: limits of equal conditional chance, Shen et al. (2013), Naval Research Logistics 60, 625-636 (from memory);
    the Markov chain of Brook & Evans (1972), Biometrika 59, 539-549; averaging over an estimated in-control rate:
    Jensen et al. (2006), J. Quality Technology 38, 349-364 (from memory).
    """
    asked = _asked(defects, periods, ratio, watched)
    if demand_inner_share(share, "share") < LEAST:
        raise ValueError(f"share must be at least {LEAST:g}, smaller ones are not resolved, got {share!r}")
    return _design(*asked, float(share))


@lru_cache(maxsize=8192)
def _design(defects: int, periods: float, ratio: float, watched: int, share: float) -> WatchDesign:
    chain = WatchChain(max(defects, 1), periods, ratio, watched, share)
    decisions, alarms = [], 0.0
    spare = 0.0 if ratio > 1 else allowance_of(max(defects, 1) / periods, ratio)
    for period in range(1, watched + 1):
        chain.move()
        over = chain.tails()
        place = int((over <= share).argmax())
        height = (place if chain.is_exact else place + 1) * chain.step
        decisions.append(height + spare * min(MOST_SPARE, max(SPARE, SPARE_EACH * period)))
        alarms += max(LEAST, float(over[place]))
        chain.restart(place)
    return WatchDesign(defects, periods, ratio, tuple(decisions), alarms, METHOD)


def chance_of_height(defects: int, periods: float, ratio: float, height: float, watched: int) -> float:
    """Return the chance that a cusum's sum reaches ``height`` within ``watched`` periods if nothing has changed.

    Other arguments as in watch_design; height in defects, at least 0. At least 1e-9, which stands for every chance
    below; what the chain does not tell apart from the height counts as reached.
    """
    asked, height = _asked(defects, periods, ratio, watched), demand_number(height, "height")
    if height < 0:
        raise ValueError(f"height must be at least 0, got {height!r}")
    return _chance(*asked, height) if height > 0 else 1.0


@lru_cache(maxsize=8192)
def _chance(defects: int, periods: float, ratio: float, watched: int, height: float) -> float:
    chain = WatchChain(max(defects, 1), periods, ratio, watched, LEAST, height)
    steps = height / chain.step
    reached, place = 0.0, max(1, ceil(steps - 1e-9) if chain.is_exact else int(steps + 1e-9)) - 1
    for _ in range(watched):
        chain.move()
        over = chain.tails()
        if place < len(over):
            reached += float(over[place])
            chain.forget(place)
    return min(1.0, max(LEAST, reached))


def watched_sums(
    defects: Sequence[int], expected: Sequence[float], design: WatchDesign
) -> tuple[tuple[float, bool], ...]:
    """Return the cusum's sum in each period of the watch and whether it alarms; after an alarm it starts again at 0.

    expected: defects at the baseline's rate, 0 where the period has no units (the sum stays). Periods beyond the
    design's keep its last limit. Raises ValueError for counts that cannot be.
    """
    demand_as_many("expected", expected, "defects", defects)
    demand_kind(design, WatchDesign, "design")
    counts, sizes = demand_counts(defects, "defects"), demand_sizes(expected, "expected")
    allowance, sign = allowance_of(1.0, design.ratio), 1.0 if design.ratio > 1 else -1.0
    found, height = [], 0.0
    for place, (count, size) in enumerate(zip(counts, sizes, strict=True)):
        height = max(0.0, height + sign * (count - size * allowance)) if size > 0 else height
        alarms = height > design.decisions[min(place, len(design.decisions) - 1)]
        found.append((height, alarms))
        height = 0.0 if alarms else height
    return tuple(found)


def _asked(defects: int, periods: float, ratio: float, watched: int) -> tuple[int, float, float, int]:
    """Return a baseline, a shift and a watch as plain numbers; refuse what cannot be, or what the chain cannot hold."""
    defects, periods = demand_count(defects, "defects"), demand_positive(periods, "periods")
    if max(defects, 1) > MOST_A_PERIOD * periods:
        raise ValueError(
            f"defects must be at most {MOST_A_PERIOD} a period for this cusum, got {defects} in {periods:g} periods"
        )
    ratio = demand_positive(ratio, "ratio")
    if abs(log(ratio)) < NO_SHIFT:
        raise ValueError(f"ratio must be above 0 and not 1, by a millionth at least, got {ratio!r}")
    most = min(MOST_WATCHED, int(LONGEST * periods))
    if demand_count(watched, "watched", 1) > most:
        raise ValueError(
            f"watched must be at most {most} periods on a baseline of {periods:g}, got {watched!r}; "
            "begin with a new baseline"
        )
    return defects, periods, ratio, int(watched)
