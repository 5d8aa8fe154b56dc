"""The ratio of two rates, after over before, common to all strata (models); one stratum is the plain ratio.

A ratio below 1 means fewer defects per unit after. With strata the mix of models has no part in it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_kind,
    demand_level,
    demand_number,
)
from qc.stats.series import Rates, demand_same_labels
from qc.stats.stated_chances import stated_chance
from qc.stats.tail_sums import near_mean

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_EXACT = 100_000  # defects in all: the exact law of more would take minutes
LARGEST_REACH = 600.0  # on the log scale: beyond, there is no upper limit that a number can tell
SLACK = 1 + 1e-7  # two probabilities nearer than this are a tie, not an order (as R's exact tests take them)


@dataclass(frozen=True, slots=True, kw_only=True)
class RateRatio:
    """After over before, with its interval and the counts that it came from.

    ratio, low, high: 0 and math.inf where one period has no defect, or where the limit is beyond any number ("no
    upper limit", not a number to print).
    p_value: two-sided, of the ratio being 1. unshared: strata that stood in one period only; they say nothing
    about the ratio and are left out. dispersion: by how much the variance was widened, 1 for Poisson.
    """

    ratio: float
    low: float
    high: float
    p_value: float
    labels: tuple[str, ...]
    before_defects: tuple[int, ...]
    before_units: tuple[float, ...]
    after_defects: tuple[int, ...]
    after_units: tuple[float, ...]
    unshared: tuple[str, ...]
    dispersion: float
    level: float
    method: str


@dataclass(frozen=True, slots=True)
class Strata:
    """Defects and units before and after, by stratum, beside the same labels. Made by strata."""

    before: Rates
    after: Rates

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the names of the strata."""
        return self.before.labels

    @property
    def totals(self) -> tuple[int, ...]:
        """Return the defects of each stratum, before and after together."""
        return tuple(old + new for old, new in zip(self.before.defects, self.after.defects, strict=True))


def strata(before: Rates, after: Rates) -> Strata:
    """Return the two periods as one value; raises ValueError unless they have the same strata in the same order."""
    demand_kind(before, Rates, "before")
    demand_kind(after, Rates, "after")
    demand_same_labels(after, "after", before, "before")
    return Strata(before, after)


def exact_rate_ratio(two: Strata, level: float) -> RateRatio | TooLittle:
    """Return the conditional estimate of the common ratio, its exact central interval and exact p-value.

    Given the total of each stratum, the after counts are binomial and their sum is free of the rates. The p-value
    sums the probabilities not larger than the observed one, within a relative slack of 1e-7. Poisson counts only:
    with plant totals, more scattered than Poisson, take mantel_haenszel_ratio.
    Neither scipy nor statsmodels has the stratified form; with one stratum it is R's poisson.test.
    Source: Breslow & Day (1987), Statistical Methods in Cancer Research II, sec. 3.4-3.6; Przyborowski & Wilenski
    (1940), Biometrika 31, 313-323.
    """
    demand_kind(two, Strata, "two")
    level, shared = demand_level(level), _shared(two)
    totals = two.totals
    observed, total = sum(two.after.defects[i] for i in shared), sum(totals[i] for i in shared)
    if total == 0:
        return _no_defect(two)
    if total > MOST_EXACT:
        raise ValueError(
            f"counts must sum to at most {MOST_EXACT} for exact limits, got {total}: take mantel_haenszel_ratio"
        )
    tail = (1 - level) / 2
    estimate = _solve(two, shared, lambda law: law.mean() - observed) if 0 < observed < total else math.inf
    low = _solve(two, shared, lambda law: law.at_least(observed) - tail) if observed else 0.0
    high = _solve(two, shared, lambda law: tail - law.at_most(observed)) if observed < total else math.inf
    p_value = stated_chance(_after_total(two, shared, 1.0).no_likelier_than(observed))
    ratio = estimate if observed else 0.0
    return _answer(two, shared, ratio, low, high, p_value, 1.0, level, "conditional exact")


def mantel_haenszel_ratio(
    two: Strata, level: float, dispersion: float, degrees: float = math.inf
) -> RateRatio | TooLittle:
    """Return the Mantel-Haenszel ratio with its interval on the log scale, widened for dispersion.

    dispersion: variance over Poisson variance, at least 1, measured on the weeks of the baseline; 1 is Poisson.
    degrees: of freedom that the dispersion was measured on (weeks less one); infinite where it is known. On 16 of
    them an interval that took a measured dispersion as known would miss in 8 of 100 instead of 5.
    Needs a defect in both periods, else TooLittle (the exact ratio still answers).
    statsmodels has the Mantel-Haenszel odds ratio only, so the rates' one stands here.
    Source: Greenland & Robins (1985), Biometrics 41, 55-68; quasi-Poisson widening: McCullagh & Nelder (1989),
    Generalized Linear Models, sec. 6.2.
    """
    from scipy.special import stdtr, stdtrit

    demand_kind(two, Strata, "two")
    level = demand_level(level)
    if degrees != math.inf and (degrees := demand_number(degrees, "degrees")) < 1:
        raise ValueError(f"degrees must be at least 1, got {degrees!r}")
    if (dispersion := demand_number(dispersion, "dispersion")) < 1:
        raise ValueError(f"dispersion must be finite and at least 1 (limits are never narrowed), got {dispersion!r}")
    shared = _shared(two)
    old, new, totals = two.before, two.after, two.totals
    shares = [old.units[i] / (old.units[i] + new.units[i]) for i in shared]
    top = sum(new.defects[i] * s for i, s in zip(shared, shares, strict=True))
    bottom = sum(old.defects[i] * (1 - s) for i, s in zip(shared, shares, strict=True))
    if top == 0 or bottom == 0:
        return TooLittle("rate ratio", say("a period without a defect has no Mantel-Haenszel interval"), 0, 1)
    pooled = sum(totals[i] * s * (1 - s) for i, s in zip(shared, shares, strict=True))
    error = math.sqrt(dispersion * pooled / (top * bottom))
    ratio, reach = top / bottom, float(stdtrit(degrees, (1 + level) / 2)) * error
    p_value = stated_chance(2 * stdtr(degrees, -abs(math.log(ratio)) / error))
    low = ratio * math.exp(-reach)
    high = ratio * math.exp(reach) if reach < LARGEST_REACH else math.inf
    return _answer(two, shared, ratio, low, high, p_value, dispersion, level, "Mantel-Haenszel, log interval")


def _shared(two: Strata) -> tuple[int, ...]:
    pairs = zip(two.before.units, two.after.units, strict=True)
    return tuple(i for i, (old, new) in enumerate(pairs) if old > 0 and new > 0)


def _no_defect(two: Strata) -> TooLittle:
    reason = "no defect before or after in a model that was built in both periods"
    return TooLittle("rate ratio", reason, 0, 1)


@dataclass(frozen=True, slots=True)
class _Counts:
    """A law of counts: first the count of its first probability; what is left out on either side is below 1e-300."""

    first: int
    pmf: "NDArray[np.float64]"

    def mean(self) -> float:
        import numpy as np

        return float(self.pmf @ np.arange(self.first, self.first + len(self.pmf)))

    def at_least(self, count: int) -> float:
        return float(self.pmf[max(0, count - self.first) :].sum())

    def at_most(self, count: int) -> float:
        return float(self.pmf[: max(0, count + 1 - self.first)].sum())

    def no_likelier_than(self, count: int) -> float:
        place = count - self.first
        seen = float(self.pmf[place]) if 0 <= place < len(self.pmf) else 0.0
        return float(self.pmf[self.pmf <= seen * SLACK].sum())


def _after_total(two: Strata, shared: tuple[int, ...], ratio: float) -> _Counts:
    """Return the distribution of the after total given each stratum's total, at a common ratio."""
    import numpy as np

    first, pmf, old, new = 0, np.ones(1), two.before, two.after
    for i in shared:
        odds = ratio * new.units[i] / old.units[i]
        own = _binomial(old.defects[i] + new.defects[i], odds / (1 + odds))
        first, pmf = first + own.first, np.convolve(pmf, own.pmf)
    return _Counts(first, pmf)


def _binomial(n: int, share: float) -> _Counts:
    import numpy as np
    from scipy.special import gammaln, xlog1py, xlogy

    k = near_mean(0, n, n * share, 0, n)
    log_pmf = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1) + xlogy(k, share) + xlog1py(n - k, -share)
    return _Counts(int(k[0]), np.asarray(np.exp(log_pmf)))


def _solve(two: Strata, shared: tuple[int, ...], rising: Callable[[_Counts], float]) -> float:
    """Return the ratio at which a quantity that rises with it crosses 0."""
    from scipy.optimize import brentq

    def at(log_ratio: float) -> float:
        return rising(_after_total(two, shared, math.exp(log_ratio)))

    low, high = -1.0, 1.0
    while at(low) > 0:
        low *= 2
    while at(high) < 0:
        high *= 2
    return math.exp(float(brentq(at, low, high, xtol=1e-13, rtol=1e-13)))


def _answer(
    two: Strata, shared: tuple[int, ...], ratio: float, low: float, high: float, p_value: float,
    dispersion: float, level: float, method: str,
) -> RateRatio:  # fmt: skip
    unshared = tuple(name for i, name in enumerate(two.labels) if i not in shared)
    return RateRatio(
        ratio=ratio,
        low=low,
        high=high,
        p_value=p_value,
        labels=two.labels,
        before_defects=two.before.defects,
        before_units=two.before.units,
        after_defects=two.after.defects,
        after_units=two.after.units,
        unshared=unshared,
        dispersion=float(dispersion),
        level=level,
        method=method,
    )
