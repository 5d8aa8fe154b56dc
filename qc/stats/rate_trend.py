"""Whether a rate rises or falls steadily over time, with exposure: the ratio for one unit of time."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_as_many,
    demand_counts,
    demand_exposed,
    demand_exposures,
    demand_labels,
    demand_level,
    demand_numbers,
)
from qc.stats.regression import (
    CountRegression,
    negative_binomial_regression,
    poisson_regression,
    quasi_poisson_regression,
)

LARGEST_SLOPE = 700.0  # natural log of a ratio: beyond, a computer's number is 0 or infinite


@dataclass(frozen=True, slots=True, kw_only=True)
class RateTrend:
    """Change of a rate for one unit of time as a ratio, 1 being none, with its interval.

    scattered: the counts scatter more than Poisson round the trend (Pearson chi-square, p below 0.01): believe the
    quasi-Poisson or negative binomial trend then. regression: the evidence. gaps: labels without exposure.
    """

    ratio: float
    low: float
    high: float
    p_value: float
    scattered: bool
    regression: CountRegression
    labels: tuple[str, ...]
    counts: tuple[int, ...]
    exposures: tuple[float, ...]
    times: tuple[float, ...]
    gaps: tuple[str, ...]
    level: float
    method: str


Regression = Callable[
    [Sequence[int], Sequence[float], Sequence[Sequence[float]], Sequence[str], float], CountRegression | TooLittle
]


def poisson_trend(
    counts: Sequence[int], exposures: Sequence[float], times: Sequence[float], labels: Sequence[str], level: float
) -> RateTrend | TooLittle:
    """Return the Poisson trend of a rate over time, the ratio for one unit of time.

    Periods without exposure are gaps. Fewer than three others, no defect, or all defects at one end, is TooLittle.
    Source: see poisson_regression.
    """
    return _rate_trend(counts, exposures, times, labels, level, poisson_regression)


def quasi_poisson_trend(
    counts: Sequence[int], exposures: Sequence[float], times: Sequence[float], labels: Sequence[str], level: float
) -> RateTrend | TooLittle:
    """Return the trend with its interval widened for scatter beyond Poisson, never narrowed; see poisson_trend."""
    return _rate_trend(counts, exposures, times, labels, level, quasi_poisson_regression)


def negative_binomial_trend(
    counts: Sequence[int], exposures: Sequence[float], times: Sequence[float], labels: Sequence[str], level: float
) -> RateTrend | TooLittle:
    """Return the trend with negative binomial scatter; see poisson_trend and negative_binomial_regression."""
    return _rate_trend(counts, exposures, times, labels, level, negative_binomial_regression)


def _rate_trend(
    counts: Sequence[int],
    exposures: Sequence[float],
    times: Sequence[float],
    labels: Sequence[str],
    level: float,
    regression: Regression,
) -> RateTrend | TooLittle:
    from scipy.special import chdtrc

    counts, exposures = demand_counts(counts, "counts"), demand_exposures(exposures, "exposures")
    demand_exposed(counts, "counts", exposures, "exposures")
    labels, level = demand_labels(labels, "counts", counts), demand_level(level)
    demand_as_many("times", times, "counts", counts)
    when = demand_numbers(times, "times")
    kept = [i for i, exposure in enumerate(exposures) if exposure > 0]
    # Time is centred for the fit, so that a calendar's large numbers do not upset it; the slope is the same.
    middle = sum(when[i] for i in kept) / max(1, len(kept))
    columns = ([when[i] - middle for i in kept],)
    fit = regression([counts[i] for i in kept], [exposures[i] for i in kept], columns, ("time",), level)
    if isinstance(fit, TooLittle):
        return TooLittle("trend of a rate", fit.reason, fit.have, fit.need)
    scattered = float(chdtrc(fit.degrees, fit.pearson_chi_square)) < 0.01
    slopes = fit.coefficients[1], fit.low[1], fit.high[1]
    if max(map(abs, slopes)) > LARGEST_SLOPE:
        raise ValueError(f"times must be told in a smaller unit: the ratio for one is e^{slopes[0]:.3g}, got {when!r}")
    ratio, low, high = map(math.exp, slopes)
    gaps = tuple(label for i, label in enumerate(labels) if i not in set(kept))
    return RateTrend(
        ratio=ratio,
        low=low,
        high=high,
        p_value=fit.p_values[1],
        scattered=scattered,
        regression=fit,
        labels=labels,
        counts=counts,
        exposures=exposures,
        times=when,
        gaps=gaps,
        level=level,
        method=fit.method,
    )
