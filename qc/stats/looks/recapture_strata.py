"""Defects that neither of two looks found, over several pairs of lookers: each pair by itself, then added up.

Pooling first would be wrong: where the sharper eye is now first, now second, the looks of the pool are not
independent, and the pooled number comes out too high or too low.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.looks.recapture import ASSUMES, Chapman, chapman
from qc.stats.refusals import demand_as_many, demand_counts, demand_labels, demand_level

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_LEFT = 1 << 16  # numbers left that are looked at one by one: beyond, the log interval alone is as good
BEYOND = 0.01  # share of a tail that may lie beyond the numbers looked at
LEAST_POWER = 1.5  # with which chances must fall before what lies beyond can be bounded


@dataclass(frozen=True, slots=True, kw_only=True)
class MissedByBoth:
    """Defects found by neither look: left over all pairs, with the whole numbers low..high that it may well be.

    by_pair: Chapman's count of each pair with a defect that both found, in label order; labels beside it. found: by
    either look of these. too_few: pairs without such a defect, in no number: whatever they missed cannot be told.
    """

    left: float
    low: float
    high: float
    found: int
    labels: tuple[str, ...]
    by_pair: tuple[Chapman, ...]
    too_few: tuple[str, ...]
    level: float
    assumes: str
    method: str


def missed_by_both(
    first: Sequence[int], second: Sequence[int], both: Sequence[int], labels: Sequence[str], level: float
) -> MissedByBoth | TooLittle:
    """Return the defects that neither look found, from each pair's finds; none found by both looks is TooLittle.

    first, second: found by each look of a pair; both: by the two. The pairs are independent, so estimates and
    variances add up. The interval holds what either of two ways leaves open, in whole numbers: the log interval, too
    narrow where few are left, and equal tails of the law of what is left, which leans upwards where there are many
    pairs; and what the exact limits of any one pair leave open, where two looks agree on everything.
    Source: Chapman (1951), Univ. of California Publ. Statistics 1, 131-160, stratum by stratum; log interval as in
    Chao (1987), Biometrics 43, 783-791; the law from Castledine (1981), Biometrika 67, 197-210, with Jeffreys' prior
    of the share that each look finds and 1/N for the number there was (from memory).
    """
    first, second, both = (
        demand_counts(first, "first"), demand_counts(second, "second"), demand_counts(both, "both"),
    )  # fmt: skip
    labels, level = demand_labels(labels, "first", first), demand_level(level)
    demand_as_many("second", second, "first", first)
    demand_as_many("both", both, "first", first)
    answers = [chapman(*looks, level) for looks in zip(first, second, both, strict=True)]
    kept = [(name, one) for name, one in zip(labels, answers, strict=True) if isinstance(one, Chapman) and one.both > 0]
    if not kept:
        return TooLittle("defects found by neither look", say("no defect was found by both looks of a pair"), 0, 1)
    names, pairs = zip(*kept, strict=True)
    left, too_few = sum(one.left for one in pairs), tuple(one for one in labels if one not in set(names))
    low, high = _limits(pairs, left, level)
    return MissedByBoth(
        left=left,
        low=low,
        high=high,
        found=sum(one.found for one in pairs),
        labels=names,
        by_pair=pairs,
        too_few=too_few,
        level=level,
        assumes=ASSUMES,
        method=say("Chapman by pair, added up"),
    )


def _limits(pairs: Sequence[Chapman], left: float, level: float) -> tuple[float, float]:
    import numpy as np
    from scipy.special import ndtri

    tail, variance = (1 - level) / 2, sum(one.variance for one in pairs)
    lows, highs = [left], [left, max(one.high_exact - one.found for one in pairs)]
    if variance > 0:
        factor = math.exp(float(ndtri(1 - tail)) * math.sqrt(math.log1p(variance / left**2)))
        lows.append(math.floor(left / factor))
        highs.append(math.ceil(left * factor))
    law = _law(pairs, tail * BEYOND / len(pairs))
    if law is not None:
        up_to = np.cumsum(law)
        lows.append(int(np.searchsorted(up_to, tail * up_to[-1], "right")))
        highs.append(int(np.searchsorted(up_to, (1 - tail) * up_to[-1])))
    return float(min(lows)), float(max(highs))


def _law(pairs: Sequence[Chapman], beyond: float) -> "NDArray[np.float64] | None":
    """Return the chances that 0, 1, 2, ... are left over all pairs; None where too many may be."""
    import numpy as np

    laws = []
    for one in pairs:
        law = _left_by_one(one, beyond)
        if law is None:
            return None
        laws.append(law)
    size = sum(map(len, laws))
    whole = np.prod([np.fft.rfft(law, size) for law in laws], axis=0)
    return np.asarray(np.maximum(np.fft.irfft(whole, size), 0.0))


def _left_by_one(pair: Chapman, beyond: float) -> "NDArray[np.float64] | None":
    """Return the chances that 0, 1, 2, ... are left by one pair, all but a share ``beyond`` of them."""
    import numpy as np

    size = 64
    while size <= MOST_LEFT:
        more = np.arange(size - 1, dtype=float)
        there = pair.found + more
        # Of the chance of one more left over that of so many: N (N - n1 + 1/2) (N - n2 + 1/2) / ((left + 1) (N + 1)^2).
        steps = there * (there - pair.first + 0.5) * (there - pair.second + 0.5) / ((more + 1) * (there + 1) ** 2)
        logs = np.concatenate([[0.0], np.cumsum(np.log(steps))])
        law = np.exp(logs - logs.max())
        # From here on the chances fall with this power of the number left at least: it grows towards both + 2.
        power = -size * float(np.log(steps[-1]))
        if power > LEAST_POWER and law[-1] * size / (power - 1) <= beyond * law.sum():
            return np.asarray(law / law.sum())
        size *= 2
    return None
