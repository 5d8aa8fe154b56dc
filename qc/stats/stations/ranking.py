"""The chance that each station truly has the highest rate, and the ranks it may have; never a league table.

The highest plain rate is often a station with few units; the chance of being the worst weighs that.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qc.stats.answers import TooLittle
from qc.stats.refusals import demand_count, demand_kind, demand_level
from qc.stats.stated_chances import stated_chance
from qc.stats.stations.shrinkage import GammaPrior, Shrunken

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FEWEST_POINTS, ALL_POINTS = 60, 4_000  # quantiles of each posterior on the common grid, and of all together
BY_THE_SUM = 1e-13  # chances below are not told apart from what the grid leaves out
FINE_POINTS = 3_000  # between them, equally far apart in the distribution of the highest rate


@dataclass(frozen=True, slots=True)
class WorstChances:
    """The chance that each group truly has the highest rate (or share), in label order; they sum to 1.

    named: groups whose chance is at least the level; empty where nobody stands out.
    """

    chances: tuple[float, ...]
    labels: tuple[str, ...]
    named: tuple[str, ...]
    level: float
    shrunken: Shrunken
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RankRanges:
    """Ranks by rate, 1 the highest: mean rank and the ranks that hold the true one with the level."""

    labels: tuple[str, ...]
    mean_rank: tuple[float, ...]
    rank_low: tuple[int, ...]
    rank_high: tuple[int, ...]
    level: float
    draws: int
    seed: int
    method: str


def chance_of_being_worst(shrunken: Shrunken, level: float) -> WorstChances | TooLittle:
    """Return the chance that each group has the highest true rate, from its posterior (integrated, not drawn).

    shrunken: from gamma_poisson_rates or beta_binomial_shares. Fewer than two groups is TooLittle.
    Source: Marshall & Spiegelhalter (1998), BMJ 316, 1701-1704; the integral of one density times the others'
    distribution functions, as a Stieltjes sum on a grid that is fine where the highest rate lies.
    """
    import numpy as np

    demand_kind(shrunken, Shrunken, "shrunken")
    level = demand_level(level)
    if len(shrunken.labels) < 2:
        return TooLittle("chance of being the worst", "fewer than two groups", len(shrunken.labels), 2)
    below, quantile = _posteriors(shrunken)
    points = max(FEWEST_POINTS, ALL_POINTS // len(shrunken.labels))
    ends = np.array([1e-14, 1e-12, 1e-10, 1e-8, 1e-6])
    shares = np.concatenate([ends, (np.arange(points) + 0.5) / points, 1 - ends[::-1]])
    coarse = np.unique(np.concatenate([quantile(i, shares) for i in range(len(shrunken.labels))]))
    highest = np.array([below(i, coarse) for i in range(len(shrunken.labels))]).prod(axis=0)
    fine = np.interp(np.linspace(0, 1, FINE_POINTS), highest, coarse)
    grid = np.unique(np.concatenate([coarse, fine]))
    each = np.array([below(i, grid) for i in range(len(shrunken.labels))])
    chances = []
    for i in range(len(shrunken.labels)):
        others = np.delete(each, i, axis=0).prod(axis=0)
        # The mass of i in each step, times the mean of the others at its ends; what lies beyond the grid is < 1e-14.
        chances.append(float((np.diff(each[i]) * (others[1:] + others[:-1]) / 2).sum()))
    named = tuple(name for name, chance in zip(shrunken.labels, chances, strict=True) if chance >= level)
    method = f"{shrunken.method} posteriors, Stieltjes sum"
    return WorstChances(
        tuple(stated_chance(one, BY_THE_SUM) for one in chances), shrunken.labels, named, level, shrunken, method
    )


def rank_ranges(shrunken: Shrunken, level: float, draws: int, seed: int) -> RankRanges | TooLittle:
    """Return the ranks that each group may truly have, by draws from its posterior; draws at least 1000.

    Fewer than two groups is TooLittle. Source: Marshall & Spiegelhalter (1998), as above.
    """
    import numpy as np

    demand_kind(shrunken, Shrunken, "shrunken")
    level, draws = demand_level(level), demand_count(draws, "draws", 1000)
    seed = demand_count(seed, "seed")
    source = np.random.default_rng(seed)
    if len(shrunken.labels) < 2:
        return TooLittle("ranges of ranks", "fewer than two groups", len(shrunken.labels), 2)
    _, quantile = _posteriors(shrunken)
    drawn = np.array([quantile(i, source.random(draws)) for i in range(len(shrunken.labels))])
    ranks = np.argsort(np.argsort(-drawn, axis=0, kind="stable"), axis=0, kind="stable") + 1
    tails = [(1 - level) / 2, (1 + level) / 2]
    low, high = np.quantile(ranks, tails, axis=1, method="inverted_cdf")
    return RankRanges(
        labels=shrunken.labels,
        mean_rank=tuple(float(mean) for mean in ranks.mean(axis=1)),
        rank_low=tuple(map(int, low)),
        rank_high=tuple(map(int, high)),
        level=level,
        draws=draws,
        seed=seed,
        method=f"{shrunken.method} posteriors, draws",
    )


Curve = Callable[[int, "NDArray[np.float64]"], "NDArray[np.float64]"]


def _posteriors(shrunken: Shrunken) -> tuple[Curve, Curve]:
    """Return the distribution function and the quantile function of each group's posterior, by place."""
    import numpy as np
    from scipy.special import betainc, betaincinv, gammainc, gammaincinv

    counts, sizes, prior = shrunken.events, shrunken.sizes, shrunken.prior
    if isinstance(prior, GammaPrior):
        shapes = [x + prior.shape for x in counts]
        rates = [t + prior.rate for t in sizes]
        return (
            lambda i, x: np.asarray(gammainc(shapes[i], x * rates[i]), dtype=np.float64),
            lambda i, p: np.asarray(gammaincinv(shapes[i], p) / rates[i], dtype=np.float64),
        )
    above = [x + prior.a for x in counts]
    under = [n - x + prior.b for x, n in zip(counts, sizes, strict=True)]
    return (
        lambda i, x: np.asarray(betainc(above[i], under[i], x), dtype=np.float64),
        lambda i, p: np.asarray(betaincinv(above[i], under[i], p), dtype=np.float64),
    )
