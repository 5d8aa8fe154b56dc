"""Intervals by other people's code: statsmodels and scipy, never the project's own."""

from scipy.stats import beta
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
