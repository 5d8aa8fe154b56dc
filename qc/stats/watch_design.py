"""Decision limits of a cusum that keep its expected false alarms to the same share in each period of a watch.

The rate of a cell is known from a baseline of few weeks only, so the false alarms are averaged over what the baseline
leaves open; limits that take the rate as known alarm several times as often as they say.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log, sqrt
from typing import TYPE_CHECKING, Any

from qc.stats.period_counts import check_same_length
from qc.stats.refusals import (
    demand_count,
    demand_counts,
    demand_exposures,
    demand_inner_share,
    demand_kind,
    demand_number,
    demand_positive,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

STATES = 240  # steps of the sum that are told apart
FINE, COARSE = 10.0, 6.0  # of them in the square root of a period's usual defects: many a period, or below 4
NODES = 12  # rates that stand for what the baseline leaves open; 40 give the same limits
TAIL = 1e-7  # of the rate's law on either side, left out
MOST_A_PERIOD = 1_000  # defects a period: the chain holds a step for each count of one
MOST_WATCHED = 1_000  # periods, worked out one after the other


@dataclass(frozen=True, slots=True)
class WatchDesign:
    """A cusum's limits. defects over periods: the baseline; ratio: the shift watched for, below 1 downwards.

    decisions: in defects, one for each period of the watch: a sum strictly above it alarms and starts again at 0.
    alarms: expected false alarms over the whole watch, periods of the baseline's usual size, if nothing changes.
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
    is made for. The true rate is drawn from the gamma law that the baseline leaves (Jeffreys' prior).
    Raises ValueError naming argument and value.
    Source: limits of equal conditional chance, Shen et al. (2013), Naval Research Logistics 60, 625-636 (from memory);
    the Markov chain of Brook & Evans (1972), Biometrika 59, 539-549; averaging over an estimated in-control rate:
    Jensen et al. (2006), J. Quality Technology 38, 349-364 (from memory).
    """
    asked = _asked(defects, periods, ratio)
    return _design(*asked, demand_inner_share(share, "share"), _watched(watched))


@lru_cache(maxsize=8192)
def _design(defects: int, periods: float, ratio: float, share: float, watched: int) -> WatchDesign:
    chain = _Chain(max(defects, 1), periods, ratio)
    decisions, alarms = [], 0.0
    for _ in range(watched):
        chain.move()
        over = chain.tails()
        place = next(at for at, tail in enumerate(over) if tail <= share)
        decisions.append((place + 1) * chain.step)  # sums up to there were shared between this height and the next
        alarms += float(over[place])
        chain.restart(place)
    return WatchDesign(defects, periods, ratio, tuple(decisions), alarms, METHOD)


def chance_of_height(defects: int, periods: float, ratio: float, height: float, watched: int) -> float:
    """Return the chance that a cusum's sum reaches ``height`` within ``watched`` periods if nothing has changed.

    Other arguments as in watch_design; height in defects, at least 0.
    """
    asked, height = _asked(defects, periods, ratio), demand_number(height, "height")
    if height < 0:
        raise ValueError(f"height must be at least 0, got {height!r}")
    return _chance(*asked, height, _watched(watched))


@lru_cache(maxsize=8192)
def _chance(defects: int, periods: float, ratio: float, height: float, watched: int) -> float:
    chain = _Chain(max(defects, 1), periods, ratio)
    place, reached = min(STATES - 1, max(0, int(height / chain.step + 1e-9) - 1)), 0.0
    for _ in range(watched):
        chain.move()
        reached += float(chain.tails()[place])
        chain.forget(place)
    return min(1.0, reached)


def watched_sums(
    defects: Sequence[int], expected: Sequence[float], design: WatchDesign
) -> tuple[tuple[float, bool], ...]:
    """Return the cusum's sum in each period of the watch and whether it alarms; after an alarm it starts again at 0.

    expected: defects at the baseline's rate, 0 where the period has no units (the sum stays). Periods beyond the
    design's keep its last limit. Raises ValueError for counts that cannot be.
    """
    check_same_length(defects=defects, expected=expected)
    demand_kind(design, WatchDesign, "design")
    counts, sizes = demand_counts(defects, "defects"), demand_exposures(expected, "expected")
    allowance, sign = (design.ratio - 1) / log(design.ratio), 1.0 if design.ratio > 1 else -1.0
    found, height = [], 0.0
    for place, (count, size) in enumerate(zip(counts, sizes, strict=True)):
        height = max(0.0, height + sign * (count - size * allowance)) if size > 0 else height
        alarms = height > design.decisions[min(place, len(design.decisions) - 1)]
        found.append((height, alarms))
        height = 0.0 if alarms else height
    return tuple(found)


def _asked(defects: int, periods: float, ratio: float) -> tuple[int, float, float]:
    """Return a baseline and a shift as plain numbers; refuse what cannot be, or would not fit the memory."""
    defects, periods = demand_count(defects, "defects"), demand_positive(periods, "periods")
    if defects > MOST_A_PERIOD * periods:
        raise ValueError(
            f"defects must be at most {MOST_A_PERIOD} a period for this cusum, got {defects} in {periods:g} periods"
        )
    ratio = demand_positive(ratio, "ratio")
    if ratio == 1:
        raise ValueError(f"ratio must be above 0 and not 1, got {ratio!r}")
    return defects, periods, ratio


def _watched(watched: int) -> int:
    if demand_count(watched, "watched", 1) > MOST_WATCHED:
        raise ValueError(f"watched must be at most {MOST_WATCHED} periods, got {watched!r}; begin with a new baseline")
    return int(watched)


class _Chain:
    """The cusum's sum at each of the rates: chances of its steps of height, the last one all above."""

    def __init__(self, defects: int, periods: float, ratio: float) -> None:
        import numpy as np

        rates, self._weights = _rates(defects, periods)
        usual = defects / periods
        self.step = sqrt(usual) / (FINE if usual >= 4 else COARSE)
        most = int(rates[-1] + 12 * rates[-1] ** 0.5 + 12)
        moves = _moves(usual * (ratio - 1) / log(ratio), self.step, ratio > 1, most)
        self._chains = _chains(moves, rates)
        self._at = np.zeros((len(rates), STATES))
        self._at[:, 0] = 1.0
        self._top = 1  # no sum stands so high or higher

    def move(self) -> None:
        import numpy as np

        self._at = np.matmul(self._at[:, None, : self._top], self._chains[:, : self._top])[:, 0, :]
        self._top = STATES

    def tails(self) -> "NDArray[Any]":
        """Return for each height the chance of a sum strictly above it, averaged over the rates; the last is 0."""
        import numpy as np

        mean = self._weights @ self._at
        return np.append(np.cumsum(mean[::-1])[::-1][1:], 0.0)

    def restart(self, place: int) -> None:
        """Put the sums above a height back to 0."""
        self._at[:, 0] += self._at[:, place + 1 :].sum(axis=1)
        self.forget(place)

    def forget(self, place: int) -> None:
        """Take the sums above a height out."""
        self._at[:, place + 1 :] = 0.0
        self._top = place + 1


def _rates(defects: int, periods: float) -> "tuple[NDArray[Any], NDArray[Any]]":
    """Return rates and weights that stand for the gamma law of the true rate."""
    import numpy as np
    from scipy.special import gammaincinv, gammaln

    shape = defects + 0.5
    low, high = gammaincinv(shape, TAIL), gammaincinv(shape, 1 - TAIL)
    places, weights = np.polynomial.legendre.leggauss(NODES)
    at = (high - low) / 2 * places + (high + low) / 2
    weights = weights * np.exp((shape - 1) * np.log(at) - at - gammaln(shape))
    return at / periods, weights / weights.sum()


def _moves(allowance: float, step: float, up: bool, most: int) -> "tuple[NDArray[Any], NDArray[Any]]":
    """Return the height below which each height goes at each count, and the share that goes to the one above it.

    Shares instead of rounding, so that the steps of the sum keep their mean.
    """
    import numpy as np

    heights = np.arange(STATES)[:, None] * step
    counts = np.arange(most + 1)[None, :]
    after = np.maximum(0.0, heights + (counts - allowance if up else allowance - counts)) / step
    below = np.minimum(np.floor(after), STATES - 1).astype(int)
    return below, np.where(below == STATES - 1, 0.0, after - below)


def _chains(moves: "tuple[NDArray[Any], NDArray[Any]]", rates: "NDArray[Any]") -> "NDArray[Any]":
    """Return for each rate the chances of going from height to height: rates by heights by heights."""
    import numpy as np
    from scipy.special import gammaln

    below, share = moves
    counts = np.arange(below.shape[1])
    chances = np.exp(counts[None, :] * np.log(rates)[:, None] - rates[:, None] - gammaln(counts + 1)[None, :])
    rows = np.arange(STATES)[:, None] * STATES
    flat = np.concatenate([(rows + below).ravel(), (rows + np.minimum(below + 1, STATES - 1)).ravel()])
    chains = np.empty((len(rates), STATES, STATES))
    for place, row in enumerate(chances):
        weights = np.concatenate([((1 - share) * row).ravel(), (share * row).ravel()])
        chains[place] = np.bincount(flat, weights, STATES**2).reshape(STATES, STATES)
    return chains
