"""A slow drift of a rate, looked for in every period of a watch, false alarms kept to the same share in each.

No rate is taken from a baseline: given how many defects a stratum has in all, chance alone says in which periods they
fall, so every period counts, those of the baseline too, and neither the rate nor its doubt enters.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from qc.stats.refusals import (
    demand_count,
    demand_kind,
    demand_list,
    demand_number,
    demand_positive,
)
from qc.stats.series import Rates

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST = 1e-12  # chances below are not told apart from what rounding leaves
CELLS, WIDTH = 201, 6.5  # of the trend in its own standard deviations, on either side of 0
SHARES = (0.9, *(10 ** (-power / 4) for power in range(1, 37)))  # false alarms of a whole watch that are told apart
SPAN = 26  # periods of a watch that are worked out together
MOST_WATCHED = 1_000  # periods of a watch, worked out one after the other
MOST_STEPS = 2**22  # of the exact law, as memory goes; there the normal law is within 1 % out to 6 standard deviations


Stratum = tuple[int, list[float], tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class DriftLimits:
    """Limits of a watch for drift: in each of its periods a chance (drift_chance) of at most that alarms.

    periods: of equal size before the watch begins; share: false alarms expected in each period of the watch.
    """

    periods: int
    share: float
    chances: tuple[float, ...]
    method: str


METHOD = "exact trend given the totals, equal chance of a first false alarm in each period"


def drift_score(strata: Sequence[Rates]) -> float:
    """Return the trend upwards in its own standard deviations; strata as in drift_chance; 0 where nothing can tell.

    The chance of a standard normal value above it is near drift_chance; it costs a hundredth of it.
    """
    return _score(_with_defects(strata))


def _score(strata: "list[Stratum]") -> float:
    rise = spread = 0.0
    for total, shares, seen in strata:
        middle = sum(place * share for place, share in enumerate(shares))
        rise += sum(place * count for place, count in enumerate(seen)) - total * middle
        spread += total * sum(share * (place - middle) ** 2 for place, share in enumerate(shares))
    return rise / spread**0.5 if spread > 0 else 0.0


def _normal_chance(score: float) -> float:
    from scipy.special import ndtr

    return float(min(1.0, max(LEAST, ndtr(-score))))


def drift_chance(strata: Sequence[Rates]) -> float:
    """Return the chance that defects lie so late or later in time, if each stratum's rate has stayed as it was.

    strata: for each (a model, say) its defects and units in time order, the periods all of equal length in time.
    At least 1e-12; 1 where there is no defect.
    Exact: the places in time of a stratum's defects are drawn by units, given how many they are, and added up over
    the strata by convolution; where defects times periods pass four millions, the normal law of drift_score instead.
    Raises ValueError naming argument and value.
    Source: conditional test of a Poisson trend, uniformly most powerful unbiased, Cox & Lewis (1966), The Statistical
    Analysis of Series of Events, section 3.3 (from memory).
    """
    import numpy as np

    found = _with_defects(strata)
    total = sum(stratum for stratum, _, _ in found)
    seen = sum(place * count for _, _, counts in found for place, count in enumerate(counts))
    steps = total * (max((len(shares) for _, shares, _ in found), default=1) - 1) + 1
    if steps > MOST_STEPS:
        return _normal_chance(_score(found))
    size = 1 << int(steps).bit_length()
    law = np.ones(size // 2 + 1, dtype=complex)
    for stratum, shares, _ in found:
        law *= np.fft.rfft(shares, size) ** stratum
    return float(min(1.0, max(LEAST, np.fft.irfft(law, size)[seen:].sum())))


def drift_limits(periods: int, watched: int, share: float) -> DriftLimits:
    """Return the limits under which each of ``watched`` periods expects ``share`` first alarms if nothing drifts.

    periods: before the watch, at least 3. The trend over the first n periods, in one scale, is a Brownian motion in
    the time n(n² - 1)/12 (its steps are the parts of each period that the ones before did not foretell), so that the
    chance of its first passage is one recursion for every series. Raises ValueError naming argument and value.
    Source: group sequential boundaries by recursive integration, Armitage, McPherson & Rowe (1969), J. Royal Stat.
    Soc. A 132, 235-244, with spending in equal parts, Lan & DeMets (1983), Biometrika 70, 659-663 (from memory).
    """
    _demand_watch(periods, watched)
    if not 0 < (share := demand_number(share, "share")) * watched < 1:
        raise ValueError(f"share must be above 0 and below 1 in all {watched} periods together, got {share!r}")
    return DriftLimits(
        int(periods), float(share), tuple(_boundaries(periods, watched, (share,))[:, 0].tolist()), METHOD
    )


def chance_of_drift(periods: int, watched: int, chance: float) -> float:
    """Return how many alarms as strong a watch for drift expects, up to its last period, if nothing drifts.

    chance: what drift_chance says in period ``watched`` of the watch; other arguments as drift_limits. At most 1.
    """
    import numpy as np

    _demand_watch(periods, watched)
    if (chance := demand_positive(chance, "chance")) > 1:
        raise ValueError(f"chance must be at most 1, got {chance!r}")
    span = -(-watched // SPAN) * SPAN
    shares = tuple(share / span for share in SHARES)
    limits = _boundaries(periods, span, shares)[watched - 1]
    if chance > limits[0]:
        return 1.0
    share = np.exp(np.interp(np.log(chance), np.log(limits[::-1]), np.log(shares[::-1])))
    return float(min(1.0, share * watched))


def _demand_watch(periods: int, watched: int) -> None:
    demand_count(periods, "periods", 3)
    if demand_count(watched, "watched", 1) > MOST_WATCHED:
        raise ValueError(f"watched must be at most {MOST_WATCHED} periods, got {watched!r}; begin with a new baseline")


def _with_defects(strata: Sequence[Rates]) -> "list[Stratum]":
    """Return (defects in all, shares of units by period, defects by period) of the strata that have any."""
    found = []
    for at, rates in enumerate(demand_list(strata, "strata")):
        demand_kind(rates, Rates, f"strata[{at}]")
        if total := sum(rates.defects):
            whole = sum(rates.units)
            found.append((total, [size / whole for size in rates.units], rates.defects))
    return found


@lru_cache(maxsize=256)
def _boundaries(periods: int, watched: int, shares: tuple[float, ...]) -> "NDArray[Any]":
    """Return for each period of the watch and each share the chance at or below which a trend alarms."""
    import numpy as np
    from scipy.special import ndtr

    times = [n * (n * n - 1) / 12 for n in range(periods, periods + watched + 1)]
    edges = np.linspace(-WIDTH, WIDTH, CELLS + 1)
    middles, width, rows = (edges[1:] + edges[:-1]) / 2, edges[1] - edges[0], np.arange(len(shares))
    at = np.tile(np.diff(ndtr(edges)), (len(shares), 1))
    limits = np.empty((watched, len(shares)))
    for place, (before, now) in enumerate(pairwise(times)):
        steps = (edges[None, :] * now**0.5 - middles[:, None] * before**0.5) / (now - before) ** 0.5
        at = at @ np.diff(ndtr(steps), axis=1)
        above = np.cumsum(at[:, ::-1], axis=1)[:, ::-1]  # chance of a trend in the cell or higher
        cell = (above > np.array(shares)[:, None]).sum(axis=1) - 1  # the boundary lies in this one
        kept = (above[rows, cell] - shares) / at[rows, cell]
        limits[place] = ndtr(-(edges[cell] + kept * width))
        at[np.arange(CELLS)[None, :] > cell[:, None]] = 0.0
        at[rows, cell] *= kept
    return limits
