"""Whether a rate rises or falls steadily over time, with exposure: the ratio for one unit of time."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.by_command.change.regression import (
    CountRegression,
    negative_binomial_regression,
    poisson_regression,
    quasi_poisson_regression,
)
from qc.stats.refusals import (
    demand_as_many,
    demand_kind,
    demand_level,
    demand_numbers,
)
from qc.stats.series import Rates

LARGEST_SLOPE = 700.0  # natural log of a ratio: beyond, a computer's number is 0 or infinite


@dataclass(frozen=True, slots=True, kw_only=True)
class RateTrend:
    """Change of a rate for one unit of time as a ratio, 1 being none, with its interval.

    scattered: the counts scatter more than Poisson round the trend (Pearson chi-square, p below 0.01): believe the
    quasi-Poisson or negative binomial trend then. regression: the evidence. gaps: labels without units.
    """

    ratio: float
    low: float
    high: float
    p_value: float
    scattered: bool
    regression: CountRegression
    labels: tuple[str, ...]
    defects: tuple[int, ...]
    units: tuple[float, ...]
    times: tuple[float, ...]
    gaps: tuple[str, ...]
    level: float
    method: str


Regression = Callable[[Rates, Sequence[Sequence[float]], Sequence[str], float], CountRegression | TooLittle]


def poisson_trend(rates: Rates, times: Sequence[float], level: float) -> RateTrend | TooLittle:
    """Return the Poisson trend of a rate over time, the ratio for one unit of time.

    Periods without units are gaps. Fewer than three others, no defect, or all defects at one end, is TooLittle.
    Source: see poisson_regression.
    """
    return _rate_trend(rates, times, level, poisson_regression)


def quasi_poisson_trend(rates: Rates, times: Sequence[float], level: float) -> RateTrend | TooLittle:
    """Return the trend with its interval widened for scatter beyond Poisson, never narrowed; see poisson_trend."""
    return _rate_trend(rates, times, level, quasi_poisson_regression)


def negative_binomial_trend(rates: Rates, times: Sequence[float], level: float) -> RateTrend | TooLittle:
    """Return the trend with negative binomial scatter; see poisson_trend and negative_binomial_regression."""
    return _rate_trend(rates, times, level, negative_binomial_regression)


def _rate_trend(
    rates: Rates,
    times: Sequence[float],
    level: float,
    regression: Regression,
) -> RateTrend | TooLittle:
    from scipy.special import chdtrc

    demand_kind(rates, Rates, "rates")
    level = demand_level(level)
    demand_as_many("times", times, "rates", rates.labels)
    when = demand_numbers(times, "times")
    kept = [i for i, units in enumerate(rates.units) if units > 0]
    # Time is centred for the fit, so that a calendar's large numbers do not upset it; the slope is the same.
    middle = sum(when[i] for i in kept) / max(1, len(kept))
    columns = ([when[i] - middle for i in kept],)
    fit = regression(rates.rows(kept), columns, ("time",), level)
    if isinstance(fit, TooLittle):
        return TooLittle("trend of a rate", fit.reason, fit.have, fit.need)
    scattered = float(chdtrc(fit.degrees, fit.pearson_chi_square)) < 0.01
    slopes = fit.coefficients[1], fit.low[1], fit.high[1]
    if max(map(abs, slopes)) > LARGEST_SLOPE:
        raise ValueError(f"times must be told in a smaller unit: the ratio for one is e^{slopes[0]:.3g}, got {when!r}")
    ratio, low, high = map(math.exp, slopes)
    gaps = tuple(label for i, label in enumerate(rates.labels) if i not in set(kept))
    return RateTrend(
        ratio=ratio,
        low=low,
        high=high,
        p_value=fit.p_values[1],
        scattered=scattered,
        regression=fit,
        labels=rates.labels,
        defects=rates.defects,
        units=rates.units,
        times=when,
        gaps=gaps,
        level=level,
        method=fit.method,
    )
