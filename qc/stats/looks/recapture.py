"""How many defects there were and how many were missed, from two looks at the same units.

Both looks must cover the same units, the second blind to the first, and every defect as easy to find as the next.
Where some are plainer than others both find the same ones, and the number left is too low: read it as "at least".
"""

import math
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.intervals.count_limits import TIE, least_count
from qc.stats.intervals.one_sample import ShareInterval, clopper_pearson_interval
from qc.stats.refusals import demand_count, demand_level
from qc.stats.tail_sums import near_mean

ASSUMES = "same units, second look blind to the first, all defects alike to find; else read it as at least"


@dataclass(frozen=True, slots=True, kw_only=True)
class LincolnPetersen:
    """Defects there were, first times second over both. left: of them, found by neither look."""

    total: float
    left: float
    found: int
    first: int
    second: int
    both: int
    assumes: str
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapman:
    """Chapman's nearly unbiased count of the defects there were.

    low, high: normal interval, which may reach below what was found; low_log, high_log: interval of the number left
    on the log scale, added to what was found, so that it never does. low_exact, high_exact: whole numbers that the
    overlap does not rule out; math.inf where no number is too many. left: found by neither look. Where one look
    found all that the other did, the variance is 0 and tells nothing: all three intervals are the exact one then.
    """

    total: float
    variance: float
    error: float
    low: float
    high: float
    low_log: float
    high_log: float
    low_exact: float
    high_exact: float
    left: float
    found: int
    first: int
    second: int
    both: int
    level: float
    assumes: str
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PairedRelook:
    """Share found by each look, judged on what the other look found, and by both together.

    by_first: of the second look's finds those the first had too (both / second); by_second the other way round.
    by_either: estimated share of all defects that at least one look found, 1 - (1 - a)(1 - b).
    """

    by_first: ShareInterval
    by_second: ShareInterval | TooLittle
    by_either: float
    first: int
    second: int
    both: int
    level: float
    assumes: str


def lincoln_petersen(first: int, second: int, both: int) -> LincolnPetersen | TooLittle:
    """Return the Lincoln-Petersen count; no defect found by both is TooLittle (chapman still answers).

    first, second: defects found by each look; both: by the two. Source: Seber (1982), The Estimation of Animal
    Abundance, ch. 3; for inspections Eick et al. (1992), 14th Int. Conf. on Software Engineering, 59-65.
    """
    first, second, both = _looks(first, second, both)
    if both == 0:
        return TooLittle("defects there were", "no defect was found by both looks", 0, 1)
    total, found = first * second / both, first + second - both
    return LincolnPetersen(
        total=total,
        left=total - found,
        found=found,
        first=first,
        second=second,
        both=both,
        assumes=ASSUMES,
        method="Lincoln-Petersen",
    )


def chapman(first: int, second: int, both: int, level: float) -> Chapman | TooLittle:
    """Return Chapman's count with its variance and three intervals; nothing found at all is TooLittle.

    N = (n1+1)(n2+1)/(m+1) - 1, variance (n1+1)(n2+1)(n1-m)(n2-m)/((m+1)^2 (m+2)).
    Source: Chapman (1951), Univ. of California Publ. Statistics 1, 131-160; Seber (1982), sec. 3.1; log interval of
    the number left as in Chao (1987), Biometrics 43, 783-791; exact limits by the hypergeometric overlap.
    """
    from scipy.special import ndtri

    first, second, both = _looks(first, second, both)
    level, found = demand_level(level), first + second - both
    if found == 0:
        return TooLittle("defects there were", "neither look found a defect", 0, 1)
    total = (first + 1) * (second + 1) / (both + 1) - 1
    variance = (first + 1) * (second + 1) * (first - both) * (second - both) / ((both + 1) ** 2 * (both + 2))
    error, reach, left = math.sqrt(variance), float(ndtri((1 + level) / 2)), total - found
    normal = logs = exact = _exact_limits(first, second, both, level)
    if variance > 0:
        factor = math.exp(reach * math.sqrt(math.log1p(variance / left**2)))
        normal, logs = (total - reach * error, total + reach * error), (found + left / factor, found + left * factor)
    return Chapman(
        total=total,
        variance=variance,
        error=error,
        low=normal[0],
        high=normal[1],
        low_log=logs[0],
        high_log=logs[1],
        low_exact=exact[0],
        high_exact=exact[1],
        left=left,
        found=found,
        first=first,
        second=second,
        both=both,
        level=level,
        assumes=ASSUMES,
        method="Chapman",
    )


def paired_relook(first: int, second: int, both: int, level: float) -> PairedRelook | TooLittle:
    """Return the share that each look found of what the other found, with exact intervals.

    The first look's share found is both / second, not both / first: only the second look's finds are known to have
    been there without asking the first. A second look that found nothing is TooLittle.
    Source: Eick et al. (1992), as above; Briand et al. (2000), IEEE Trans. Software Engineering 26, 518-540;
    intervals of Clopper & Pearson (1934).
    """
    (first, second, both), level = _looks(first, second, both), demand_level(level)
    by_first = clopper_pearson_interval(both, second, level)
    if isinstance(by_first, TooLittle):
        return TooLittle("share found", "the second look found no defect to judge the first by", 0, 1)
    by_second = clopper_pearson_interval(both, first, level)
    other = 0.0 if isinstance(by_second, TooLittle) else by_second.share
    either = 1 - (1 - by_first.share) * (1 - other)
    return PairedRelook(
        by_first=by_first,
        by_second=by_second,
        by_either=either,
        first=first,
        second=second,
        both=both,
        level=level,
        assumes=ASSUMES,
    )


def _exact_limits(first: int, second: int, both: int, level: float) -> tuple[float, float]:
    """Return the least and greatest number of defects under which the overlap is not too small or too large."""
    tail, found, few = (1 - level) / 2 * TIE, first + second - both, min(first, second)
    low = found + least_count(lambda more: _overlap_chance(found + more, first, second, 0, both) > tail, 0)
    if both == 0:
        return low, math.inf
    beyond = least_count(lambda more: _overlap_chance(low + more, first, second, both, few) <= tail, low)
    return low, low + beyond - 1


def _overlap_chance(total: int, first: int, second: int, least: int, most: int) -> float:
    """Return the hypergeometric chance of an overlap of least to most, two looks having found first and second."""
    import numpy as np
    from scipy.special import gammaln

    ends = max(0, first + second - total), min(first, second)
    m = near_mean(*ends, first * second / max(total, 1), least, most)
    logs = (
        gammaln(first + 1) - gammaln(m + 1) - gammaln(first - m + 1)
        + gammaln(total - first + 1) - gammaln(second - m + 1) - gammaln(total - first - second + m + 1)
        - gammaln(total + 1) + gammaln(second + 1) + gammaln(total - second + 1)
    )  # fmt: skip
    return float(np.exp(logs).sum())


def _looks(first: int, second: int, both: int) -> tuple[int, int, int]:
    first, second, both = demand_count(first, "first"), demand_count(second, "second"), demand_count(both, "both")
    if both > min(first, second):
        raise ValueError(f"both must be at most what each look found ({first} and {second}), got {both}")
    return first, second, both
