"""Defects that neither of two looks found, over several pairs of lookers: each pair by itself, then added up.

Pooling first would be wrong: where the sharper eye is now first, now second, the looks of the pool are not
independent, and the pooled number comes out too high or too low.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.recapture import ASSUMES, Chapman, chapman
from qc.stats.refusals import demand_as_many, demand_counts, demand_labels, demand_level


@dataclass(frozen=True, slots=True)
class MissedByBoth:
    """Defects found by neither look: left over all pairs with its interval on the log scale, never below 0.

    by_pair: Chapman's count of each pair that found any, in label order; labels beside it. found: by either look.
    Where no pair leaves any, low and high are 0: read the exact limits of the pairs.
    """

    left: float
    low: float
    high: float
    found: int
    labels: tuple[str, ...]
    by_pair: tuple[Chapman, ...]
    level: float
    assumes: str
    method: str


def missed_by_both(
    first: Sequence[int], second: Sequence[int], both: Sequence[int], labels: Sequence[str], level: float
) -> MissedByBoth | TooLittle:
    """Return the defects that neither look found, from each pair's finds; no defect at all is TooLittle.

    first, second: found by each look of a pair; both: by the two. The pairs are independent, so estimates and
    variances add up. Source: Chapman (1951), Univ. of California Publ. Statistics 1, 131-160, stratum by stratum;
    log interval of the number left as in Chao (1987), Biometrics 43, 783-791.
    """
    from scipy.special import ndtri

    first, second, both = (
        demand_counts(first, "first"), demand_counts(second, "second"), demand_counts(both, "both"),
    )  # fmt: skip
    labels, level = demand_labels(labels, "first", first), demand_level(level)
    demand_as_many("second", second, "first", first)
    demand_as_many("both", both, "first", first)
    answers = [chapman(*looks, level) for looks in zip(first, second, both, strict=True)]
    kept = [(name, one) for name, one in zip(labels, answers, strict=True) if isinstance(one, Chapman)]
    if not kept:
        return TooLittle("defects found by neither look", "no look found a defect", 0, 1)
    left, variance = sum(one.left for _, one in kept), sum(one.variance for _, one in kept)
    reach = float(ndtri((1 + level) / 2))
    factor = math.exp(reach * math.sqrt(math.log1p(variance / left**2))) if left > 0 else 1.0
    return MissedByBoth(
        left, left / factor, left * factor, sum(one.found for _, one in kept), tuple(name for name, _ in kept),
        tuple(one for _, one in kept), level, ASSUMES, "Chapman by pair, added up",
    )  # fmt: skip
