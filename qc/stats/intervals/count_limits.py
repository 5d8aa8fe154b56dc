"""Limits on a count from the law of the count itself, for counts too small for standard deviations.

A count signals above upper or below lower; each side's false alarm is at most the tail that was asked for.
scipy.special has the tails and a first guess of the quantile; the limit is then checked on the tails.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, inf, sqrt
from statistics import NormalDist

from qc.stats.refusals import demand_count, demand_number, demand_part, demand_positive, demand_share

# The tail of a normal value beyond three standard deviations, as the tables print it.
THREE_SIGMA_TAIL = 0.00135
# Two probabilities nearer than this are equal: their sums are rounded in another order.
TIE = 1 + 1e-9
MOST_SUMMED = 1_000_000  # units of a period: the terms of the beta-binomial law are held at once


@dataclass(frozen=True, slots=True)
class CountLimits:
    """Limits on a count: a signal is a count above upper, or below lower.

    lower 0 means that there is no lower limit: no count is below it. p_high, p_low: the probabilities of a
    signal on each side while nothing has changed; tail: what each was allowed to be.
    """

    lower: int
    upper: int
    p_high: float
    p_low: float
    tail: float

    @property
    def has_lower(self) -> bool:
        """Return whether any count can signal on the low side."""
        return self.lower > 0


def binomial_limits(inspected: int, share: float, tail: float) -> CountLimits:
    """Return the limits on the number of defective units of so many inspected, at this share.

    upper is the least U with P(X > U) <= tail, lower the greatest L with P(X < L) <= tail.
    inspected at least 1; share in [0, 1]; tail in (0, 0.5). Raises ValueError. Source: direct definition.
    """
    inspected = demand_count(inspected, "inspected", 1)
    share = demand_share(share, "share")
    tail = demand_tail(tail)
    if share in (0, 1):
        only = inspected if share else 0
        return CountLimits(only, only, 0.0, 0.0, tail)
    from scipy.special import bdtr, bdtrc, bdtrik

    return limits_on_tails(
        tail,
        inspected,
        float(bdtrik(1 - tail, inspected, share)),
        float(bdtrik(tail, inspected, share)),
        lambda count: float(bdtrc(count, inspected, share)),
        lambda count: float(bdtr(count, inspected, share)),
    )


def poisson_limits(mean: float, tail: float) -> CountLimits:
    """Return the limits on a number of defects at this mean, at least 0; tails as in binomial_limits."""
    if (mean := demand_number(mean, "mean")) < 0:
        raise ValueError(f"mean must be at least 0, got {mean!r}")
    tail = demand_tail(tail)
    if mean == 0:
        return CountLimits(0, 0, 0.0, 0.0, tail)
    from scipy.special import pdtr, pdtrc, pdtrik

    return limits_on_tails(
        tail,
        None,
        float(pdtrik(1 - tail, mean)),
        float(pdtrik(tail, mean)),
        lambda count: float(pdtrc(count, mean)),
        lambda count: float(pdtr(count, mean)),
    )


def demand_tail(tail: float) -> float:
    """Return the tail; refuse one that is no probability below one half."""
    if (tail := demand_number(tail, "tail")) <= 0 or tail >= 0.5:
        raise ValueError(f"tail must be a probability between 0 and 0.5, say {THREE_SIGMA_TAIL}, got {tail!r}")
    return float(tail)


def limits_on_tails(
    tail: float,
    most: int | None,
    upper_guess: float,
    lower_guess: float,
    above: Callable[[int], float],
    up_to: Callable[[int], float],
) -> CountLimits:
    """Return the limits of a law of counts 0..most (None: no end) from its tails and guesses at the quantiles.

    above(count) is P(X > count), up_to(count) is P(X <= count). A guess may be wrong or nan; it costs steps only.
    A probability that is the tail but for rounding counts as no more than the tail.
    """
    allowed, end = tail * TIE, inf if most is None else most
    upper = least_count(lambda count: count >= end or above(count) <= allowed, _guess(upper_guess))
    lower = least_count(lambda count: count >= end or up_to(count) > allowed, _guess(lower_guess))
    below = up_to(lower - 1) if lower else 0.0
    return CountLimits(lower, upper, min(above(upper), tail), min(below, tail), tail)


def least_count(holds: Callable[[int], bool], guess: int) -> int:
    """Return the least count, from 0, for which something holds that holds for all larger ones; guess is a start.

    Steps away from the guess double and then halve, so that a guess far off costs few looks.
    """
    step, above = 1, guess
    while not holds(above):
        above, step = above + step, 2 * step
    step, below = 1, above - 1
    while below >= 0 and holds(below):
        above, below, step = below, below - step, 2 * step
    below = max(below, -1)
    while above - below > 1:
        middle = (above + below) // 2
        above, below = (middle, below) if holds(middle) else (above, middle)
    return above


def _guess(quantile: float) -> int:
    # bdtrik answers nan or below 0 where the quantile is under the first count.
    return max(0, ceil(quantile)) if quantile == quantile else 0


def predictive_share_limits(inspected: int, before_defectives: int, before_inspected: int, tail: float) -> CountLimits:
    """Return limits on defective units of so many inspected, from a baseline of
    before_defectives of before_inspected units.

    The share is not taken as known: what the baseline leaves open about it (Jeffreys prior) is in the limits,
    which are those of the beta-binomial law and wider than binomial_limits at the baseline's share. They exist for a
    baseline without any defective unit too. inspected, before_inspected at least 1. Raises ValueError.
    Source: predictive control limits, Menzefricke (2002), Communications in Statistics - Theory and Methods 31,
    1423-1440 (from memory). scipy has the law, but slow to import; its terms are summed from scipy.special.
    """
    if demand_count(inspected, "inspected", 1) > MOST_SUMMED:
        raise ValueError(f"inspected must be at most {MOST_SUMMED} for this law, got {inspected!r}")
    whole = demand_count(before_inspected, "before_inspected", 1)
    bad, whole = demand_part(before_defectives, "before_defectives", whole, "before_inspected")
    tail = demand_tail(tail)
    import numpy as np
    from scipy.special import betaln

    a, b, counts = bad + 0.5, whole - bad + 0.5, np.arange(inspected + 1)
    logs = -np.log(inspected + 1) - betaln(inspected - counts + 1, counts + 1)
    terms = np.exp(logs + betaln(counts + a, inspected - counts + b) - betaln(a, b))
    # Each tail is summed from its own end, so that small probabilities keep their digits.
    below, over = np.cumsum(terms), np.append(np.cumsum(terms[::-1])[::-1][1:], 0.0)
    middle = inspected * a / (a + b)
    return limits_on_tails(
        tail, inspected, middle, middle, lambda count: float(over[count]), lambda count: float(below[count])
    )


def predictive_rate_limits(
    units: float, before_defects: int, before_units: float, tail: float, *, dispersion: float = 1.0
) -> CountLimits:
    """Return limits on the defects on so many units, from a baseline of before_defects on before_units.

    As predictive_share_limits, with the negative binomial law that a gamma posterior of the rate gives.
    units, before_units above 0. dispersion: variance of counts over Poisson's, at least 1; the law is then the negative
    binomial one of the same mean whose variance, of the period and of the baseline alike, is so many times as large.
    scipy.special has its tails as the incomplete beta function. Source for dispersion: counts of constant dispersion,
    McCullagh & Nelder (1989), Generalized Linear Models, 6.2 (from memory).
    """
    units = demand_positive(units, "units")
    before_units = demand_positive(before_units, "before_units")
    before_defects = demand_count(before_defects, "before_defects")
    tail = demand_tail(tail)
    from scipy.special import betainc, betaincc

    if (dispersion := demand_positive(dispersion, "dispersion")) < 1:
        raise ValueError(f"dispersion must be at least 1, got {dispersion!r}")
    middle = (before_defects + 0.5) * units / before_units
    # Variance over mean is dispersion times 1 + units / before_units; with dispersion 1 the shape is the posterior's.
    beyond = dispersion - 1 + dispersion * units / before_units
    shape, chance = middle / beyond, 1 / (1 + beyond)
    away = -NormalDist().inv_cdf(tail) * sqrt(middle / chance)  # a guess saves steps, as a normal law has it
    return limits_on_tails(
        tail,
        None,
        middle + away,
        middle - away,
        lambda count: float(betaincc(shape, count + 1.0, chance)),
        lambda count: float(betainc(shape, count + 1.0, chance)),
    )
