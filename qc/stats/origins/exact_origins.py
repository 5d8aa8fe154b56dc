"""How many open defects each origin probably has, exactly, where no first guess is weighed in beside the paths.

The same answer as `qc.stats.origins.expected_origins` gives by simulation without guesses, but with its whole
distribution summed up term by term: no draws, no seed, and a small part of the time. A first guess can still be used:
as a step of the path, so that what such guesses turned out to be is learned from the settled defects themselves.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.origins.attribution import Path, SettledOrigins, prior_mean
from qc.stats.origins.expected_origins import OpenCount, OriginExpectation
from qc.stats.refusals import demand_as_many, demand_count, demand_kind, demand_level, demand_list, demand_positive

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

TAIL = 1e-12  # of a distribution: what is cut off at its upper end moves no limit


@dataclass(frozen=True, slots=True, kw_only=True)
class ExactOrigins:
    """All origins in name order. unknown: open defects whose group has no settled one, and those settled as unknown.

    open_count: all open defects; the expected counts and the open part of unknown sum to it. settled_unknown: the
    other part. settled: the settled defects that were learned from.
    """

    origins: tuple[OriginExpectation, ...]
    unknown: int
    settled_unknown: int
    open_count: int
    settled: int
    borrow: tuple[float, ...]
    level: float
    method: str


def exact_expected_origins(
    settled: SettledOrigins,
    open_counts: Sequence[OpenCount],
    confirmed: Mapping[str, int],
    settled_unknown: int,
    borrow: Sequence[float],
    level: float,
) -> ExactOrigins | TooLittle:
    """Return for every origin the expected count of open defects with its interval, beside the other two counts.

    settled: what is learned from; confirmed: settled defects by origin in the period shown; settled_unknown: those
    closed as not known (kept apart, never shared out). An open defect's suspected origin is counted, never weighed.
    low and high hold the doubt about the shares and the luck of the single defects; each tail outside them has at
    most (1 - level) / 2. No open and no settled defect at all is TooLittle.
    Source: the posterior predictive of a Dirichlet-multinomial is beta-binomial for each origin (Gelman et al.,
    Bayesian Data Analysis, sec. 3.4); paths are independent given the weights, so their counts convolve.
    """
    level, settled_unknown = demand_level(level), demand_count(settled_unknown, "settled_unknown")
    demand_kind(settled, SettledOrigins, "settled")
    demand_kind(confirmed, Mapping, "confirmed")
    confirmed = {name: demand_count(n, f"confirmed[{name!r}]") for name, n in confirmed.items()}
    weights = tuple(demand_positive(weight, f"borrow[{i}]") for i, weight in enumerate(demand_list(borrow, "borrow")))
    merged, guesses = _merged(demand_list(open_counts, "open_counts"), weights)
    everything = sum(merged.values())
    if everything + sum(confirmed.values()) + settled_unknown == 0:
        return TooLittle("expected origins", say("no defect, open or settled"), 0, 1)
    unknown = 0
    means: dict[str, float] = {}
    sums: dict[str, NDArray[np.float64]] = {}
    for (path, origins), count in merged.items():
        shape = _shape(settled, path, origins, weights)
        if shape is None:
            unknown += count
            continue
        for origin, share, chances in zip(origins, shape, _beta_binomial(count, shape), strict=True):
            means[origin] = means.get(origin, 0.0) + count * share / sum(shape)
            sums[origin] = _convolved(sums.get(origin), chances)
    rows = tuple(
        _expectation(name, confirmed.get(name, 0), guesses.get(name, 0), means.get(name, 0.0), sums.get(name), level)
        for name in sorted({*confirmed, *guesses, *means})
    )
    method = "hierarchical Dirichlet, exact posterior predictive"
    return ExactOrigins(
        origins=rows,
        unknown=unknown + settled_unknown,
        settled_unknown=settled_unknown,
        open_count=everything,
        settled=settled.total,
        borrow=weights,
        level=level,
        method=method,
    )


def _merged(
    open_counts: Sequence[OpenCount], weights: tuple[float, ...]
) -> tuple[dict[tuple[Path, tuple[str, ...]], int], dict[str, int]]:
    """Return the open defects by path and possible origins, and by the origin that they name."""
    merged: dict[tuple[Path, tuple[str, ...]], int] = {}
    guesses: dict[str, int] = {}
    for cell in open_counts:
        demand_kind(cell, OpenCount, "open_counts")
        demand_as_many("borrow", weights, f"path {cell.path!r}", cell.path)
        if not cell.origins or len(set(cell.origins)) != len(cell.origins):
            raise ValueError(f"origins must be at least one, each once, got {cell.origins!r} for {cell.path!r}")
        count, key = demand_count(cell.count, f"count of {cell.path!r}"), (cell.path, cell.origins)
        merged[key] = merged.get(key, 0) + count
        if cell.suspected is not None:
            guesses[cell.suspected] = guesses.get(cell.suspected, 0) + count
    return merged, guesses


def _shape(
    settled: SettledOrigins, path: Path, origins: tuple[str, ...], weights: tuple[float, ...]
) -> list[float] | None:
    """Return the Dirichlet parameters of a path's origins, None where its group has no settled defect at them."""
    group = settled.by_step.get(path[:1], {})
    if not any(group.get(origin, 0) for origin in origins):
        return None
    own = settled.by_step.get(path, {})
    prior = prior_mean(settled, path, origins, weights)
    return [own.get(origin, 0) + weights[-1] * mean for origin, mean in zip(origins, prior, strict=True)]


def _beta_binomial(count: int, shape: Sequence[float]) -> "NDArray[np.float64]":
    """Return for each origin the chances of 0..count of the open defects: rows origins, columns counts."""
    import numpy as np
    from scipy.special import betaln, gammaln

    if len(shape) == 1:
        return np.eye(count + 1)[-1:]
    hits, own = np.arange(count + 1), np.array(shape)[:, None]
    others = own.sum() - own
    ways = gammaln(count + 1) - gammaln(hits + 1) - gammaln(count - hits + 1)
    chances: NDArray[np.float64] = np.exp(ways + betaln(hits + own, count - hits + others) - betaln(own, others))
    return chances


def _convolved(sum_: "NDArray[np.float64] | None", more: "NDArray[np.float64]") -> "NDArray[np.float64]":
    import numpy as np

    whole = more if sum_ is None else np.convolve(sum_, more)
    kept = len(whole) - int(np.searchsorted(np.cumsum(whole[::-1]), TAIL))
    return whole[: max(kept, 1)]


def _expectation(
    origin: str, confirmed: int, suspected: int, mean: float, chances: "NDArray[np.float64] | None", level: float
) -> OriginExpectation:
    import numpy as np

    if chances is None:
        return OriginExpectation(origin, confirmed, suspected, mean, 0, 0)
    reached = np.cumsum(chances)
    # a relative slack, as sums of rounded chances may miss a tail by their last figure
    low, high = (int(np.searchsorted(reached, tail * (1 - 1e-9))) for tail in ((1 - level) / 2, (1 + level) / 2))
    return OriginExpectation(origin, confirmed, suspected, mean, low, min(high, len(chances) - 1))
