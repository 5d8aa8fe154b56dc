"""How much a path's coarser steps should lend to the finer ones, measured on the settled defects themselves."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qc.stats.answers import TooLittle
from qc.stats.origins.attribution import Path, SettledOrigins, prior_mean
from qc.stats.refusals import demand_kind, demand_list

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Defects' worth: halves to 512, doubling. Finer steps change a chance by less than its own interval.
GRID = tuple(0.5 * 2**power for power in range(11))


@dataclass(frozen=True, slots=True)
class Borrowing:
    """The weight of the coarser knowledge at each step, in defects' worth, coarse to fine.

    log_evidence: of the settled defects at each step under that weight; nodes: how many groups, types, zones each
    step was measured on.
    """

    weights: tuple[float, ...]
    log_evidence: tuple[float, ...]
    nodes: tuple[int, ...]
    grid: tuple[float, ...]
    method: str


def learned_borrowing(settled: SettledOrigins, origins: Sequence[str]) -> Borrowing | TooLittle:
    """Return for each step the weight on the grid under which the settled defects were least surprising.

    origins: all that may be possible anywhere. A finer step that always looks like its coarser one gets a large
    weight, one that never does a small weight. Nothing settled is TooLittle.
    Source: empirical Bayes by the Dirichlet-multinomial marginal likelihood (Gelman et al., Bayesian Data
    Analysis, ch. 5), step by step, each node against its siblings.
    """
    demand_kind(settled, SettledOrigins, "settled")
    origins = demand_list(origins, "origins")
    if not origins or len(set(origins)) != len(origins):
        raise ValueError(f"origins must be at least one, each once, got {origins!r}")
    if settled.total == 0:
        return TooLittle("weight of coarser knowledge", "no settled defect to learn from", 0, 1)
    weights: list[float] = []
    scores: list[float] = []
    nodes: list[int] = []
    for step in range(1, settled.depth + 1):
        here = sorted(path for path in settled.by_step if len(path) == step)
        own, mean = _nodes(settled, here, origins, weights)
        best = max((_evidence(own, weight * mean), weight) for weight in GRID)
        scores.append(best[0])
        weights.append(best[1])
        nodes.append(len(here))
    return Borrowing(tuple(weights), tuple(scores), tuple(nodes), GRID, "empirical Bayes on a grid")


def _nodes(
    settled: SettledOrigins, nodes: Sequence[Path], origins: Sequence[str], above: Sequence[float]
) -> tuple["NDArray[np.int64]", "NDArray[np.float64]"]:
    """Return the counts of all nodes of one step, and what the steps above say of each; rows nodes, columns origins."""
    import numpy as np

    own = np.array([[settled.by_step[path].get(origin, 0) for origin in origins] for path in nodes])
    return own, np.array([prior_mean(settled, path, origins, above) for path in nodes])


def _evidence(own: "NDArray[np.int64]", prior: "NDArray[np.float64]") -> float:
    """Return the log evidence of all nodes of one step under the Dirichlet parameters that the step above lends."""
    from scipy.special import gammaln

    return float(
        (gammaln(prior.sum(axis=1)) - gammaln(prior.sum(axis=1) + own.sum(axis=1))).sum()
        + (gammaln(prior + own) - gammaln(prior)).sum()
    )
