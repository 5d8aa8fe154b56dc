"""How far any number of raters agree where some did not judge every unit: Krippendorff's alpha and its interval.

Neither scipy nor statsmodels has it, so the formulas stand here. Units drawn again are told by how often each is in
the draw: all draws are worked out together, and the data themselves are the draw that holds every unit once.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from qc.stats.answers import TooLittle
from qc.stats.by_command.agreement.agreement_limits import limits_without_error
from qc.stats.refusals import demand_as_many, demand_count, demand_level, demand_list, demand_number

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

MOST_AT_ONCE = 250_000  # draws times units or kinds of value that are held together
Metric = Literal["nominal", "ordinal", "interval", "ratio"]
FEW = 5  # units: below, drawing them again shows too little of what they stand for
METRICS = ("nominal", "ordinal", "interval", "ratio")
LARGEST_VALUE = 1e100  # its square, times all there is, is a number still


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


@dataclass(frozen=True, slots=True, kw_only=True)
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


@dataclass(frozen=True, slots=True)
class _Paired:
    """Units judged at least twice. kinds: the values given, rising; held: units by kinds, how often; metric.

    apart: each unit's own disagreement over its judgements less one; None on the ordinal metric, where how far two
    values are apart depends on which units there are.
    """

    values: list[list[float]]
    kinds: "Numbers"
    held: "Numbers"
    apart: "Numbers | None"
    metric: Metric


def krippendorff_alpha(judgements: Sequence[Sequence[float | None]], metric: Metric) -> KrippendorffAlpha | TooLittle:
    """Return Krippendorff's alpha; judgements[rater][unit], None where a rater did not judge the unit.

    metric: how far two values are apart: nominal (same or not), ordinal, interval, or ratio (values above 0 or 0).
    Units judged once drop out. Fewer than two values in pairs, or one value only, is TooLittle.
    Source: Krippendorff (2011), Computing Krippendorff's Alpha-Reliability; Content Analysis, ch. 11.
    """
    return _alpha(_paired(judgements, metric))


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
    paired = _paired(judgements, metric)
    alpha = _alpha(paired)
    if isinstance(alpha, TooLittle):
        return alpha
    if alpha.units < 10:
        return TooLittle("interval of alpha", "fewer than 10 units judged twice", alpha.units, 10)
    drawn = np.concatenate([_alphas(paired, times) for times in _drawn(paired, draws, seed)])
    low, high = (float(np.quantile(drawn, p)) for p in ((1 - level) / 2, (1 + level) / 2))
    method = "percentiles of units drawn again"
    if _few_differ_or_agree(paired.values):
        exact = _limits_of_disagreement(paired, alpha, level)
        low, high = min(low, exact[0]), max(high, exact[1])
        method = f"{method}, widened to exact limits: few differ or few agree"
    return AlphaInterval(
        low=low, high=high, alpha=alpha, dropped=draws - len(drawn), level=level, draws=draws, seed=seed, method=method
    )


def _paired(judgements: Sequence[Sequence[float | None]], metric: Metric) -> _Paired:
    import numpy as np

    if metric not in METRICS:
        raise ValueError(f"metric must be one of {', '.join(METRICS)}, got {metric!r}")
    units = [unit for unit in _units(judgements, metric) if len(unit) >= 2]
    kinds, places = np.unique(np.array([value for unit in units for value in unit]), return_inverse=True)
    sizes = [len(unit) for unit in units]
    held = np.zeros((len(units), len(kinds)))
    np.add.at(held, (np.repeat(np.arange(len(units)), sizes), places), 1)
    own = None if metric == "ordinal" else np.array([_apart_in(unit, metric) / (len(unit) - 1) for unit in units])
    return _Paired(units, kinds, held, own, metric)


def _units(judgements: Sequence[Sequence[float | None]], metric: Metric) -> list[list[float]]:
    rows = [demand_list(row, f"judgements[{i}]") for i, row in enumerate(demand_list(judgements, "judgements"))]
    for i, row in enumerate(rows):
        demand_as_many(f"judgements[{i}]", row, "judgements[0]", rows[0])
        for j, value in enumerate(row):
            if value is None:
                continue
            number = demand_number(value, f"judgements[{i}][{j}]")
            if number < 0 and metric == "ratio":
                raise ValueError(f"judgements[{i}][{j}] must be at least 0 on the ratio metric, got {value!r}")
            if abs(number) > LARGEST_VALUE:
                raise ValueError(f"judgements[{i}][{j}] must lie within {LARGEST_VALUE:g} of 0, got {value!r}")
    return [[float(value) for value in unit if value is not None] for unit in zip(*rows, strict=True)]


def _alpha(paired: _Paired) -> KrippendorffAlpha | TooLittle:
    import numpy as np

    if len(paired.kinds) < 2:
        reason = "no two different values in units judged twice"
        return TooLittle("Krippendorff's alpha", reason, len(paired.kinds), 2)
    (observed,), (expected,), (pairable,) = _disagreements(paired, np.ones((1, len(paired.values))))
    return KrippendorffAlpha(
        float(1 - observed / expected), float(observed), float(expected), int(pairable), len(paired.values),
        paired.metric, f"Krippendorff's alpha, {paired.metric}",
    )  # fmt: skip


def _drawn(paired: _Paired, draws: int, seed: int) -> "Iterator[Numbers]":
    """Yield how often each unit is in a draw, draws by units; draws of one value only are left out."""
    import numpy as np

    source, units = np.random.default_rng(seed), len(paired.values)
    at_once = max(1, MOST_AT_ONCE // max(units, len(paired.kinds)))
    for size in [min(at_once, draws - start) for start in range(0, draws, at_once)]:
        places = source.integers(units, size=(size, units)) + units * np.arange(size)[:, None]
        times = np.bincount(places.ravel(), minlength=size * units).reshape(size, units).astype(float)
        yield times[np.count_nonzero(times @ paired.held, axis=1) > 1]


def _alphas(paired: _Paired, times: "Numbers") -> "Numbers":
    observed, expected, _ = _disagreements(paired, times)
    return 1 - observed / expected


def _disagreements(paired: _Paired, times: "Numbers") -> "tuple[Numbers, Numbers, Numbers]":
    """Return observed and expected disagreement and the values in pairs of each draw; times: draws by units."""
    import numpy as np

    totals = times @ paired.held
    pairable = totals.sum(axis=1)
    if paired.apart is None:
        # As far apart as the middles of their judgements, counted from the lowest on. Within a unit of m values x the
        # squared distances of all pairs sum to 2 (m Σx² - (Σx)²), which is exact: the middles are whole or halves.
        middles = np.cumsum(totals, axis=1) - totals / 2
        sizes = paired.held.sum(axis=1)
        squares = middles**2 @ paired.held.T * sizes - (middles @ paired.held.T) ** 2
        observed = (times * (2 * squares / (sizes - 1))).sum(axis=1)
        by_chance = _squares_apart(totals, middles)
    else:
        observed = times @ paired.apart
        by_chance = _apart_by_chance(totals, paired.kinds, paired.metric)
    return observed / pairable, by_chance / (pairable * (pairable - 1)), pairable


def _apart_by_chance(totals: "Numbers", kinds: "Numbers", metric: Metric) -> "Numbers":
    """Return the distances of all pairs of values of each draw, summed."""
    import numpy as np

    if metric == "nominal":
        return np.asarray(totals.sum(axis=1) ** 2 - (totals**2).sum(axis=1))
    if metric == "interval":
        return _squares_apart(totals, kinds - kinds.mean())
    return np.asarray(((totals @ _apart(kinds[:, None], kinds[None, :], metric)) * totals).sum(axis=1))


def _squares_apart(totals: "Numbers", x: "Numbers") -> "Numbers":
    """Return the squared distances of all pairs of values x that stand so often, summed: 2 (n Σx² - (Σx)²)."""
    import numpy as np

    return np.asarray(2 * (totals.sum(axis=1) * (totals * x**2).sum(axis=1) - (totals * x).sum(axis=1) ** 2))


def _apart(one: "Numbers", other: "Numbers", metric: Metric) -> "Numbers":
    """Return the squared distance between values, for any metric but the ordinal."""
    import numpy as np

    if metric == "nominal":
        return np.asarray(one != other, dtype=float)
    between = np.abs(one - other)
    if metric == "ratio":
        between = np.divide(between, one + other, out=np.zeros_like(between), where=between > 0)
    return np.asarray(between**2)


def _apart_in(unit: Sequence[float], metric: Metric) -> float:
    import numpy as np

    values = np.array(unit)
    return float(_apart(values[:, None], values[None, :], metric).sum())


def _few_differ_or_agree(units: Sequence[Sequence[float]]) -> bool:
    """Return whether fewer than 5 units hold any two different values, or fewer than 5 any two alike."""
    differ = sum(len(set(unit)) > 1 for unit in units)
    agree = sum(len(set(unit)) < len(unit) for unit in units)
    return min(differ, agree) < FEW


def _limits_of_disagreement(paired: _Paired, alpha: KrippendorffAlpha, level: float) -> tuple[float, float]:
    """Return the alphas that the exact limits of the mean disagreement leave open; its expected size taken as known."""
    import numpy as np

    totals = paired.held.sum(axis=0)
    on_scale = np.cumsum(totals) - totals / 2 if alpha.metric == "ordinal" else paired.kinds
    scale = dict(zip(paired.kinds.tolist(), on_scale.tolist(), strict=True))
    metric: Metric = "interval" if alpha.metric == "ordinal" else alpha.metric

    def largest_of(values: Sequence[float]) -> float:
        # On every metric the lowest and the highest of some values are the farthest apart.
        low, high = np.array([scale[min(values)]]), np.array([scale[max(values)]])
        return float(_apart(low, high, metric)[0])

    largest = max(map(largest_of, paired.values)) or largest_of(paired.kinds.tolist())
    # Agreement beyond chance on the scale where the largest disagreement is 1.
    return limits_without_error(1 - alpha.observed / largest, 1 - alpha.expected / largest, alpha.units, level)
