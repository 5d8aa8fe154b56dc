"""Where a defect probably came from, learned from settled ones: chances over the origins upstream of its detection.

A path names a defect from coarse to fine, for example (group, type, zone) or (group, type, zone, model). What is
known at the fine end counts in full; where little is known there, the coarser steps lend: a new type starts from
its group, a new zone from its type. Each settled defect is used once: a step borrows from its siblings, never
from itself. "Not known" is no origin: it is neither learned from nor given a chance.

The settled defects are not a random draw of all defects (plain ones are settled first), so a chance is a help for
the person who settles the next one, and never a count against a station.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    count_of,
    demand_as_many,
    demand_count,
    demand_kind,
    demand_level,
    demand_list,
    demand_positive,
)

Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SettledCount:
    """Defects of one path whose origin is confirmed or settled."""

    path: Path
    origin: str
    count: int


@dataclass(frozen=True, slots=True)
class SettledOrigins:
    """Settled defects by every step of their paths: by_step[path[:d]][origin] for each depth d from 1."""

    by_step: Mapping[Path, Mapping[str, int]]
    depth: int
    total: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginPosterior:
    """Chances of the upstream origins for one defect of a path, with equal-tailed intervals.

    chances sum to 1 in the order of origins. shape: the Dirichlet parameters behind them. evidence: how many
    settled defects at possible origins stand at each step, coarse to fine. not_upstream: settled defects of this
    very path at origins that are not possible here; they are a data fault to be shown and are not learned from.
    """

    path: Path
    origins: tuple[str, ...]
    chances: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    shape: tuple[float, ...]
    evidence: tuple[int, ...]
    not_upstream: int
    borrow: tuple[float, ...]
    level: float
    method: str


def settled_origins(counts: Sequence[SettledCount]) -> SettledOrigins:
    """Return the settled defects summed for every step of their paths.

    All paths are equally long and name at least a group. Raises ValueError naming the path that is not.
    """
    by_step: dict[Path, dict[str, int]] = {}
    cells = demand_list(counts, "counts")
    for cell in cells:
        demand_kind(cell, SettledCount, "counts")
    depth = len(cells[0].path) if cells else 0
    for cell in cells:
        if not cell.path or len(cell.path) != depth:
            raise ValueError(f"path must have {depth or 'at least 1'} steps like the first, got {cell.path!r}")
        count = demand_count(cell.count, f"count of {cell.path!r} at {cell.origin!r}")
        for step in range(1, depth + 1):
            here = by_step.setdefault(cell.path[:step], {})
            here[cell.origin] = here.get(cell.origin, 0) + count
    return SettledOrigins(by_step, depth, sum(cell.count for cell in cells))


def origin_posterior(
    settled: SettledOrigins, path: Path, origins: Sequence[str], borrow: Sequence[float], level: float
) -> OriginPosterior | TooLittle:
    """Return the chances of the possible origins for a defect of this path.

    origins: those upstream of where it was found and in the unit's build, with the ones that are not stations
    (supplier, handling), without "not known". borrow: for each step how many defects' worth the coarser knowledge
    weighs, more than 0; learned_borrowing measures it. A group without a settled defect is TooLittle: unknown
    stays unknown. A path longer or shorter than the settled ones is refused.
    Source: Dirichlet-multinomial conjugacy step by step (Gelman et al., Bayesian Data Analysis, sec. 3.4 and ch. 5);
    borrowing from siblings only, so that no defect counts twice.
    """
    from scipy.special import betaincinv

    origins, weights, level = _demand_cell(settled, path, origins, borrow, level)
    evidence = tuple(sum(_counts(settled, path[:step], origins)) for step in range(1, len(path) + 1))
    if not evidence or evidence[0] == 0:
        group = path[0] if path else "no group"
        return TooLittle("origin of a defect", f"no settled defect of {group} at a possible origin yet", 0, 1)
    own = _counts(settled, path, origins)
    prior = prior_mean(settled, path, origins, weights)
    shape = tuple(n + weights[-1] * q for n, q in zip(own, prior, strict=True))
    whole, tail = sum(shape), (1 - level) / 2
    chances = tuple(a / whole for a in shape)
    low = tuple(float(betaincinv(a, whole - a, tail)) if whole > a else 1.0 for a in shape)
    high = tuple(float(betaincinv(a, whole - a, 1 - tail)) if whole > a else 1.0 for a in shape)
    elsewhere = sum(settled.by_step.get(path, {}).values()) - sum(own)
    return OriginPosterior(
        path=path,
        origins=origins,
        chances=chances,
        low=low,
        high=high,
        shape=shape,
        evidence=evidence,
        not_upstream=elsewhere,
        borrow=weights,
        level=level,
        method="hierarchical Dirichlet",
    )


def prior_mean(
    settled: SettledOrigins, path: Path, origins: Sequence[str], borrow: Sequence[float]
) -> tuple[float, ...]:
    """Return what the coarser steps say about a path before its own defects are looked at; sums to 1.

    Begins with all origins alike; at each step down, the siblings' defects join with the weight that the step
    above lends.
    """
    demand_kind(settled, SettledOrigins, "settled")
    possible = count_of(origins, "origins")
    if not possible:
        raise ValueError("origins must be at least one, got none")
    path = demand_list(path, "path")
    if count_of(borrow, "borrow") < len(path) - 1:
        raise ValueError(f"borrow must have a weight for each step of {path!r} but the last, got {borrow!r}")
    mean = [1 / possible] * possible
    for step in range(1, len(path)):
        whole, own = _counts(settled, path[:step], origins), _counts(settled, path[: step + 1], origins)
        siblings = [w - o for w, o in zip(whole, own, strict=True)]
        lent = demand_positive(borrow[step - 1], f"borrow[{step - 1}]")
        mean = [(n + lent * q) / (sum(siblings) + lent) for n, q in zip(siblings, mean, strict=True)]
    return tuple(mean)


def _counts(settled: SettledOrigins, step: Path, origins: Sequence[str]) -> list[int]:
    here = settled.by_step.get(step, {})
    return [here.get(origin, 0) for origin in origins]


def _demand_cell(
    settled: SettledOrigins, path: Path, origins: Sequence[str], borrow: Sequence[float], level: float
) -> tuple[tuple[str, ...], tuple[float, ...], float]:
    demand_kind(settled, SettledOrigins, "settled")
    origins, path = demand_list(origins, "origins"), demand_list(path, "path")
    if not origins or len(set(origins)) != len(origins):
        raise ValueError(f"origins must be at least one, each once, got {origins!r}")
    if not path or (settled.depth and len(path) != settled.depth):
        raise ValueError(f"path must have {settled.depth or 'at least 1'} steps as the settled ones, got {path!r}")
    demand_as_many("borrow", borrow, "path", path)
    weights = tuple(demand_positive(weight, f"borrow[{i}]") for i, weight in enumerate(demand_list(borrow, "borrow")))
    return origins, weights, demand_level(level)
