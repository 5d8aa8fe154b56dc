"""The usual range of a period's defects: what the periods before lead one to expect on this period's own units."""

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from qc.domain.words.speaking import marked, say
from qc.stats.answers import TooLittle
from qc.stats.intervals.count_limits import TIE, least_count
from qc.stats.refusals import demand_found, demand_level, demand_number, plain_number


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualRange:
    """Defects low..high, both usual, on now_units units, if nothing has changed; expected is the mean.

    defects, units: of the periods before on which it rests. Each side is left by chance
    in at most (1 - level) / 2 of periods.
    """

    low: int
    high: int
    expected: float
    defects: int
    units: float
    now_units: float
    level: float
    method: str

    def holds(self, defects: int) -> bool:
        """Return whether so many defects are usual."""
        return self.low <= defects <= self.high


def usual_range(defects: int, units: float, now_units: float, level: float) -> UsualRange | TooLittle:
    """Return the prediction interval for the defects on ``now_units`` units, from defects on units before.

    Both counts are Poisson with one rate per unit; the rate's uncertainty is in the range (gamma posterior of
    Jeffreys' prior), which makes the future count negative binomial with r = defects + 1/2, p = units /
    (units + now_units). low is the greatest L with P(X < L) <= (1 - level) / 2, high the least U with
    P(X > U) <= (1 - level) / 2, so that it never covers less than level of that distribution.
    now_units 0 gives 0 to 0; units 0 answer TooLittle. Units that differ more than Poisson make it too narrow.
    Raises ValueError naming argument and value.
    Source: prediction intervals for Poisson counts, Hahn & Meeker (1991), Statistical Intervals, ch. 7 (from
    memory); the distribution function is scipy's regularised incomplete beta function.
    """
    defects, units = demand_found(defects, "defects", units, "units")
    level = demand_level(level)
    if (now_units := demand_number(now_units, "now_units")) < 0:
        raise ValueError(f"now_units must be at least 0, got {now_units!r}")
    now_units = plain_number(now_units)
    if units == 0:
        return TooLittle("usual range", say("no unit was presented in the weeks before"), have=0, need=1)
    mean = (defects + 0.5) * now_units / units
    if now_units == 0:
        return UsualRange(
            low=0, high=0, expected=0.0, defects=defects, units=units, now_units=now_units, level=level, method=METHOD
        )
    shape, odds = defects + 0.5, units / (units + now_units)
    tail, spread = (1 - level) / 2, sqrt(mean / odds)
    away = -NormalDist().inv_cdf(tail) * spread  # only where the search begins: it goes up or down from there
    allowed = tail * TIE
    low = least_count(lambda k: _at_most(k, shape, odds) > allowed, int(max(0.0, mean - away)))
    high = least_count(lambda k: _more_than(k, shape, odds) <= allowed, int(mean + away))
    return UsualRange(
        low=low, high=high, expected=mean, defects=defects, units=units, now_units=now_units, level=level, method=METHOD
    )


METHOD = marked("Poisson prediction, negative binomial from Jeffreys' prior")


def _at_most(k: int, shape: float, odds: float) -> float:
    """Return P(X <= k) of the negative binomial."""
    from scipy.special import betainc

    return float(betainc(shape, k + 1, odds))


def _more_than(k: int, shape: float, odds: float) -> float:
    """Return P(X > k), not as a difference from 1."""
    from scipy.special import betaincc

    return float(betaincc(shape, k + 1, odds))
