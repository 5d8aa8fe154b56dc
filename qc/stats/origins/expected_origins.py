"""How many open defects each origin probably has, with its uncertainty, beside the confirmed and suspected counts.

The three counts are never added up silently: confirmed is what leads agreed to, suspected is a first guess,
expected is arithmetic. Defects that nothing is known about stay unknown.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qc.stats.answers import TooLittle
from qc.stats.origins.attribution import OriginPosterior, Path, SettledOrigins, origin_posterior
from qc.stats.refusals import demand_count, demand_kind, demand_level, demand_list

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class OpenCount:
    """Open defects of one path, found where ``origins`` are possible; suspected: the first guess, None if nobody's."""

    path: Path
    origins: tuple[str, ...]
    suspected: str | None
    count: int


@dataclass(frozen=True, slots=True)
class SuspectRecord:
    """How first guesses turned out among settled defects: named the later origin, another one, or none."""

    right: int
    wrong: int
    unnamed: int


@dataclass(frozen=True, slots=True)
class OriginExpectation:
    """One origin: settled defects, open ones that name it, and how many open ones it probably has.

    expected: mean count of open defects; low, high: the counts that hold the true one with the level.
    """

    origin: str
    confirmed: int
    suspected: int
    expected: float
    low: int
    high: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedOrigins:
    """All origins in name order. unknown: open defects whose group has no settled one, and those settled as unknown.

    open_count: all open defects; the expected counts and the open part of unknown sum to it. settled_unknown: the
    other part. trust: the guesses' record that was used, None where guesses were not.
    """

    origins: tuple[OriginExpectation, ...]
    unknown: int
    settled_unknown: int
    open_count: int
    trust: SuspectRecord | None
    borrow: tuple[float, ...]
    level: float
    draws: int
    seed: int
    method: str


def suspicion_weights(origins: Sequence[str], suspected: str | None, trust: SuspectRecord) -> tuple[float, ...]:
    """Return how likely this first guess would have been under each origin, on the record of settled guesses.

    A guess that names no possible origin, or nobody's guess, weighs all alike. One of each kind is added to the
    record, so that a spotless record is not certainty. Source: Bayes' rule; Laplace's rule of succession.
    """
    demand_kind(trust, SuspectRecord, "trust")
    origins = demand_list(origins, "origins")
    right, wrong, unnamed = (
        demand_count(n, f"trust.{name}") + 1
        for n, name in ((trust.right, "right"), (trust.wrong, "wrong"), (trust.unnamed, "unnamed"))
    )
    if suspected is None or suspected not in origins or len(origins) == 1:
        return (1.0,) * len(origins)
    named = right / (right + wrong + unnamed)
    misnamed = wrong / (right + wrong + unnamed) / (len(origins) - 1)
    return tuple(named if origin == suspected else misnamed for origin in origins)


def chances_with_suspicion(
    posterior: OriginPosterior, suspected: str | None, trust: SuspectRecord | None
) -> tuple[float, ...]:
    """Return the posterior's chances once the first guess is taken into account; sums to 1."""
    demand_kind(posterior, OriginPosterior, "posterior")
    if trust is None:
        return posterior.chances
    likely = suspicion_weights(posterior.origins, suspected, trust)
    joint = [chance * weight for chance, weight in zip(posterior.chances, likely, strict=True)]
    return tuple(product / sum(joint) for product in joint)


def expected_origins(
    settled: SettledOrigins,
    open_counts: Sequence[OpenCount],
    confirmed: Mapping[str, int],
    settled_unknown: int,
    trust: SuspectRecord | None,
    borrow: Sequence[float],
    level: float,
    draws: int,
    seed: int,
) -> ExpectedOrigins | TooLittle:
    """Return for every origin the expected count of open defects with its interval, beside the other two counts.

    settled: what is learned from; confirmed: settled defects by origin in the period shown; settled_unknown: those
    closed as not known (kept apart, never shared out). trust: None leaves first guesses out. draws at least 1000.
    The interval holds both the doubt about the shares and the luck of the single defects. No open and no confirmed
    defect at all is TooLittle.
    Source: posterior predictive simulation, Gelman et al., Bayesian Data Analysis, sec. 1.9 and 3.4.
    """
    import numpy as np

    level, draws = demand_level(level), demand_count(draws, "draws", 1000)
    seed = demand_count(seed, "seed")
    source = np.random.default_rng(seed)
    demand_kind(confirmed, Mapping, "confirmed")
    confirmed = {name: demand_count(n, f"confirmed[{name!r}]") for name, n in confirmed.items()}
    settled_unknown = demand_count(settled_unknown, "settled_unknown")
    open_counts = demand_list(open_counts, "open_counts")
    for cell in open_counts:
        demand_kind(cell, OpenCount, "open_counts")
    everything = sum(demand_count(cell.count, f"count of {cell.path!r}") for cell in open_counts)
    if everything + sum(confirmed.values()) + settled_unknown == 0:
        return TooLittle("expected origins", "no defect, open or settled", 0, 1)
    means: dict[str, float] = {}
    sums: dict[str, NDArray[np.int64]] = {}
    shares: dict[tuple[Path, tuple[str, ...]], NDArray[np.float64]] = {}
    unknown = 0
    for cell in open_counts:
        posterior = origin_posterior(settled, cell.path, cell.origins, borrow, level)
        if isinstance(posterior, TooLittle):
            unknown += cell.count
            continue
        chances = chances_with_suspicion(posterior, cell.suspected, trust)
        key = (cell.path, posterior.origins)
        if key not in shares:  # one doubt about the shares for all open defects of a path, whoever guessed what
            shares[key] = np.maximum(source.gamma(posterior.shape, size=(draws, len(posterior.shape))), 1e-300)
        tilted = shares[key] * np.array(chances) / np.array(posterior.chances)
        drawn = source.multinomial(cell.count, tilted / tilted.sum(axis=1, keepdims=True))
        for place, origin in enumerate(posterior.origins):
            means[origin] = means.get(origin, 0.0) + cell.count * chances[place]
            sums[origin] = sums.get(origin, np.zeros(draws, dtype=np.int64)) + drawn[:, place]
    guesses = _guesses(open_counts)
    rows = tuple(
        _expectation(name, confirmed.get(name, 0), guesses.get(name, 0), means.get(name, 0.0), sums.get(name), level)
        for name in sorted({*confirmed, *guesses, *means})
    )
    return ExpectedOrigins(
        origins=rows,
        unknown=unknown + settled_unknown,
        settled_unknown=settled_unknown,
        open_count=everything,
        trust=trust,
        borrow=tuple(map(float, borrow)),
        level=level,
        draws=draws,
        seed=seed,
        method="hierarchical Dirichlet, posterior predictive draws",
    )


def _guesses(open_counts: Sequence[OpenCount]) -> dict[str, int]:
    guesses: dict[str, int] = {}
    for cell in open_counts:
        if cell.suspected is not None:
            guesses[cell.suspected] = guesses.get(cell.suspected, 0) + cell.count
    return guesses


def _expectation(
    origin: str, confirmed: int, suspected: int, mean: float, drawn: "NDArray[np.int64] | None", level: float
) -> OriginExpectation:
    import numpy as np

    if drawn is None:
        return OriginExpectation(origin, confirmed, suspected, mean, 0, 0)
    tails = ((1 - level) / 2, (1 + level) / 2)
    low = int(np.quantile(drawn, tails[0], method="inverted_cdf"))
    high = int(np.quantile(drawn, tails[1], method="inverted_cdf"))
    return OriginExpectation(origin, confirmed, suspected, mean, low, high)
