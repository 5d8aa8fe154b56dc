"""Two shares or two rates against each other: difference, ratio, odds ratio, and pairs on the same units.

scipy.special has the quantiles; scipy.stats, slow to import, is loaded only where a p-value needs its exact
two-sided tests. Newcombe's difference is in statsmodels too, which takes seconds to import: the closed form
stands here and is checked against it.
"""

from dataclasses import dataclass
from math import exp, inf, log, sqrt

from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import wilson_interval
from qc.stats.refusals import demand_count, demand_found, demand_level, demand_part
from qc.stats.stated_chances import stated_chance


@dataclass(frozen=True, slots=True)
class ShareDifference:
    """First share minus second, in [-1, 1], with its interval; counts are (defectives, inspected)."""

    low: float
    high: float
    difference: float
    first: tuple[int, int]
    second: tuple[int, int]
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoRates:
    """First rate over second with its interval; counts are (defects, units).

    ratio and high are inf when the second count is 0; low and ratio are 0 when the first is.
    p_value: exact two-sided test of equal rates.
    """

    low: float
    high: float
    ratio: float
    p_value: float
    first: tuple[int, float]
    second: tuple[int, float]
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OddsRatio:
    """Odds of a defective unit in the first group over those in the second, with its interval.

    p_value: Fisher's exact two-sided test of no association; counts are (defectives, inspected).
    """

    low: float
    high: float
    odds_ratio: float
    p_value: float
    first: tuple[int, int]
    second: tuple[int, int]
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PairedTest:
    """Two looks at the same units: only those judged differently tell them apart.

    only_first, only_second: units called defective by one look alone; p_value: exact two-sided. chi_square: McNemar's,
    on one degree, with chi_p_value; corrected: the same for continuity, with corrected_p_value. Both are rough below
    25 disagreements: read the exact one.
    share_first: the share of the disagreements that are the first look's, 0.5 if both looks call alike.
    """

    p_value: float
    chi_square: float
    chi_p_value: float
    corrected: float
    corrected_p_value: float
    share_first: float
    only_first: int
    only_second: int
    method: str


def difference_interval(
    first_defectives: int, first_inspected: int, second_defectives: int, second_inspected: int, level: float
) -> ShareDifference | TooLittle:
    """Return the difference of two shares of independent units, first minus second.

    Each count of defectives is 0..inspected; nothing inspected on one side answers TooLittle.
    Source: Newcombe (1998), Statistics in Medicine 17, 873-890, method 10 (square-and-add of Wilson limits).
    """
    first = demand_part(first_defectives, "first_defectives", first_inspected, "first_inspected")
    second = demand_part(second_defectives, "second_defectives", second_inspected, "second_inspected")
    level = demand_level(level)
    one, two = wilson_interval(*first, level), wilson_interval(*second, level)
    if isinstance(one, TooLittle) or isinstance(two, TooLittle):
        return _one_side_empty("difference of two shares")
    difference = one.share - two.share
    below = sqrt((one.share - one.low) ** 2 + (two.high - two.share) ** 2)
    above = sqrt((one.high - one.share) ** 2 + (two.share - two.low) ** 2)
    return ShareDifference(
        max(-1.0, difference - below),
        min(1.0, difference + above),
        difference,
        first,
        second,
        level,
        "Newcombe square-and-add",
    )


def _one_side_empty(what: str) -> TooLittle:
    return TooLittle(what, "nothing was inspected on one of the two sides", have=1, need=2)


def rate_ratio_interval(
    first_defects: int, first_units: float, second_defects: int, second_units: float, level: float
) -> TwoRates | TooLittle:
    """Return the exact conditional interval for the ratio of two Poisson rates, first over second.

    Given the sum of both counts, the first is binomial: its Clopper-Pearson limits become those of the ratio.
    p_value adds all outcomes not likelier than the one seen. No units on one side, or no defect on both,
    answers TooLittle. Raises ValueError naming argument and value.
    Source: Przyborowski & Wilenski (1940), Biometrika 31, 313-323; Lehmann & Romano, section 4.5 (from memory).
    """
    first_defects, first_units = demand_found(first_defects, "first_defects", first_units, "first_units")
    second_defects, second_units = demand_found(second_defects, "second_defects", second_units, "second_units")
    level = demand_level(level)
    if first_units == 0 or second_units == 0:
        return _one_side_empty("ratio of two rates")
    total = first_defects + second_defects
    if total == 0:
        return TooLittle("ratio of two rates", "there was no defect on either side", have=0, need=1)
    from scipy.special import betaincinv
    from scipy.stats import binomtest

    tail, scale = (1 - level) / 2, second_units / first_units
    low = betaincinv(first_defects, second_defects + 1, tail) if first_defects else 0.0
    high = betaincinv(first_defects + 1, second_defects, 1 - tail) if second_defects else 1.0
    equal = first_units / (first_units + second_units)
    return TwoRates(
        low=scale * _odds(float(low)),
        high=scale * _odds(float(high)),
        ratio=scale * _odds(first_defects / total),
        p_value=stated_chance(binomtest(first_defects, total, equal).pvalue),
        first=(first_defects, first_units),
        second=(second_defects, second_units),
        level=level,
        method="exact, conditional on the sum",
    )


def _odds(share: float) -> float:
    return share / (1 - share) if share < 1 else inf


def odds_ratio_interval(
    first_defectives: int, first_inspected: int, second_defectives: int, second_inspected: int, level: float
) -> OddsRatio | TooLittle:
    """Return the odds ratio of two groups with Woolf's logarithmic interval and Fisher's exact p-value.

    Any empty cell (0 defectives or all defective in a group) leaves the logarithm without a scatter and
    answers TooLittle: use difference_interval, which needs no such cell. Raises ValueError.
    Source: Woolf (1955), Annals of Human Genetics 19, 251-253; Fisher's exact test.
    """
    first = demand_part(first_defectives, "first_defectives", first_inspected, "first_inspected")
    second = demand_part(second_defectives, "second_defectives", second_inspected, "second_inspected")
    level = demand_level(level)
    (a, inspected), (c, other_inspected) = first, second
    b, d = inspected - a, other_inspected - c
    if not min(a, b, c, d):
        reason = "a group has no defective unit or no clean one, so the odds have no scatter"
        return TooLittle("odds ratio", reason, have=0, need=1)
    import numpy as np
    from scipy.special import ndtri
    from scipy.stats import fisher_exact

    ratio = a * d / (b * c)
    half = float(ndtri(0.5 + level / 2)) * sqrt(1 / a + 1 / b + 1 / c + 1 / d)
    return OddsRatio(
        low=exp(log(ratio) - half),
        high=exp(log(ratio) + half),
        odds_ratio=ratio,
        p_value=stated_chance(fisher_exact(np.array([[a, b], [c, d]])).pvalue),
        first=first,
        second=second,
        level=level,
        method="Woolf, Fisher's exact p",
    )


def paired_test(only_first: int, only_second: int) -> PairedTest | TooLittle:
    """Return McNemar's exact test for two looks (inspectors, points, light) at the same units.

    only_first, only_second: units called defective by one look alone; units on which both agree say nothing.
    No disagreement at all answers TooLittle. Raises ValueError.
    Source: McNemar (1947), Psychometrika 12, 153-157, (b - c)^2 / (b + c), beside the exact binomial form; corrected,
    (|b - c| - 1)^2 / (b + c), as Edwards (1948), Psychometrika 13, 185-187 (from memory).
    """
    only_first = demand_count(only_first, "only_first")
    only_second = demand_count(only_second, "only_second")
    apart = only_first + only_second
    if apart == 0:
        return TooLittle("paired comparison", "both looks judged every unit alike", have=0, need=1)
    from scipy.special import bdtr, chdtrc

    tail = float(bdtr(min(only_first, only_second), apart, 0.5))
    more = abs(only_first - only_second)
    plain, corrected = more**2 / apart, max(0, more - 1) ** 2 / apart
    return PairedTest(
        p_value=stated_chance(2 * tail),
        chi_square=plain,
        chi_p_value=stated_chance(float(chdtrc(1, plain))),
        corrected=corrected,
        corrected_p_value=stated_chance(float(chdtrc(1, corrected))),
        share_first=only_first / apart,
        only_first=only_first,
        only_second=only_second,
        method="exact binomial (McNemar)",
    )
