"""The usual range of a period's defects: what the periods before lead one to expect on this period's own units."""

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from qc.stats.answers import TooLittle
from qc.stats.count_limits import TIE, least_count
from qc.stats.period_counts import check_defects, plain_number
from qc.stats.refusals import demand_level, demand_number


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualRange:
    """Defects low..high, both usual, on so many units, if nothing has changed; expected is the mean.

    count, exposure: the defects and units of the periods before on which it rests. Each side is left by chance
    in at most (1 - level) / 2 of periods.
    """

    low: int
    high: int
    expected: float
    count: int
    exposure: float
    units: float
    level: float
    method: str

    def holds(self, defects: int) -> bool:
        """Return whether a count of defects is usual."""
        return self.low <= defects <= self.high


def usual_range(count: int, exposure: float, units: float, level: float) -> UsualRange | TooLittle:
    """Return the prediction interval for the defects on ``units`` units, from count defects on exposure units.

    Both counts are Poisson with one rate per unit; the rate's uncertainty is in the range (gamma posterior of
    Jeffreys' prior), which makes the future count negative binomial with r = count + 1/2, p = exposure /
    (exposure + units). low is the greatest L with P(X < L) <= (1 - level) / 2, high the least U with
    P(X > U) <= (1 - level) / 2, so that it never covers less than level of that distribution.
    units 0 gives 0 to 0; exposure 0 answers TooLittle. Units that differ more than Poisson make it too narrow.
    Raises ValueError naming argument and value.
    Source: prediction intervals for Poisson counts, Hahn & Meeker (1991), Statistical Intervals, ch. 7 (from
    memory); the distribution function is scipy's regularised incomplete beta function.
    """
    count, exposure = check_defects(count, exposure, names=("count", "exposure"))
    level = demand_level(level)
    if (units := demand_number(units, "units")) < 0:
        raise ValueError(f"units must be at least 0, got {units!r}")
    units = plain_number(units)
    if exposure == 0:
        return TooLittle("usual range", "no unit was presented in the weeks before", have=0, need=1)
    mean = (count + 0.5) * units / exposure
    if units == 0:
        return UsualRange(
            low=0, high=0, expected=0.0, count=count, exposure=exposure, units=units, level=level, method=METHOD
        )
    shape, odds = count + 0.5, exposure / (exposure + units)
    tail, spread = (1 - level) / 2, sqrt(mean / odds)
    away = -NormalDist().inv_cdf(tail) * spread  # only where the search begins: it goes up or down from there
    allowed = tail * TIE
    low = least_count(lambda k: _at_most(k, shape, odds) > allowed, int(max(0.0, mean - away)))
    high = least_count(lambda k: _more_than(k, shape, odds) <= allowed, int(mean + away))
    return UsualRange(
        low=low, high=high, expected=mean, count=count, exposure=exposure, units=units, level=level, method=METHOD
    )


METHOD = "Poisson prediction, negative binomial from Jeffreys' prior"


def _at_most(k: int, shape: float, odds: float) -> float:
    """Return P(X <= k) of the negative binomial."""
    from scipy.special import betainc

    return float(betainc(shape, k + 1, odds))


def _more_than(k: int, shape: float, odds: float) -> float:
    """Return P(X > k), not as a difference from 1."""
    from scipy.special import betaincc

    return float(betaincc(shape, k + 1, odds))
