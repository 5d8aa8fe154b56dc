"""Intervals for one share of defective units and for one rate of defects.

scipy has the quantiles (`scipy.special`, a quarter of a second to import where `scipy.stats` takes up to
two), the closed forms stand here in a line each; both are checked against statsmodels and scipy.stats.
"""

from dataclasses import dataclass
from math import sqrt
from typing import SupportsFloat

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.refusals import demand_found, demand_level, demand_part, demand_positive


@dataclass(frozen=True, slots=True)
class ShareInterval:
    """A share of units with its two-sided interval and what it was computed from.

    low, high, share are shares in [0, 1]; defectives and inspected count units; level in (0, 1).
    """

    low: float
    high: float
    share: float
    defectives: int
    inspected: int
    level: float
    method: str


@dataclass(frozen=True, slots=True)
class RateInterval:
    """A rate of defects per unit with its two-sided interval.

    low, high, rate are in defects per unit, at least 0.
    """

    low: float
    high: float
    rate: float
    defects: int
    units: float
    level: float
    method: str


@dataclass(frozen=True, slots=True)
class UpperBound:
    """A one-sided upper bound: with confidence level the true value is not above it.

    bound is a share (events are defective units, size units inspected) or a rate (defects on units), as method says.
    """

    bound: float
    events: int
    size: float
    level: float
    method: str


def _nothing_inspected(what: str) -> TooLittle:
    return TooLittle(what, say("no unit was inspected, so there is nothing to judge from"), have=0, need=1)


def _normal_quantile(level: float) -> float:
    from scipy.special import ndtri

    return float(ndtri(0.5 + level / 2))


def _share_interval(
    low: SupportsFloat, high: SupportsFloat, defectives: int, inspected: int, level: float, method: str
) -> ShareInterval:
    """Build the answer, exact at the edges: 0 defectives reach down to 0, all defective reach up to 1.

    It holds the share itself, which rounding, or a prior at a level near 0, could leave out.
    """
    share = defectives / inspected
    from_share = 0.0 if defectives == 0 else min(share, max(0.0, float(low)))
    to_share = 1.0 if defectives == inspected else max(share, min(1.0, float(high)))
    return ShareInterval(from_share, to_share, share, defectives, inspected, level, method)


def wilson_interval(defectives: int, inspected: int, level: float) -> ShareInterval | TooLittle:
    """Return the two-sided Wilson score interval for the share of defective units.

    defectives counts units, 0..inspected; level is a share in (0, 1), say 0.95.
    low and high are shares in [0, 1]; at 0 defectives low is exactly 0, at all defective high is 1.
    inspected 0 answers TooLittle. Raises ValueError naming the argument if a count or level cannot be.
    Source: Wilson (1927), J. Amer. Stat. Assoc. 22, 209-212; Newcombe (1998), Statistics in Medicine 17,
    857-872, method 3.
    """
    return wilson_of_size(defectives, inspected, inspected, level, "Wilson")


def wilson_of_size(
    defectives: int, inspected: int, size: float, level: float, method: str
) -> ShareInterval | TooLittle:
    """Return Wilson's interval for the share of defective units, as wide as one of ``size`` units would be.

    size: how many units, drawn one by one, would scatter as much as those inspected do; above 0, ``inspected`` for
    wilson_interval itself. method: the name that the answer bears. All else as there.
    Source: Korn & Graubard (1998), Survey Methodology 24, 193-201, the effective number (from memory).
    """
    defectives, inspected = demand_part(defectives, "defectives", inspected, "inspected")
    level = demand_level(level)
    if inspected == 0:
        return _nothing_inspected("share of defective units")
    size = demand_positive(size, "size")
    z = _normal_quantile(level)
    share = defectives / inspected
    found = defectives * (size / inspected)
    middle = 2 * found + z * z
    half = z * sqrt(z * z + 4 * found * (1 - share))
    below, above = (middle - half, middle + half)
    whole = 2 * (size + z * z)
    return _share_interval(below / whole, above / whole, defectives, inspected, level, method)


def clopper_pearson_interval(defectives: int, inspected: int, level: float) -> ShareInterval | TooLittle:
    """Return the two-sided exact interval for the share of defective units; it covers at least level.

    Arguments, edges, TooLittle and errors as in wilson_interval.
    Source: Clopper & Pearson (1934), Biometrika 26, 404-413, as beta quantiles.
    """
    defectives, inspected = demand_part(defectives, "defectives", inspected, "inspected")
    level = demand_level(level)
    if inspected == 0:
        return _nothing_inspected("share of defective units")
    from scipy.special import betaincinv

    tail, clean = (1 - level) / 2, inspected - defectives
    low = betaincinv(defectives, clean + 1, tail) if defectives else 0.0
    high = betaincinv(defectives + 1, clean, 1 - tail) if clean else 1.0
    return _share_interval(low, high, defectives, inspected, level, "Clopper-Pearson")


def agresti_coull_interval(defectives: int, inspected: int, level: float) -> ShareInterval | TooLittle:
    """Return the two-sided Agresti-Coull interval: the adjusted share plus and minus z standard errors.

    It has Wilson's middle and is never shorter. Clipped to [0, 1]; at the edges low is 0 and high is 1.
    Arguments, TooLittle and errors as in wilson_interval.
    Source: Agresti & Coull (1998), The American Statistician 52, 119-126.
    """
    defectives, inspected = demand_part(defectives, "defectives", inspected, "inspected")
    level = demand_level(level)
    if inspected == 0:
        return _nothing_inspected("share of defective units")
    z = _normal_quantile(level)
    n = inspected + z * z
    middle = (defectives + z * z / 2) / n
    half = z * sqrt(middle * (1 - middle) / n)
    return _share_interval(middle - half, middle + half, defectives, inspected, level, "Agresti-Coull")


def jeffreys_interval(defectives: int, inspected: int, level: float) -> ShareInterval | TooLittle:
    """Return the two-sided equal-tailed interval of the Beta(1/2, 1/2) prior.

    With the usual change at the edges: low is 0 at no defective, high is 1 at all defective.
    Arguments, TooLittle and errors as in wilson_interval.
    Source: Brown, Cai & DasGupta (2001), Statistical Science 16, 101-133, section 4.1.
    """
    defectives, inspected = demand_part(defectives, "defectives", inspected, "inspected")
    level = demand_level(level)
    if inspected == 0:
        return _nothing_inspected("share of defective units")
    from scipy.special import betaincinv

    tail, a, b = (1 - level) / 2, defectives + 0.5, inspected - defectives + 0.5
    low, high = betaincinv(a, b, tail), betaincinv(a, b, 1 - tail)
    return _share_interval(low, high, defectives, inspected, level, "Jeffreys")


def share_upper_bound(defectives: int, inspected: int, level: float) -> UpperBound | TooLittle:
    """Return the one-sided exact upper bound of the share of defective units.

    At 0 defectives it is 1 - (1 - level)^(1/inspected). inspected 0 answers TooLittle; errors as above.
    Source: Clopper & Pearson (1934), one-sided.
    """
    defectives, inspected = demand_part(defectives, "defectives", inspected, "inspected")
    level = demand_level(level)
    if inspected == 0:
        return _nothing_inspected("upper bound of the share of defective units")
    from scipy.special import betaincinv

    clean = inspected - defectives
    bound = float(betaincinv(defectives + 1, clean, level)) if clean else 1.0
    return UpperBound(bound, defectives, inspected, level, "one-sided Clopper-Pearson share")


def _no_exposure(what: str) -> TooLittle:
    return TooLittle(what, say("the exposure is 0, so there is no rate per unit"), have=0, need=1)


def poisson_interval(defects: int, units: float, level: float) -> RateInterval | TooLittle:
    """Return the two-sided exact interval for a rate of defects per unit.

    units (or hours, metres) at least 0; units 0 answer TooLittle.
    At 0 defects low is exactly 0 and high is the two-sided bound (3.689/units at level 0.95).
    Source: Garwood (1936), Biometrika 28, 437-442, as gamma quantiles.
    """
    defects, units = demand_found(defects, "defects", units, "units")
    level = demand_level(level)
    if units == 0:
        return _no_exposure("rate of defects")
    from scipy.special import gammaincinv

    tail = (1 - level) / 2
    low = float(gammaincinv(defects, tail)) if defects else 0.0
    high = float(gammaincinv(defects + 1, 1 - tail))
    return RateInterval(low / units, high / units, defects / units, defects, units, level, "Garwood")


def rate_upper_bound(defects: int, units: float, level: float) -> UpperBound | TooLittle:
    """Return the one-sided exact upper bound of a rate; at 0 defects and 0.95 it is 2.996/units.

    Arguments, TooLittle and errors as in poisson_interval. Source: Garwood (1936), one-sided.
    """
    defects, units = demand_found(defects, "defects", units, "units")
    level = demand_level(level)
    if units == 0:
        return _no_exposure("upper bound of the rate of defects")
    from scipy.special import gammaincinv

    bound = float(gammaincinv(defects + 1, level)) / units
    return UpperBound(bound, defects, units, level, "one-sided Garwood rate")
