"""Which types of defect became more or fewer between two periods: rates on exposure, not the order of bars."""

from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.change.comparison import Homogeneity, profiles_compared, rates_compared
from qc.stats.change.stratified_ratio import RateRatio, exact_rate_ratio, strata
from qc.stats.refusals import (
    demand_kind,
    demand_level,
    demand_positive,
)
from qc.stats.series import Counts, demand_same_labels, rates_of
from qc.stats.watch.multiplicity import benjamini_hochberg


@dataclass(frozen=True, slots=True)
class TypeChange:
    """One type: its rate ratio after over before with its own interval.

    adjusted: p-value once all types are looked at together; changed: it stays a claim then.
    """

    label: str
    ratio: RateRatio
    adjusted: float
    changed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeChanges:
    """The whole picture of two periods.

    overall: did the defects per unit change; profile: did the mix of types change; types: each by itself, in label
    order; unseen: types found in neither period. overall and profile may say yes while no type does by itself.
    """

    overall: Homogeneity | TooLittle
    profile: Homogeneity | TooLittle
    types: tuple[TypeChange, ...]
    unseen: tuple[str, ...]
    before_units: float
    after_units: float
    bound: float
    level: float
    method: str


def type_changes(
    before: Counts,
    before_units: float,
    after: Counts,
    after_units: float,
    level: float,
    bound: float,
) -> TypeChanges | TooLittle:
    """Return which types changed; counts by type, the units of each period (more than 0).

    level: of each ratio's interval; bound: expected share of false claims among the claims (Benjamini-Hochberg).
    No defect in either period is TooLittle. Poisson counts: a type that comes in batches claims too much.
    Source: exact ratios, see exact_rate_ratio; Benjamini & Hochberg (1995), J. Royal Statistical Society B 57.
    """
    demand_kind(before, Counts, "before")
    demand_kind(after, Counts, "after")
    demand_same_labels(after, "after", before, "before")
    old, new = demand_positive(before_units, "before_units"), demand_positive(after_units, "after_units")
    level, bound = demand_level(level), demand_level(bound, "bound")
    ratios = [
        (label, exact_rate_ratio(strata(rates_of((b,), (old,), (label,)), rates_of((a,), (new,), (label,))), level))
        for label, b, a in zip(before.labels, before.counts, after.counts, strict=True)
    ]
    seen = [(label, ratio) for label, ratio in ratios if isinstance(ratio, RateRatio)]
    many = benjamini_hochberg([ratio.p_value for _, ratio in seen], [label for label, _ in seen], bound)
    if isinstance(many, TooLittle):
        return TooLittle("change of types", "no defect in either period", 0, 1)
    types = tuple(TypeChange(label, ratio, many.adjusted[i], many.rejected[i]) for i, (label, ratio) in enumerate(seen))
    unseen = tuple(label for label, ratio in ratios if isinstance(ratio, TooLittle))
    return TypeChanges(
        overall=rates_compared(rates_of((sum(before.counts), sum(after.counts)), (old, new), ("before", "after"))),
        profile=profiles_compared((before.counts, after.counts), before.labels),
        types=types,
        unseen=unseen,
        before_units=old,
        after_units=new,
        bound=bound,
        level=level,
        method="exact ratios, Benjamini-Hochberg over types",
    )
