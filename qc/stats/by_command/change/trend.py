"""Whether something rises or falls steadily: shares over scores, or any values in time order.

Rates with exposure have a module of their own, rate_trend.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from qc.stats.answers import TooLittle
from qc.stats.by_command.change.pairs_in_time import median_slope, rises_less_falls
from qc.stats.refusals import (
    demand_as_many,
    demand_kind,
    demand_numbers,
)
from qc.stats.series import Shares
from qc.stats.stated_chances import stated_chance

MOST_PAIRED = 5_000  # values of which every pair is compared
MOST_EXACT = 200  # values: more would take longer than they would tell


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareTrend:
    """Cochran-Armitage trend of shares over scores.

    z and p_value: of no trend, two-sided; chi_square is z squared. linear: (N - 1) r^2, the same trend as
    linear-by-linear association. departure: chi-square of what is not a straight line, with its degrees and
    p-value. slope: change of the share for one unit of score.
    """

    z: float
    p_value: float
    chi_square: float
    linear: float
    departure: float
    departure_degrees: int
    departure_p_value: float
    slope: float
    labels: tuple[str, ...]
    defectives: tuple[int, ...]
    inspected: tuple[int, ...]
    scores: tuple[float, ...]
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RankTrend:
    """Mann-Kendall trend of values in time order.

    s: rises less falls over all pairs; p_rising, p_falling: one-sided; p_value: two-sided. variance: of s without
    trend. slope: median change for one step (Theil and Sen). ties: values that stand more than once.
    """

    s: int
    p_rising: float
    p_falling: float
    p_value: float
    variance: float
    slope: float
    ties: int
    values: tuple[float, ...]
    method: str


def cochran_armitage(shares: Shares, scores: Sequence[float]) -> ShareTrend | TooLittle:
    """Return the trend of shares over scores, no continuity correction.

    Groups nobody inspected say nothing. Fewer than three inspected groups, equal scores, or none or all defective,
    is TooLittle. Neither scipy nor statsmodels' tables give the departure, so the formula stands here.
    Source: Armitage (1955), Biometrics 11, 375-386; Agresti, Categorical Data Analysis, sec. 5.3.5.
    """
    from scipy.special import chdtrc, ndtr

    demand_kind(shares, Shares, "shares")
    defectives, inspected = shares.defectives, shares.inspected
    demand_as_many("scores", scores, "shares", shares.labels)
    scores = demand_numbers(scores, "scores")
    kept = [i for i, n in enumerate(inspected) if n > 0]
    x, n, s = [defectives[i] for i in kept], [inspected[i] for i in kept], [scores[i] for i in kept]
    total, bad = sum(n), sum(x)
    if len(kept) < 3 or len(set(s)) < 2:
        return TooLittle("trend of shares", "fewer than three groups, or all at one score", len(kept), 3)
    if bad in (0, total):
        return TooLittle("trend of shares", "none or all of the units are defective", min(bad, total - bad), 1)
    p = bad / total
    middle = sum(m * v for m, v in zip(n, s, strict=True)) / total
    spread = sum(m * (v - middle) ** 2 for m, v in zip(n, s, strict=True))
    top = sum(v * (d - m * p) for v, d, m in zip(s, x, n, strict=True))
    z = top / math.sqrt(p * (1 - p) * spread)
    whole = sum((d - m * p) ** 2 / (m * p * (1 - p)) for d, m in zip(x, n, strict=True))
    departure, degrees = max(0.0, whole - z * z), len(kept) - 2
    return ShareTrend(
        z=z,
        p_value=stated_chance(2 * ndtr(-abs(z))),
        chi_square=z * z,
        linear=z * z * (total - 1) / total,
        departure=departure,
        departure_degrees=degrees,
        departure_p_value=stated_chance(chdtrc(degrees, departure)),
        slope=top / spread,
        labels=shares.labels,
        defectives=defectives,
        inspected=inspected,
        scores=scores,
        method="Cochran-Armitage",
    )


def mann_kendall_exact(values: Sequence[float]) -> RankTrend | TooLittle:
    """Return the trend of values in time order with exact p-values; the values must all differ.

    Fewer than three values is TooLittle; values that stand twice, or more than 200, are refused (take
    mann_kendall_normal). The
    two-sided p-value doubles the smaller side. Counted here in whole numbers, scipy has it for pairs only.
    Source: Mann (1945), Econometrica 13, 245-259; Kendall, Rank Correlation Methods; Gilbert (1987), Statistical
    Methods for Environmental Pollution Monitoring, sec. 16.4, Table A18.
    """
    y = _values(values)
    if len(y) < 3:
        return _too_short(len(y))
    if len(set(y)) < len(y):
        many = Counter(y)
        twice = next(value for value in y if many[value] > 1)
        raise ValueError(f"values must all differ for the exact distribution, got {twice!r} more than once")
    s, n = rises_less_falls(y), len(y)
    if n > MOST_EXACT:
        raise ValueError(
            f"values must be at most {MOST_EXACT} for the exact distribution, got {n}: the normal one will do"
        )
    ways, pairs = _ways_of_inversions(n), n * (n - 1) // 2
    inversions, everything = (pairs - s) // 2, math.factorial(n)
    rising, falling = sum(ways[: inversions + 1]) / everything, sum(ways[inversions:]) / everything
    variance = n * (n - 1) * (2 * n + 5) / 18
    p_value = min(1.0, 2 * min(rising, falling))
    return RankTrend(
        s=s,
        p_rising=rising,
        p_falling=falling,
        p_value=p_value,
        variance=variance,
        slope=median_slope(y),
        ties=0,
        values=y,
        method="Mann-Kendall, exact",
    )


def mann_kendall_normal(values: Sequence[float]) -> RankTrend | TooLittle:
    """Return the trend of values in time order by the normal approximation, corrected for continuity and ties.

    For 10 or more values (Gilbert 1987, sec. 16.4.2). Fewer than three, or all equal, is TooLittle; more than 5000
    are refused, since every pair is looked at.
    Source: as mann_kendall_exact; variance with ties from Kendall.
    """
    from scipy.special import ndtr

    y = _values(values)
    n, groups = len(y), list(Counter(y).values())
    if n < 3:
        return _too_short(n)
    if n > MOST_PAIRED:
        raise ValueError(f"values must be at most {MOST_PAIRED}, got {n}: take the values of every tenth period, say")
    if len(groups) == 1:
        return TooLittle("trend", "all values are equal", 1, 2)
    s = rises_less_falls(y)
    tied = sum(t * (t - 1) * (2 * t + 5) for t in groups)
    variance = (n * (n - 1) * (2 * n + 5) - tied) / 18
    z = (s - math.copysign(1, s)) / math.sqrt(variance) if s else 0.0
    # One-sided with the correction towards its own side: P(S >= s) and P(S <= s).
    rising, falling = (stated_chance(ndtr(-(sign * s - 1) / math.sqrt(variance))) for sign in (1, -1))
    ties = sum(t for t in groups if t > 1)
    p_value = stated_chance(2 * ndtr(-abs(z)))
    return RankTrend(
        s=s,
        p_rising=rising,
        p_falling=falling,
        p_value=p_value,
        variance=variance,
        slope=median_slope(y),
        ties=ties,
        values=y,
        method="Mann-Kendall, normal",
    )


def _values(values: Sequence[float]) -> tuple[float, ...]:
    return demand_numbers(values, "values")


def _too_short(have: int) -> TooLittle:
    return TooLittle("trend", "fewer than three values", have, 3)


def _ways_of_inversions(n: int) -> list[int]:
    """Return how many orders of n values have 0, 1, 2, ... inversions; they sum to n factorial."""
    ways = [1]
    for size in range(2, n + 1):
        # The last value brings 0 to size - 1 inversions more: a sum over a window of that length.
        sums = [0, *accumulate(ways)]
        last = len(sums) - 1
        ways = [sums[min(k + 1, last)] - sums[max(0, k + 1 - size)] for k in range(len(ways) + size - 1)]
    return ways
