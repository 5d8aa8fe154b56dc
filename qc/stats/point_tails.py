"""How unlikely a period's count is, where the usual rate is known from a baseline only."""

from qc.stats.refusals import demand_count, demand_positive
from qc.stats.stated_chances import stated_chance


def at_least(count: int, defects: int, size: float) -> float:
    """Return the chance of ``count`` defects or more in a period, after ``defects`` in a baseline.

    size: the period's exposure over the baseline's, above 0. The future count is negative binomial with
    r = defects + 1/2 and p = 1 / (1 + size) (Jeffreys' prior), as in usual_range.
    Source: Hahn & Meeker (1991), Statistical Intervals, ch. 7 (from memory).
    """
    from scipy.special import betainc

    count = demand_count(count, "count")
    defects = demand_count(defects, "defects")
    size = demand_positive(size, "size")
    return 1.0 if count == 0 else stated_chance(betainc(count, defects + 0.5, size / (1 + size)))


def at_most(count: int, defects: int, size: float) -> float:
    """Return the chance of ``count`` defects or fewer in a period, as at_least."""
    from scipy.special import betainc

    count = demand_count(count, "count")
    defects = demand_count(defects, "defects")
    size = demand_positive(size, "size")
    return stated_chance(betainc(defects + 0.5, count + 1, 1 / (1 + size)))
