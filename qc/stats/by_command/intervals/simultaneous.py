"""Intervals for all shares of a Pareto at once: one level for every category together, not one for each."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from qc.stats.answers import TooLittle
from qc.stats.refusals import demand_kind, demand_level
from qc.stats.series import Counts

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_COUNTED = 200_000  # the search for the limits goes up one by one
AT_ONCE = 64  # widths of the limits that are worked out together
SMALLEST_MEAN = 5  # counts a category, the smallest that Sison and Glaz tried


@dataclass(frozen=True, slots=True, kw_only=True)
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


def goodman_intervals(counts: Counts, level: float) -> ShareIntervals | TooLittle:
    """Return Goodman's intervals; good where counts are large and categories are few.

    counts by category; fewer than two categories, or nothing counted, is TooLittle. Computed by
    statsmodels.stats.proportion.multinomial_proportions_confint (chi-square quantile at 1 - (1 - level)/k, 1
    degree). Source: Goodman (1965), Technometrics 7, 247-254.
    """
    return _intervals(counts, level, _goodman, "Goodman")


def sison_glaz_intervals(counts: Counts, level: float) -> ShareIntervals | TooLittle:
    """Return Sison and Glaz's intervals; narrower than Goodman's where categories are many and none rules.

    Arguments as goodman_intervals; statsmodels has them too, but works out one category after the other. Their Poisson
    approximation fails on small totals, where it can claim a share of 1 with certainty: fewer than 5 a category on
    average is TooLittle, and so are counts on which it breaks down. Where one category holds nearly everything they
    cover less than the level: take Goodman's there.
    Source: Sison & Glaz (1995), J. Amer. Stat. Assoc. 90, 366-369 (for 7 or more categories).
    """
    demand_kind(counts, Counts, "counts")
    level = demand_level(level)
    total, need = sum(counts.counts), SMALLEST_MEAN * len(counts.counts)
    if total > MOST_COUNTED:
        raise ValueError(
            f"counts must sum to at most {MOST_COUNTED} for this approximation, got {total}: take Goodman's"
        )
    if total < need:
        return TooLittle("shares of categories", "fewer than 5 a category on average", total, need)
    found = _intervals(counts, level, _sison_glaz, "Sison-Glaz")
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
    counts: Counts,
    level: float,
    limits_of: "Callable[[tuple[int, ...], float], NDArray[Any]]",
    method: str,
) -> ShareIntervals | TooLittle:
    demand_kind(counts, Counts, "counts")
    level, found, total = demand_level(level), counts.counts, sum(counts.counts)
    if len(found) < 2:
        return TooLittle("shares of categories", "fewer than two categories", len(found), 2)
    if total == 0:
        return TooLittle("shares of categories", "nothing was counted", 0, 1)
    import numpy as np

    limits = limits_of(found, level)
    if not np.isfinite(limits).all():
        return TooLittle("shares of categories", f"{method}'s limits cannot be calculated on {total} counts", total, 1)
    shares = tuple(count / total for count in found)
    # Rounding must not leave a share out of its own limits.
    low = tuple(min(share, max(0.0, float(pair[0]))) for share, pair in zip(shares, limits, strict=True))
    high = tuple(max(share, min(1.0, float(pair[1]))) for share, pair in zip(shares, limits, strict=True))
    return ShareIntervals(
        shares=shares, low=low, high=high, labels=counts.labels, counts=found, total=total, level=level, method=method
    )


def _goodman(counts: tuple[int, ...], level: float) -> "NDArray[Any]":
    from statsmodels.stats.proportion import multinomial_proportions_confint

    limits: NDArray[Any] = multinomial_proportions_confint(counts, alpha=1 - level, method="goodman")
    return limits


def _sison_glaz(counts: tuple[int, ...], level: float) -> "NDArray[Any]":
    """Return the limits, nan where the approximation leaves none: the first whole c at which the level is passed."""
    import numpy as np

    means, total = np.array(counts, dtype=float), float(sum(counts))
    shares, before, start = means / total, 0.0, 1
    while start <= total:
        reached = _covered(means, total, np.arange(start, min(start + AT_ONCE, int(total)) + 1, dtype=float))
        steps = np.concatenate([[before], reached])
        passed = np.flatnonzero((steps[:-1] <= level) & (level < steps[1:]))
        if len(passed):
            c = start - 1 + int(passed[0])
            over = (level - steps[passed[0]]) / (steps[passed[0] + 1] - steps[passed[0]])
            return np.stack([shares - c / total, shares + (c + 2 * over) / total], axis=1)
        before, start = float(reached[-1]), start + len(reached)
    return np.full((len(counts), 2), np.nan)


def _covered(means: "NDArray[Any]", total: float, reach: "NDArray[Any]") -> "NDArray[Any]":
    """Return Sison and Glaz's chance, formula (7), that every count lies within c of its own, for each c of reach.

    From c = total on it is 1. Where their Edgeworth term is below 0 it is nan, which no level lies below or above.
    """
    import numpy as np
    from scipy.special import gammaln, pdtr, xlogy

    low = np.maximum(means - reach[:, None], 0.0)
    high = np.minimum(means + reach[:, None], total)

    def up_to(counts: "NDArray[Any]") -> "NDArray[Any]":
        return np.where(counts < 0, 0.0, pdtr(np.maximum(counts, 0.0), means))

    with np.errstate(all="ignore"):  # where the approximation breaks down: seen in its limits
        inside = up_to(high) - up_to(low - 1)
        # Factorial moments of the Poisson counts cut off at low and high, then central ones, summed over categories.
        m1, m2, m3, m4 = (
            means**r * (1 - ((up_to(high) - up_to(high - r)) - (up_to(low - 1) - up_to(low - r - 1))) / inside)
            for r in range(1, 5)
        )
        v2 = m2 + m1 - m1**2
        v3 = m3 + m2 * (3 - 3 * m1) + m1 - 3 * m1**2 + 2 * m1**3
        v4 = (
            m4 + m3 * (6 - 4 * m1) + m2 * (7 - 12 * m1 + 6 * m1**2) + m1 - 4 * m1**2 + 6 * m1**3 - 3 * m1**4
        )  # fmt: skip
        spread = v2.sum(axis=1)
        skew = v3.sum(axis=1) / spread**1.5
        peak = (v4.sum(axis=1) - 3 * (v2**2).sum(axis=1)) / spread**2
        x = (total - m1.sum(axis=1)) / np.sqrt(spread)
        edgeworth = (
            1 + skew * (x**3 - 3 * x) / 6 + peak * (x**4 - 6 * x**2 + 3) / 24
            + skew**2 * (x**6 - 15 * x**4 + 45 * x**2 - 15) / 72
        ) * np.exp(-(x**2) / 2) / np.sqrt(2 * np.pi * spread)  # fmt: skip
        at_total = xlogy(total, total) - gammaln(total + 1) - total
        covered = np.exp(np.log(inside).sum(axis=1) + np.log(edgeworth) - at_total)
    return np.asarray(np.where(reach >= total, 1.0, covered))
