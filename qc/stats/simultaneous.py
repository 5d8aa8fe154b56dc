"""Intervals for all shares of a Pareto at once: one level for every category together, not one for each."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.refusals import demand_counts, demand_labels, demand_level

MOST_COUNTED = 200_000  # the search for the limits goes up one by one
SMALLEST_MEAN = 5  # counts a category, the smallest that Sison and Glaz tried


@dataclass(frozen=True, slots=True)
class ShareIntervals:
    """Shares of the total by category with intervals that hold together at the level.

    shares, low, high: in label order, shares in [0, 1]. total: of the counts, the shares' denominator.
    """

    shares: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    labels: tuple[str, ...]
    counts: tuple[int, ...]
    total: int
    level: float
    method: str


def goodman_intervals(counts: Sequence[int], labels: Sequence[str], level: float) -> ShareIntervals | TooLittle:
    """Return Goodman's intervals; good where counts are large and categories are few.

    counts by category, 0 or more; fewer than two categories, or nothing counted, is TooLittle. Computed by
    statsmodels.stats.proportion.multinomial_proportions_confint (chi-square quantile at 1 - (1 - level)/k, 1
    degree). Source: Goodman (1965), Technometrics 7, 247-254.
    """
    return _intervals(counts, labels, level, "goodman", "Goodman")


def sison_glaz_intervals(counts: Sequence[int], labels: Sequence[str], level: float) -> ShareIntervals | TooLittle:
    """Return Sison and Glaz's intervals; narrower than Goodman's where categories are many and none rules.

    Arguments and library as goodman_intervals. Their Poisson approximation fails on small totals, where it can
    claim a share of 1 with certainty: fewer than 5 a category on average is TooLittle, and so are counts on which it
    breaks down. Where one category holds nearly everything they cover less than the level: take
    Goodman's there.
    Source: Sison & Glaz (1995), J. Amer. Stat. Assoc. 90, 366-369 (for 7 or more categories).
    """
    level = demand_level(level)
    total, need = sum(demand_counts(counts, "counts")), SMALLEST_MEAN * len(counts)
    if total > MOST_COUNTED:
        raise ValueError(
            f"counts must sum to at most {MOST_COUNTED} for this approximation, got {total}: take Goodman's"
        )
    if total < need:
        return TooLittle("shares of categories", "fewer than 5 a category on average", total, need)
    found = _intervals(counts, labels, level, "sison-glaz", "Sison-Glaz")
    if isinstance(found, ShareIntervals) and not (_leaves_doubt(found) and _is_wide_enough(found)):
        reason = f"the approximation breaks down on {total} counts (it leaves a share next to no doubt): take Goodman's"
        return TooLittle("shares of categories", reason, total, need)
    return found


def _leaves_doubt(found: ShareIntervals) -> bool:
    return all(low < high for low, high in zip(found.low, found.high, strict=True))


def _is_wide_enough(found: ShareIntervals) -> bool:
    """Return whether the share that scatters most has at least nine tenths of its own single normal interval.

    On some counts of ten thousands the Edgeworth term of the approximation runs off; counts on which it holds kept
    0.96 and more of that width in 400 random tables.
    """
    from scipy.special import ndtri

    def scatter(count: int) -> float:
        return count * (found.total - count) / found.total

    widest = max(range(len(found.counts)), key=lambda i: scatter(found.counts[i]))
    half = (found.high[widest] - found.low[widest]) * found.total / 2 + 1  # a count more: limits move in whole counts
    return bool(half >= 0.9 * float(ndtri((1 + found.level) / 2)) * scatter(found.counts[widest]) ** 0.5)


def _intervals(
    counts: Sequence[int], labels: Sequence[str], level: float, name: str, method: str
) -> ShareIntervals | TooLittle:
    counts, level = demand_counts(counts, "counts"), demand_level(level)
    labels, total = demand_labels(labels, "counts", counts), sum(counts)
    if len(counts) < 2:
        return TooLittle("shares of categories", "fewer than two categories", len(counts), 2)
    if total == 0:
        return TooLittle("shares of categories", "nothing was counted", 0, 1)
    import numpy as np
    from statsmodels.stats.proportion import multinomial_proportions_confint

    with np.errstate(divide="ignore", invalid="ignore"):  # where the approximation breaks down: seen in its limits
        limits = multinomial_proportions_confint(counts, alpha=1 - level, method=name)
    if not np.isfinite(limits).all():
        return TooLittle("shares of categories", f"{method}'s limits cannot be calculated on {total} counts", total, 1)
    shares = tuple(count / total for count in counts)
    # Rounding must not leave a share out of its own limits.
    low = tuple(min(share, max(0.0, float(pair[0]))) for share, pair in zip(shares, limits, strict=True))
    high = tuple(max(share, min(1.0, float(pair[1]))) for share, pair in zip(shares, limits, strict=True))
    return ShareIntervals(shares, low, high, labels, counts, total, level, method)
