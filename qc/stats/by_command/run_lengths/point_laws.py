"""The law of one charted point, in control or shifted: normal, binomial or Poisson, on the standardised scale."""

from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

from qc.stats.charts.run_rules import RuleSet
from qc.stats.refusals import (
    demand_count,
    demand_inner_share,
    demand_kind,
    demand_number,
    demand_positive,
)

MOST_COUNTS = 1_000_000  # of one law; at that size a normal law is as good


@dataclass(frozen=True, slots=True)
class PointLaw:
    """The law of one standardised point as the rules see it: representative values and their probabilities."""

    values: tuple[float, ...]
    probabilities: tuple[float, ...]
    situation: str


def zone_edges(rules: RuleSet) -> list[float]:
    """Return the values, rising, between which a set of rules tells standardised points apart."""
    demand_kind(rules, RuleSet, "rules")
    return sorted({0.0} | {sign * rule.zone for rule in rules.rules for sign in (1, -1)})


def normal_law(rules: RuleSet, shift: float) -> PointLaw:
    """Return the law of a normal point whose mean stands shift standard deviations off the centre."""
    shift = demand_number(shift, "shift")
    from scipy.special import ndtr

    cuts = zone_edges(rules)
    edges = [-float("inf"), *cuts, float("inf")]
    values = [cuts[0] - 1, *[(a + b) / 2 for a, b in pairwise(cuts)], cuts[-1] + 1]
    # Above the mean the upper tail is taken, so that a small probability keeps its digits.
    chances = [
        float(ndtr(shift - a) - ndtr(shift - b)) if a > shift else float(ndtr(b - shift) - ndtr(a - shift))
        for a, b in pairwise(edges)
    ]
    return PointLaw(tuple(values), tuple(chances), f"normal, shifted by {shift:g} standard deviations")


def share_law(share: float, inspected: int, ratio: float) -> PointLaw:
    """Return the law of a p chart's point of so many units: z from the baseline share, counts from the true one.

    share, of the baseline, in (0, 1); ratio: the true share over it, 1 where nothing has changed; inspected at least
    1. Source: binomial law.
    """
    inspected = demand_count(inspected, "inspected", 1)
    share = demand_inner_share(share, "share")
    if not 0 <= (true := share * demand_number(ratio, "ratio")) <= 1:
        raise ValueError(f"ratio must leave share times ratio from 0 to 1, got {ratio!r} for {share!r}")
    _demand_size(inspected, "inspected", inspected)
    import numpy as np
    from scipy.special import gammaln, xlog1py, xlogy

    k = np.arange(inspected + 1.0)
    ways = gammaln(inspected + 1) - gammaln(k + 1) - gammaln(inspected - k + 1)
    chances = np.exp(ways + xlogy(k, true) + xlog1py(inspected - k, -true))
    sigma = sqrt(share * (1 - share) / inspected)
    values = [(count / inspected - share) / sigma for count in range(inspected + 1)]
    told = f"{inspected} units, {true:g} defective against a baseline of {share:g}"
    return PointLaw(tuple(values), tuple(float(chance) for chance in chances), told)


def rate_law(rate: float, units: float, ratio: float) -> PointLaw:
    """Return the law of a u chart's point on so many units; ratio: the true rate over the baseline's, at least 0.

    Source: Poisson law.
    """
    rate, units = demand_positive(rate, "rate"), demand_positive(units, "units")
    if (true := rate * demand_number(ratio, "ratio")) < 0:
        raise ValueError(f"ratio must be at least 0, got {ratio!r}")
    mean, usual = true * units, rate * units
    # Far enough in the tail for both laws; what is left out is given to the last count.
    highest = int(max(mean + 12 * sqrt(mean), usual + 6 * sqrt(usual)) + 30)
    _demand_size(highest, "units", units)
    import numpy as np
    from scipy.special import gammaln, pdtrc, xlogy

    k = np.arange(highest + 1.0)
    chances = np.exp(xlogy(k, mean) - mean - gammaln(k + 1))
    chances[-1] = pdtrc(highest - 1.0, mean)
    values = [(count - usual) / sqrt(usual) for count in range(highest + 1)]
    told = f"exposure {units:g}, {true:g} per unit against a baseline of {rate:g}"
    return PointLaw(tuple(values), tuple(float(chance) for chance in chances), told)


def _demand_size(counts: int, name: str, value: float) -> None:
    if counts > MOST_COUNTS:
        raise ValueError(f"{name} must leave at most {MOST_COUNTS} counts, got {value!r}; a normal law will do there")
