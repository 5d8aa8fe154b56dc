"""Intervals by other people's code: statsmodels and scipy, never the project's own."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from scipy.stats import beta
from statsmodels.api import WLS
from statsmodels.stats.proportion import proportion_confint

LEVEL = 0.95


def percent(part: int, whole: int) -> float:
    """Return part of whole in percent."""
    return 100 * part / whole if whole else 0.0


def share(part: int, whole: int) -> tuple[float, ...]:
    """Return what a cell of a share holds: per cent, or no number where there was nothing to share."""
    return (percent(part, whole),) if whole else ()


def wilson(part: int, whole: int) -> tuple[float, float]:
    """Return the Wilson score interval in percent; 0 to 100 where nothing was looked at."""
    low, high = proportion_confint(part, whole, 1 - LEVEL, method="wilson")
    return 100 * float(low), 100 * float(high)


def exact(part: int, whole: int) -> tuple[float, float]:
    """Return the exact (Clopper and Pearson) interval in percent."""
    tail = (1 - LEVEL) / 2
    low = beta.ppf(tail, part, whole - part + 1) if part else 0.0
    high = beta.ppf(1 - tail, part + 1, whole - part) if part < whole else 1.0
    return 100 * float(low), 100 * float(high)


def share_cell(part: int, whole: int) -> tuple[float, ...]:
    """Return what a cell like “12.3 % (10.1 % – 14.9 %)” holds; empty where there is nothing to share."""
    return (percent(part, whole), *wilson(part, whole)) if whole else ()


Units = Mapping[str, tuple[int, int]]  # of each unit by its number: so many defects of so many


def of_units(part: Iterable[str], whole: Iterable[str]) -> Units:
    """Return for each unit how many defects of the part and of the whole are on it; each is given by its unit."""
    parts, wholes = Counter(part), Counter(whole)
    return {unit: (parts[unit], number) for unit, number in wholes.items()}


class _Scatter:
    """How a share scatters between units: a weighted mean of their shares, its variance robust to their inequality."""

    def __init__(self, units: Units) -> None:
        part, whole = np.array([*units.values()], dtype=float).reshape(-1, 2).T
        self.units, self.whole = len(whole), whole.sum()
        self.share = part.sum() / self.whole if self.whole else 0.0
        self.seen = 0 < self.share < 1
        self.as_single = self.share * (1 - self.share) * self.whole  # the variance of the part, each defect by itself
        self.alike = (whole**2).sum() / self.whole if self.whole else 1.0
        self.variance = 0.0
        if self.seen:
            fit = WLS(part / whole, np.ones(self.units), weights=whole).fit(cov_type="HC0")
            self.variance = float(fit.bse[0] * self.whole) ** 2


def by_units(rows: Sequence[Units], beside: Sequence[Units] = ()) -> list[tuple[float, float]]:
    """Return the range of each row's share in percent, where the defects of one unit go together.

    As the handbook says it: Wilson's on so many defects as scatter so much one by one; the scatter of the row itself or
    that of all rows of the table, whichever is more; few units (of m, the weight m ^ -1.5) as if a unit's were alike.
    """
    told = [_Scatter(units) for units in rows]
    seen = [one for one in (*told, *map(_Scatter, beside)) if one.seen]
    together = sum(one.variance for one in seen) / sum(one.as_single for one in seen) if seen else None
    ranges = []
    for one in told:
        if together is None:
            factor = one.alike
        else:
            factor = max(1.0, together, one.variance / one.as_single if one.seen else 0.0)
            if one.units:
                factor += max(0.0, one.alike - factor) / one.units**1.5
        size = one.whole / factor
        low, high = proportion_confint(one.share * size, size, 1 - LEVEL, method="wilson") if one.whole else (0.0, 1.0)
        ranges.append((100 * float(low), 100 * float(high)))
    return ranges


def cells_by_units(rows: Sequence[Units]) -> list[tuple[float, ...]]:
    """Return what the cells of shares hold, each with its range by units; empty where there is nothing to share."""
    sums = [tuple(map(sum, zip(*units.values(), strict=True))) if units else (0, 0) for units in rows]
    return [
        (percent(part, whole), *ends) if whole else () for (part, whole), ends in zip(sums, by_units(rows), strict=True)
    ]
