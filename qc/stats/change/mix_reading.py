"""Whether the plain comparison of two periods and the mix-adjusted one tell the same story, in a sentence."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from qc.stats.answers import TooLittle
from qc.stats.change.stratified_ratio import RateRatio, Strata, strata
from qc.stats.refusals import demand_kind
from qc.stats.series import rates_of

Claim = Literal["fewer", "more", "no difference shown"]


@dataclass(frozen=True, slots=True)
class MixReading:
    """The plain and the mix-adjusted ratio of two periods side by side.

    disagree: the two do not make the same claim (one interval leaves 1 out and the other holds it, or they lie on
    opposite sides of 1). mix_factor: plain over adjusted ratio, what the change of mix alone does.
    """

    plain: RateRatio
    adjusted: RateRatio
    plain_claim: Claim
    adjusted_claim: Claim
    disagree: bool
    mix_factor: float
    sentence: str


def mix_reading(two: Strata, ratio_of: Callable[[Strata], RateRatio | TooLittle]) -> MixReading | TooLittle:
    """Return the plain and the adjusted ratio by one and the same named method, and whether they disagree.

    ratio_of: for example ``lambda two: exact_rate_ratio(two, 0.95)``. TooLittle where either has no answer.
    """
    demand_kind(two, Strata, "two")
    if not callable(ratio_of):
        raise ValueError(f"ratio_of must be a function of the strata, got {ratio_of!r}")
    plain, adjusted = ratio_of(_pooled(two)), ratio_of(two)
    if isinstance(plain, TooLittle):
        return plain
    if isinstance(adjusted, TooLittle):
        return adjusted
    claims = claim(plain), claim(adjusted)
    known = 0 < adjusted.ratio < math.inf and plain.ratio < math.inf
    factor = plain.ratio / adjusted.ratio if known else 1.0
    disagree = claims[0] != claims[1]
    return MixReading(plain, adjusted, *claims, disagree, factor, _sentence(plain, adjusted, disagree))


def claim(ratio: RateRatio) -> Claim:
    """Return what the interval lets one claim: the whole of it must lie on one side of 1."""
    if ratio.high < 1:
        return "fewer"
    return "more" if ratio.low > 1 else "no difference shown"


def _pooled(two: Strata) -> Strata:
    return strata(*(rates_of([sum(one.defects)], [sum(one.units)], ("all models",)) for one in (two.before, two.after)))


def _sentence(plain: RateRatio, adjusted: RateRatio, disagree: bool) -> str:
    figures = (
        f"Plain defects per unit after over before: {_figure(plain)}; "
        f"with the same mix of models in both: {_figure(adjusted)}."
    )
    if not disagree:
        return f"{figures} Both say: {claim(plain)}."
    return f"{figures} They disagree ({claim(plain)} against {claim(adjusted)}): the mix changed, so read the second."


def _figure(ratio: RateRatio) -> str:
    high = "no upper limit" if math.isinf(ratio.high) else f"{ratio.high:.2f}"
    middle = "no estimate" if math.isinf(ratio.ratio) else f"{ratio.ratio:.2f}"
    return f"{middle} ({100 * ratio.level:g} % interval {ratio.low:.2f} to {high})"
