"""How unlikely a period's count is, where the usual rate is known from a baseline only."""

from qc.stats.refusals import demand_count, demand_positive
from qc.stats.stated_chances import stated_chance


def at_least(defects: int, before_defects: int, relative_size: float) -> float:
    """Return the chance of ``defects`` or more in a period, after ``before_defects`` in a baseline.

    relative_size: the period's units over the baseline's, above 0. The future count is negative binomial with
    r = before_defects + 1/2 and p = 1 / (1 + relative_size) (Jeffreys' prior), as in usual_range.
    Source: Hahn & Meeker (1991), Statistical Intervals, ch. 7 (from memory).
    """
    from scipy.special import betainc

    defects = demand_count(defects, "defects")
    before_defects = demand_count(before_defects, "before_defects")
    relative_size = demand_positive(relative_size, "relative_size")
    return (
        1.0
        if defects == 0
        else stated_chance(betainc(defects, before_defects + 0.5, relative_size / (1 + relative_size)))
    )


def at_most(defects: int, before_defects: int, relative_size: float) -> float:
    """Return the chance of ``defects`` or fewer in a period, as at_least."""
    from scipy.special import betainc

    defects = demand_count(defects, "defects")
    before_defects = demand_count(before_defects, "before_defects")
    relative_size = demand_positive(relative_size, "relative_size")
    return stated_chance(betainc(before_defects + 0.5, defects + 1, 1 / (1 + relative_size)))
