"""Whether and when one lasting change happened: in a Poisson rate with exposure, or in a mean.

The date is a range, since neighbouring periods are almost equally likely. The largest of many likelihood ratios is
not chi-square distributed, so its p-value comes from simulation or shuffling with a seed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_count,
    demand_kind,
    demand_labels,
    demand_level,
    demand_numbers,
)
from qc.stats.series import Rates
from qc.stats.stated_chances import LEAST

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FEWEST = 4  # periods below which a change could only be guessed
FEWEST_RUNS = 99
TIE = 1 - 1e-9  # a simulated statistic this near the seen one has reached it
RESOLVED = 1e-12  # of the sum of squares: less is what rounding leaves
CHUNK = 500  # simulations held at a time
Null = Literal["poisson", "shuffled"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePoint:
    """The likeliest single change, its range, and whether there is one at all.

    is_change: p_value is at most 1 - level. last_before: label of the last period of the old regime; earliest,
    latest: the range of it that holds at least the level of the posterior. before, after: rates or means.
    chances: of each kept period but the last being the last before, given that there is one change; about 1e-300
    stands for whatever is less. gaps: labels without exposure, left out. The two rates are taken at the likeliest date,
    so they look further apart than they are; before_after judges an improvement whose date was fixed beforehand.
    likelihood_ratio: twice its log; inf where two means leave no scatter at all.
    """

    is_change: bool
    last_before: str
    earliest: str
    latest: str
    before: float
    after: float
    p_value: float
    likelihood_ratio: float
    chances: tuple[float, ...]
    labels: tuple[str, ...]
    gaps: tuple[str, ...]
    level: float
    runs: int
    seed: int
    method: str


def poisson_change_point(
    rates: Rates,
    level: float,
    runs: int,
    seed: int,
    null: Null,
) -> ChangePoint | TooLittle:
    """Return the likeliest single change in a Poisson rate, in time order.

    null: how the p-value's runs are made: "poisson" shares the total out by units (exact for Poisson counts);
    "shuffled" shuffles the periods with their units, for counts more scattered than Poisson. runs at least 99.
    Periods without units are gaps. Fewer than four periods, or no defect, is TooLittle.
    Source: Worsley (1986), Biometrika 73, 91-104 (likelihood ratio; its null by simulation given the total);
    the range from the posterior of the date, Raftery & Akman (1986), Biometrika 73, 85-89, with Jeffreys rates.
    """
    import numpy as np

    demand_kind(rates, Rates, "rates")
    level = demand_level(level)
    runs, seed = demand_count(runs, "runs", FEWEST_RUNS), demand_count(seed, "seed")
    if null not in ("poisson", "shuffled"):
        raise ValueError(f'null must be "poisson" or "shuffled", got {null!r}')
    kept = [i for i, units in enumerate(rates.units) if units > 0]
    if len(kept) < FEWEST:
        return TooLittle("change point", "fewer than four periods have exposure", len(kept), FEWEST)
    if sum(rates.defects) == 0:
        return TooLittle("change point", "no defect in any period", 0, 1)
    x, t = np.array([rates.defects[i] for i in kept]), np.array([rates.units[i] for i in kept], dtype=float)
    seen = _poisson_ratios(x[None, :], t[None, :])[0]
    source, reached = np.random.default_rng(seed), 0
    for size in _chunks(runs):
        drawn, units = _null_periods(source, x, t, size, null)
        reached += int((_poisson_ratios(drawn, units).max(axis=1) >= seen.max() * TIE).sum())
    k = int(seen.argmax())
    before, after = x[: k + 1].sum() / t[: k + 1].sum(), x[k + 1 :].sum() / t[k + 1 :].sum()
    names, gaps = _names(rates.labels, kept)
    chances = date_chances(x, t)
    p_value, method = (1 + reached) / (runs + 1), f"Poisson likelihood ratio, {null} runs"
    return _answer(chances, names, gaps, k, before, after, p_value, seen[k], level, runs, seed, method)


def mean_change_point(
    values: Sequence[float], labels: Sequence[str], level: float, runs: int, seed: int
) -> ChangePoint | TooLittle:
    """Return the likeliest single change in a mean with constant scatter, values in time order.

    The p-value shuffles the values; at least 99 runs. Fewer than four values, or all equal, is TooLittle.
    Source: Hawkins (1977), J. Amer. Stat. Assoc. 72, 180-186; permutation: Good, Permutation Tests; the range from
    the posterior of the date with flat means and scatter, Smith (1975), Biometrika 62, 407-416.
    """
    import numpy as np

    y = np.array(demand_numbers(values, "values"))
    labels, level = demand_labels(labels, "values", values), demand_level(level)
    runs, seed = demand_count(runs, "runs", FEWEST_RUNS), demand_count(seed, "seed")
    if len(y) < FEWEST:
        return TooLittle("change point", "fewer than four periods", len(y), FEWEST)
    if np.ptp(y) == 0:
        return TooLittle("change point", "all values are equal", 1, 2)
    seen, source, reached = _mean_gains(y[None, :])[0], np.random.default_rng(seed), 0
    for size in _chunks(runs):
        drawn = source.permuted(np.broadcast_to(y, (size, len(y))), axis=1)
        reached += int((_mean_gains(drawn).max(axis=1) >= seen.max() * TIE).sum())
    k = int(seen.argmax())
    chances = mean_date_chances(y)
    p_value, method = (1 + reached) / (runs + 1), "sum of squares, shuffled runs"
    before, after = y[: k + 1].mean(), y[k + 1 :].mean()
    # Twice the log likelihood ratio, so that the unit of the values does not matter.
    left = 1 - seen[k] / ((y - y.mean()) ** 2).sum()
    likelihood_ratio = -len(y) * np.log(left) if left > RESOLVED else np.inf
    return _answer(chances, labels, (), k, before, after, p_value, likelihood_ratio, level, runs, seed, method)


def date_chances(defects: "NDArray[np.int64]", units: "NDArray[np.float64]") -> "NDArray[np.float64]":
    """Return the posterior chance of each period but the last of ending the old Poisson regime (Jeffreys rates)."""
    import numpy as np
    from scipy.special import gammaln

    c, t = np.cumsum(defects)[:-1], np.cumsum(units)[:-1]
    rest, left = defects.sum() - c, _left(units)
    evidence = gammaln(c + 0.5) - (c + 0.5) * np.log(t) + gammaln(rest + 0.5) - (rest + 0.5) * np.log(left)
    return _shares(np.asarray(evidence))


def mean_date_chances(values: "NDArray[np.float64]") -> "NDArray[np.float64]":
    """Return the posterior chance of each period but the last of ending the old mean (flat means and scatter)."""
    import numpy as np

    n, k = len(values), np.arange(1, len(values))
    whole = ((values - values.mean()) ** 2).sum()
    left = np.maximum(whole - _mean_gains(values[None, :])[0], RESOLVED * (whole or 1.0))
    return _shares(-(n - 2) / 2 * np.log(left) - 0.5 * np.log(k * (n - k)))


def likely_range(chances: "NDArray[np.float64]", level: float) -> tuple[int, int]:
    """Return the first and last place of the smallest set of places that holds the level of the chances."""
    import numpy as np

    order = np.argsort(-chances, kind="stable")
    enough = int(np.searchsorted(np.cumsum(chances[order]), level)) + 1
    return int(order[:enough].min()), int(order[:enough].max())


def _poisson_ratios(counts: "NDArray[np.int64]", units: "NDArray[np.float64]") -> "NDArray[np.float64]":
    """Return twice the log likelihood ratio of a change after each period but the last; rows are series."""
    import numpy as np
    from scipy.special import xlogy

    c, t = np.cumsum(counts, axis=1), np.cumsum(units, axis=1)
    total, whole = c[:, -1:], t[:, -1:]
    c, t = c[:, :-1], t[:, :-1]
    rest, left = total - c, _left(units)
    return np.asarray(2 * (xlogy(c, c / t) + xlogy(rest, rest / left) - xlogy(total, total / whole)))


def _left(units: "NDArray[np.float64]") -> "NDArray[np.float64]":
    """Return the exposure after each period but the last, added up from the end: a difference could come out as 0."""
    import numpy as np

    return np.asarray(np.cumsum(units[..., ::-1], axis=-1)[..., ::-1][..., 1:])


def _mean_gains(values: "NDArray[np.float64]") -> "NDArray[np.float64]":
    """Return by how much two means lower the sum of squares at each place; rows are series."""
    import numpy as np

    centred = values - values.mean(axis=1, keepdims=True)
    n, k = values.shape[1], np.arange(1, values.shape[1])
    # With the mean taken off, the left sum s gives the gain s^2 n / (k (n - k)).
    return np.asarray(np.cumsum(centred, axis=1)[:, :-1] ** 2 * n / (k * (n - k)))


def _null_periods(
    source: "np.random.Generator", x: "NDArray[np.int64]", t: "NDArray[np.float64]", size: int, null: Null
) -> tuple["NDArray[np.int64]", "NDArray[np.float64]"]:
    import numpy as np

    if null == "poisson":
        return source.multinomial(int(x.sum()), t / t.sum(), size=size), np.broadcast_to(t, (size, len(t)))
    order = source.permuted(np.broadcast_to(np.arange(len(x)), (size, len(x))), axis=1)
    return x[order], t[order]


def _chunks(runs: int) -> list[int]:
    return [min(CHUNK, runs - start) for start in range(0, runs, CHUNK)]


def _shares(evidence: "NDArray[np.float64]") -> "NDArray[np.float64]":
    import numpy as np

    weights = np.maximum(np.exp(evidence - evidence.max()), LEAST)
    return np.asarray(weights / weights.sum())


def _names(labels: tuple[str, ...], kept: Sequence[int]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return tuple(labels[i] for i in kept), tuple(label for i, label in enumerate(labels) if i not in set(kept))


def _answer(
    chances: "NDArray[np.float64]", labels: tuple[str, ...], gaps: tuple[str, ...], k: int, before: float,
    after: float, p_value: float, likelihood_ratio: float, level: float, runs: int, seed: int, method: str,
) -> ChangePoint:  # fmt: skip
    first, last = likely_range(chances, level)
    return ChangePoint(
        is_change=p_value <= (1 - level) * (1 + 1e-7),
        last_before=labels[k],
        earliest=labels[min(first, k)],
        latest=labels[max(last, k)],
        before=float(before),
        after=float(after),
        p_value=p_value,
        likelihood_ratio=float(likelihood_ratio),
        chances=tuple(map(float, chances)),
        labels=labels,
        gaps=gaps,
        level=level,
        runs=runs,
        seed=seed,
        method=method,
    )
