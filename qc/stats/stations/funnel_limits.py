"""Funnel limits for shares and rates around one target: exact with interpolation, no normal approximation."""

import math
from collections.abc import Callable, Sequence

from qc.stats.intervals.count_limits import least_count
from qc.stats.refusals import demand_count, demand_level, demand_list, demand_part, demand_positive, demand_share


def exact_share_limits(target: float, inspected: int, chances: Sequence[float]) -> tuple[float, ...]:
    """Return the limits of a share of defective units at which the binomial chance of less is as given.

    target: the true share, in (0, 1); inspected at least 1; chances in (0, 1), say 0.001, 0.025, 0.975, 0.999.
    The limit is (r - alpha) / n, r the smallest count with P(R <= r) >= p and alpha the interpolation
    (P(R <= r) - p) / P(R = r), as it is published: below 0, or on the target's other side, where hardly any is
    expected. limit_around brings it to what a share can be, as the funnels do.
    scipy has the distribution function (bdtr) but no interpolated quantile.
    Source: Spiegelhalter (2005), Statistics in Medicine 24, 1185-1202, appendix A.1.1.
    """
    from scipy.special import bdtr, bdtrik

    target, inspected = demand_level(target, "target"), demand_count(inspected, "inspected", 1)

    def up_to(count: int) -> float:
        return 1.0 if count >= inspected else float(bdtr(count, inspected, target))

    return tuple(
        _interpolated(up_to, float(bdtrik(p, inspected, target)), p) / inspected
        for p in (demand_level(p, "chances") for p in demand_list(chances, "chances"))
    )


def exact_rate_limits(target: float, units: float, chances: Sequence[float]) -> tuple[float, ...]:
    """Return the limits of a rate of defects at which the Poisson chance of less is as given.

    target: the true rate, units at it, both more than 0; otherwise as exact_share_limits.
    Source: as exact_share_limits, with the Poisson distribution.
    """
    from scipy.special import pdtr, pdtrik

    units = demand_positive(units, "units")
    mean = demand_positive(target, "target") * units
    return tuple(
        _interpolated(lambda count: float(pdtr(count, mean)), float(pdtrik(p, mean)), p) / units
        for p in (demand_level(p, "chances") for p in demand_list(chances, "chances"))
    )


def limit_around(target: float, limit: float, chance: float, most: float) -> float:
    """Return a limit brought to what its value can be (0 to ``most``) and to its own side of the target.

    A low limit of 0 is no limit. A verdict goes by the exact tails, so that nothing is judged otherwise for this.
    """
    return min(target, max(0.0, limit)) if chance < 0.5 else max(target, min(most, limit))


def share_tails(target: float, defectives: int, inspected: int) -> tuple[float, float]:
    """Return the binomial chances of at most and of at least this many defectives at the target.

    Source: the binomial law.
    """
    from scipy.special import bdtr, bdtrc

    target, (defectives, inspected) = (
        demand_share(target, "target"), demand_part(defectives, "defectives", inspected, "inspected")
    )  # fmt: skip
    at_least = float(bdtrc(defectives - 1, inspected, target)) if defectives else 1.0
    return float(bdtr(defectives, inspected, target)), at_least


def rate_tails(target: float, defects: int, units: float) -> tuple[float, float]:
    """Return the Poisson chances of at most and of at least this many defects at the target.

    Source: the Poisson law.
    """
    from scipy.special import pdtr, pdtrc

    mean = demand_positive(target, "target") * demand_positive(units, "units")
    defects = demand_count(defects, "defects")
    return float(pdtr(defects, mean)), float(pdtrc(defects - 1, mean)) if defects else 1.0


def _interpolated(up_to: Callable[[int], float], guess: float, p: float) -> float:
    """Return the interpolated quantile of a law of counts from P(R <= count) and a guess, which may be wrong or nan."""
    start = max(0, math.ceil(guess)) if math.isfinite(guess) else 0
    r = least_count(lambda count: up_to(count) >= p, start)
    below = up_to(r - 1) if r else 0.0
    return r - (up_to(r) - p) / (up_to(r) - below)
