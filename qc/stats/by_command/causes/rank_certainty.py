"""How sure the order of a Pareto is: the chance that each rank is right, and neighbours that could have swapped.

A rest class ("other") has no rank of its own: leave it out of the call.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_as_many,
    demand_count,
    demand_kind,
    demand_level,
    demand_positive,
    demand_sizes,
)
from qc.stats.series import Counts
from qc.stats.stated_chances import stated_chance

CHUNK = 2_000  # draws held at a time, so that 70 categories stay within a few megabytes


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedCategory:
    """One bar of the Pareto, in the order drawn.

    rank from 1; weighted: count times weight. chance_of_rank: that this rank is the true one, from 1 in so many draws
    and one to as many in so many and one, which is all that draws can tell. rank_low, rank_high:
    the ranks that hold the true one with the level. chance_above_next: that it truly stands above the next bar;
    1 for the last. swaps_with_next: that chance is below the level, so the two could have swapped by chance.
    """

    label: str
    count: int
    weighted: float
    rank: int
    chance_of_rank: float
    rank_low: int
    rank_high: int
    chance_above_next: float
    swaps_with_next: bool


@dataclass(frozen=True, slots=True)
class RankCertainty:
    """The Pareto's order with its certainty; prior: counts added to each category, draws and seed of the chances."""

    ranked: tuple[RankedCategory, ...]
    total: int
    prior: float
    level: float
    draws: int
    seed: int
    method: str


def rank_certainty(
    counts: Counts,
    weights: Sequence[float],
    prior: float,
    level: float,
    draws: int,
    seed: int,
) -> RankCertainty | TooLittle:
    """Return the order by count times weight with the chance that each rank is right.

    counts by category; weights beside them: what one counts for (1, minutes, cost), more than 0; prior: added to every
    category, say 0.5 or 1; draws at least 1000, seed makes them repeatable. Equal bars stand in label order.
    Neighbours are compared exactly (a beta tail), ranks by draws of the shares. Fewer than two categories, or
    nothing counted, is TooLittle.
    Source: Dirichlet-multinomial conjugacy, Gelman et al., Bayesian Data Analysis, sec. 3.4; the idea of chances
    for ranks, Marshall & Spiegelhalter (1998), BMJ 316, 1701-1704.
    """
    demand_kind(counts, Counts, "counts")
    found, labels = counts.counts, counts.labels
    weights = demand_sizes(weights, "weights")
    demand_as_many("weights", weights, "counts", found)
    for i, weight in enumerate(weights):
        weight = demand_positive(weight, f"weights[{i}]")
    prior, level, draws = demand_positive(prior, "prior"), demand_level(level), demand_count(draws, "draws", 1000)
    seed = demand_count(seed, "seed")
    if len(found) < 2:
        return TooLittle("certainty of the order", "fewer than two categories", len(found), 2)
    if sum(found) == 0:
        return TooLittle("certainty of the order", "nothing was counted", 0, 1)
    order = sorted(range(len(found)), key=lambda i: (-found[i] * weights[i], labels[i]))
    shapes, weighed = [found[i] + prior for i in order], [weights[i] for i in order]
    chances = _rank_chances(shapes, weighed, draws, seed)
    ranked = tuple(
        _category(place, labels[i], found[i], weights[i], shapes, weighed, chances[place], draws, level)
        for place, i in enumerate(order)
    )
    method = "Dirichlet posterior, neighbours exact, ranks by draws"
    return RankCertainty(ranked, sum(found), prior, level, draws, seed, method)


def _category(
    place: int, label: str, count: int, weight: float, shapes: list[float], weights: list[float],
    chances: Sequence[float], draws: int, level: float,
) -> RankedCategory:  # fmt: skip
    last = place == len(shapes) - 1
    above = 1.0 if last else _chance_above(shapes, weights, place)
    low, high = _rank_range(chances, level)
    told = min(draws / (draws + 1), max(1 / (draws + 1), chances[place]))
    return RankedCategory(
        label=label,
        count=count,
        weighted=count * weight,
        rank=place + 1,
        chance_of_rank=told,
        rank_low=low,
        rank_high=high,
        chance_above_next=above,
        swaps_with_next=not last and above < level,
    )


def _chance_above(shapes: list[float], weights: list[float], place: int) -> float:
    """Return the chance that one weighted share is above the next: the two shares' ratio is beta distributed."""
    from scipy.special import betaincc

    even = weights[place + 1] / (weights[place] + weights[place + 1])
    return stated_chance(betaincc(shapes[place], shapes[place + 1], even))


def _rank_chances(shapes: list[float], weights: list[float], draws: int, seed: int) -> list[list[float]]:
    """Return for each category (row) the chance of each rank (column), from draws of independent gammas."""
    import numpy as np

    k, source = len(shapes), np.random.default_rng(seed)
    tally = np.zeros(k * k, dtype=np.int64)
    for start in range(0, draws, CHUNK):
        size = min(CHUNK, draws - start)
        drawn = source.gamma(shapes, size=(size, k)) * np.array(weights)
        order = np.argsort(-drawn, axis=1, kind="stable")  # order[draw][rank] is the category that stands there
        tally += np.bincount((order * k + np.arange(k)).ravel(), minlength=k * k)
    return [[float(share) for share in row] for row in tally.reshape(k, k) / draws]


def _rank_range(chances: Sequence[float], level: float) -> tuple[int, int]:
    """Return the lowest and highest rank left when (1 - level) / 2 is cut from each end."""
    tail, below, low = (1 - level) / 2, 0.0, 1
    while below + chances[low - 1] <= tail:
        below += chances[low - 1]
        low += 1
    above, high = 0.0, len(chances)
    while above + chances[high - 1] <= tail:
        above += chances[high - 1]
        high -= 1
    return low, high
