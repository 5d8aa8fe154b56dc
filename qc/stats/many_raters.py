"""How far any number of raters agree: Fleiss' kappa, Gwet's AC1, Krippendorff's alpha with gaps.

Neither scipy nor statsmodels has AC1 or alpha, and statsmodels' Fleiss gives no error, so the formulas stand here.
"""

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from qc.stats.agreement_limits import limits_without_error
from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    count_of,
    demand_as_many,
    demand_count,
    demand_labels,
    demand_level,
    demand_list,
    demand_number,
    demand_table,
)
from qc.stats.stated_chances import stated_chance

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_AT_ONCE = 1_000_000  # pairs of values times draws that are held together
Metric = Literal["nominal", "ordinal", "interval", "ratio"]
FEW = 5  # units: below, drawing them again shows too little of what they stand for
METRICS = ("nominal", "ordinal", "interval", "ratio")


@dataclass(frozen=True, slots=True)
class FleissKappa:
    """Agreement beyond chance of the same number of raters on each subject.

    agreement: share of agreeing pairs by subject; shares: of each category over all judgements. error_if_none is
    the standard error under no agreement beyond chance: for the test z, not for an interval.
    """

    kappa: float
    error_if_none: float
    z: float
    p_value: float
    observed: float
    expected: float
    agreement: tuple[float, ...]
    shares: tuple[float, ...]
    labels: tuple[str, ...]
    subjects: int
    raters: int
    method: str


@dataclass(frozen=True, slots=True)
class GwetAC1:
    """Gwet's first-order agreement coefficient with its interval; holds up where nearly all pass."""

    coefficient: float
    error: float
    low: float
    high: float
    observed: float
    expected: float
    labels: tuple[str, ...]
    subjects: int
    level: float
    method: str


@dataclass(frozen=True, slots=True)
class KrippendorffAlpha:
    """Krippendorff's alpha, 1 - observed over expected disagreement.

    pairable: how many values stand in units judged at least twice; units: how many of these there are.
    """

    alpha: float
    observed: float
    expected: float
    pairable: int
    units: int
    metric: Metric
    method: str


@dataclass(frozen=True, slots=True)
class AlphaInterval:
    """Percentile interval of alpha over units drawn again; dropped: draws on which alpha was 0/0.

    method says where it is widened, because few units differ or few agree.
    """

    low: float
    high: float
    alpha: KrippendorffAlpha
    dropped: int
    level: float
    draws: int
    seed: int
    method: str


def fleiss_kappa(counts: Sequence[Sequence[int]], labels: Sequence[str]) -> FleissKappa | TooLittle:
    """Return Fleiss' kappa; counts[subject][category] is how many raters chose it, the same number on each subject.

    Fewer than two raters, no subject, or one category only, is TooLittle.
    Source: Fleiss (1971), Psychological Bulletin 76, 378-382; error of Fleiss, Nee & Landis (1979), Psychological
    Bulletin 86, 974-977.
    """
    from scipy.special import ndtr

    if not count_of(counts, "counts"):
        return TooLittle("agreement of raters", "no subject was judged", 0, 1)
    rows = demand_table(counts, "counts")
    labels, raters = demand_labels(labels, "counts[0]", rows[0]), sum(rows[0])
    for i, row in enumerate(rows):
        if sum(row) != raters:
            raise ValueError(f"counts[{i}] must sum to {raters} raters like the first, got {sum(row)}")
    if raters < 2:
        return TooLittle("agreement of raters", "fewer than two raters", raters, 2)
    subjects = len(rows)
    shares = tuple(sum(column) / (subjects * raters) for column in zip(*rows, strict=True))
    agreement = tuple((sum(n * n for n in row) - raters) / (raters * (raters - 1)) for row in rows)
    observed, expected = sum(agreement) / subjects, sum(p * p for p in shares)
    spread = sum(p * (1 - p) for p in shares)
    if max(shares) == 1:
        return TooLittle("agreement of raters", "only one category was ever chosen: kappa is 0/0", 1, 2)
    kappa = (observed - expected) / (1 - expected)
    third = sum(p * (1 - p) * (1 - 2 * p) for p in shares)
    error = math.sqrt(2 * (spread**2 - third) / (subjects * raters * (raters - 1))) / spread
    z = kappa / error
    return FleissKappa(
        kappa, error, z, stated_chance(2 * ndtr(-abs(z))), observed, expected, agreement, shares, labels, subjects,
        raters, "Fleiss' kappa",
    )  # fmt: skip


def gwet_ac1(counts: Sequence[Sequence[int]], labels: Sequence[str], level: float) -> GwetAC1 | TooLittle:
    """Return Gwet's AC1; counts[subject][category] is how many raters chose it, at least two on a subject that counts.

    Subjects judged once enter the categories' shares, not the agreement. Fewer than two categories, or fewer than
    two subjects judged twice, is TooLittle. The interval is clipped to [-1, 1]; where the error is 0 (perfect
    agreement, or all subjects alike) it comes from the exact limits of the observed agreement.
    Source: Gwet (2008), British J. Mathematical and Statistical Psychology 61, 29-48 (coefficient and variance over
    subjects).
    """
    from scipy.special import ndtri

    level = demand_level(level)
    table = demand_table(counts, "counts") if count_of(counts, "counts") else ()
    rows = [row for row in table if sum(row) > 0]
    labels = demand_labels(labels, "counts[0]", table[0]) if table else demand_list(labels, "labels")
    twice = sum(sum(row) >= 2 for row in rows)
    if len(labels) < 2 or twice < 2:
        return TooLittle("agreement of raters", "fewer than two subjects judged twice, or one category", twice, 2)
    n, q = len(rows), len(labels)
    shares = [sum(row[k] / sum(row) for row in rows) / n for k in range(q)]
    expected = sum(p * (1 - p) for p in shares) / (q - 1)
    own = [_pair_agreement(row) for row in rows]
    observed = sum(agreed for agreed in own if agreed is not None) / twice
    ac1 = (observed - expected) / (1 - expected)
    # Each subject's influence on the coefficient: on the agreement, and on the chance agreement by its shares.
    influence = []
    for row, agreed in zip(rows, own, strict=True):
        part = n / twice * (agreed - expected) / (1 - expected) if agreed is not None else 0.0
        chance = sum(row[k] / sum(row) * (1 - shares[k]) for k in range(q)) / (q - 1)
        influence.append(part - 2 * (1 - ac1) * (chance - expected) / (1 - expected))
    error = math.sqrt(sum((one - ac1) ** 2 for one in influence) / (n * (n - 1)))
    reach = float(ndtri((1 + level) / 2)) * error
    low, high = max(-1.0, ac1 - reach), min(1.0, ac1 + reach)
    if error < 1e-9:
        low, high = limits_without_error(observed, expected, twice, level)
    return GwetAC1(ac1, error, low, high, observed, expected, labels, n, level, "Gwet's AC1")


def krippendorff_alpha(judgements: Sequence[Sequence[float | None]], metric: Metric) -> KrippendorffAlpha | TooLittle:
    """Return Krippendorff's alpha; judgements[rater][unit], None where a rater did not judge the unit.

    metric: how far two values are apart: nominal (same or not), ordinal, interval, or ratio (values above 0 or 0).
    Units judged once drop out. Fewer than two values in pairs, or one value only, is TooLittle.
    Source: Krippendorff (2011), Computing Krippendorff's Alpha-Reliability; Content Analysis, ch. 11.
    """
    if metric not in METRICS:
        raise ValueError(f"metric must be one of {', '.join(METRICS)}, got {metric!r}")
    units = _units(judgements, metric)
    paired = [unit for unit in units if len(unit) >= 2]
    values = sorted({value for unit in paired for value in unit})
    pairable = sum(map(len, paired))
    if len(values) < 2:
        return TooLittle("Krippendorff's alpha", "no two different values in units judged twice", len(values), 2)
    totals = {value: sum(unit.count(value) for unit in paired) for value in values}
    apart = _distance(metric, values, totals)
    observed = sum(_disagreement(unit, apart) / (len(unit) - 1) for unit in paired) / pairable
    expected = sum(totals[a] * totals[b] * apart(a, b) for a in values for b in values) / (pairable * (pairable - 1))
    return KrippendorffAlpha(
        1 - observed / expected, observed, expected, pairable, len(paired), metric, f"Krippendorff's alpha, {metric}"
    )


def krippendorff_interval(
    judgements: Sequence[Sequence[float | None]], metric: Metric, level: float, draws: int, seed: int
) -> AlphaInterval | TooLittle:
    """Return the percentile interval of alpha over units drawn again with replacement; draws at least 1000.

    Fewer than 10 units judged twice is TooLittle: so few units drawn again show too little of their scatter. Where
    fewer than 5 units hold any disagreement, or fewer than 5 any agreement, drawing them again shows next to none of
    what the others may hold: the interval then also holds what the exact limits of the mean disagreement leave open,
    as a share of the largest that two values of a unit have, or where none differ, that any two values could have.
    Source: Efron & Tibshirani (1993), An Introduction to the Bootstrap, ch. 13; limits_without_error.
    """
    import numpy as np

    level, draws = demand_level(level), demand_count(draws, "draws", 1000)
    seed = demand_count(seed, "seed")
    source = np.random.default_rng(seed)
    alpha = krippendorff_alpha(judgements, metric)
    if isinstance(alpha, TooLittle):
        return alpha
    if alpha.units < 10:
        return TooLittle("interval of alpha", "fewer than 10 units judged twice", alpha.units, 10)
    units = [unit for unit in zip(*judgements, strict=True) if sum(value is not None for value in unit) >= 2]
    drawn = _alphas_drawn(units, metric, draws, source)
    dropped = draws - len(drawn)
    low, high = (float(np.quantile(drawn, p)) for p in ((1 - level) / 2, (1 + level) / 2))
    method = "percentiles of units drawn again"
    if _few_differ_or_agree(units):
        exact = _limits_of_disagreement(units, alpha, level)
        low, high, method = (
            min(low, exact[0]),
            max(high, exact[1]),
            f"{method}, widened to exact limits: few differ or few agree",
        )
    return AlphaInterval(low, high, alpha, dropped, level, draws, seed, method)


def _alphas_drawn(
    units: Sequence[Sequence[float | None]], metric: Metric, draws: int, source: "np.random.Generator"
) -> "NDArray[np.float64]":
    """Return alpha of units drawn again, of those draws that hold two different values.

    A draw is how often each unit is in it: all sums are linear in that.
    """
    import numpy as np

    values = [[float(value) for value in unit if value is not None] for unit in units]
    kinds = sorted({value for unit in values for value in unit})
    place = {value: at for at, value in enumerate(kinds)}
    held = np.zeros((len(values), len(kinds)))
    for at, unit in enumerate(values):
        for value in unit:
            held[at, place[value]] += 1
    # Pairs of values within a unit: unit, the two values, and what the pair counts for.
    row, first, second = (np.array(one) for one in zip(*_pairs(values, place), strict=True))
    counted = 1 / (held.sum(axis=1)[row] - 1)
    apart = None if metric == "ordinal" else _distances(kinds, metric)
    found: list[NDArray[np.float64]] = []
    at_once = max(1, MOST_AT_ONCE // len(row))
    for size in [min(at_once, draws - start) for start in range(0, draws, at_once)]:
        again = [
            np.bincount(source.integers(len(values), size=len(values)), minlength=len(values)) for _ in range(size)
        ]
        times = np.array([one for one in again if np.count_nonzero(one @ held) > 1])
        if len(times):
            totals = times @ held
            pairable = totals.sum(axis=1)
            if apart is None:  # ordinal: as far apart as the middles of their judgements, counted from the lowest on
                middles = np.cumsum(totals, axis=1) - totals / 2
                between = (middles[:, first] - middles[:, second]) ** 2
                by_chance = 2 * (pairable * (totals * middles**2).sum(axis=1) - (totals * middles).sum(axis=1) ** 2)
            else:
                between, by_chance = apart[first, second], ((totals @ apart) * totals).sum(axis=1)
            observed = (times[:, row] * counted * between).sum(axis=1)
            found.append(1 - observed * (pairable - 1) / by_chance)
    return np.concatenate([np.empty(0), *found])


def _pairs(values: Sequence[Sequence[float]], place: Mapping[float, int]) -> list[tuple[int, int, int]]:
    return [
        (row, place[a], place[b])
        for row, unit in enumerate(values)
        for i, a in enumerate(unit)
        for j, b in enumerate(unit)
        if i != j
    ]


def _distances(kinds: list[float], metric: Metric) -> "NDArray[np.float64]":
    import numpy as np

    apart = _distance(metric, kinds, {})
    return np.array([[apart(a, b) for b in kinds] for a in kinds])


def _few_differ_or_agree(units: Sequence[Sequence[float | None]]) -> bool:
    """Return whether fewer than 5 units hold any two different values, or fewer than 5 any two alike."""
    values = [[value for value in unit if value is not None] for unit in units]
    differ = sum(len(set(unit)) > 1 for unit in values)
    agree = sum(len(set(unit)) < len(unit) for unit in values)
    return min(differ, agree) < FEW


def _limits_of_disagreement(
    units: Sequence[Sequence[float | None]], alpha: KrippendorffAlpha, level: float
) -> tuple[float, float]:
    """Return the alphas that the exact limits of the mean disagreement leave open; its expected size taken as known."""
    values = [value for unit in units for value in unit if value is not None]
    apart = _distance(alpha.metric, sorted(set(values)), dict(Counter(values)))
    seen = max(apart(a, b) for unit in units for a in unit for b in unit if a is not None and b is not None)
    largest = seen or max(apart(a, b) for a in set(values) for b in set(values))
    # Agreement beyond chance on the scale where the largest disagreement is 1.
    return limits_without_error(1 - alpha.observed / largest, 1 - alpha.expected / largest, alpha.units, level)


def _pair_agreement(row: tuple[int, ...]) -> float | None:
    """Return the share of agreeing pairs, None where there is no pair."""
    raters = sum(row)
    return sum(n * (n - 1) for n in row) / (raters * (raters - 1)) if raters >= 2 else None


def _units(judgements: Sequence[Sequence[float | None]], metric: Metric) -> list[list[float]]:
    rows = [demand_list(row, f"judgements[{i}]") for i, row in enumerate(demand_list(judgements, "judgements"))]
    for i, row in enumerate(rows):
        demand_as_many(f"judgements[{i}]", row, "judgements[0]", rows[0])
        for j, value in enumerate(row):
            if value is not None and demand_number(value, f"judgements[{i}][{j}]") < 0 and metric == "ratio":
                raise ValueError(f"judgements[{i}][{j}] must be at least 0 on the ratio metric, got {value!r}")
    return [[float(value) for value in unit if value is not None] for unit in zip(*rows, strict=True)]


def _disagreement(unit: list[float], apart: Callable[[float, float], float]) -> float:
    return sum(apart(a, b) for i, a in enumerate(unit) for j, b in enumerate(unit) if i != j)


def _distance(metric: Metric, values: list[float], totals: dict[float, int]) -> Callable[[float, float], float]:
    """Return the squared distance between two values; ordinal: by the judgements that lie between them."""
    if metric == "nominal":
        return lambda a, b: float(a != b)
    if metric == "interval":
        return lambda a, b: (a - b) ** 2
    if metric == "ratio":
        return lambda a, b: ((a - b) / (a + b)) ** 2 if a != b else 0.0

    def ordinal(a: float, b: float) -> float:
        low, high = min(a, b), max(a, b)
        between = sum(totals[value] for value in values if low <= value <= high)
        return (between - (totals[low] + totals[high]) / 2) ** 2

    return ordinal
