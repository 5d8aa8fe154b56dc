"""Many tests at once: which stay claims when all are looked at together, and what a watch may cost in false alarms."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.refusals import demand_count, demand_labels, demand_level, demand_list, demand_positive, demand_share

SLACK = 1 + 1e-7  # a p-value this near the boundary is on it: p = .05 stays rejected after rounding


@dataclass(frozen=True, slots=True)
class ManyTests:
    """Tests that were looked at together.

    adjusted: p-values to be held against the bound itself; rejected: which of them stay claims; both in label
    order. bound: the share of false claims among the claims (Benjamini-Hochberg) or the chance of any false claim
    (Holm, Bonferroni).
    """

    labels: tuple[str, ...]
    p_values: tuple[float, ...]
    adjusted: tuple[float, ...]
    rejected: tuple[bool, ...]
    bound: float
    method: str


@dataclass(frozen=True, slots=True)
class WatchBudget:
    """How small a false-alarm chance each watched series may have at each look.

    chance: for one series at one look; alarms: false alarms expected at each look over all of them, as asked for.
    """

    chance: float
    alarms: float
    watched: int


def benjamini_hochberg(p_values: Sequence[float], labels: Sequence[str], bound: float) -> ManyTests | TooLittle:
    """Return which tests stay claims with the expected share of false ones at most bound.

    p_values in [0, 1]; none is TooLittle. A p-value within a relative 1e-7 of its boundary is rejected.
    statsmodels' multipletests has no slack at the boundary, so the step-up stands here, checked against it.
    Source: Benjamini & Hochberg (1995), J. Royal Statistical Society B 57, 289-300: largest i with
    p_(i) <= i * bound / m.
    """
    p_values, labels, bound = _demand_tests(p_values, labels, bound)
    if not p_values:
        return _none_tested()
    order, m = _ascending(p_values), len(p_values)
    adjusted, least = [0.0] * m, 1.0
    for place in reversed(range(m)):
        least = min(least, p_values[order[place]] * m / (place + 1))
        adjusted[order[place]] = least
    return _answer(labels, p_values, adjusted, bound, "Benjamini-Hochberg")


def holm(p_values: Sequence[float], labels: Sequence[str], bound: float) -> ManyTests | TooLittle:
    """Return which tests stay claims with the chance of any false one at most bound.

    Arguments and slack as benjamini_hochberg. Source: Holm (1979), Scandinavian J. Statistics 6, 65-70.
    """
    p_values, labels, bound = _demand_tests(p_values, labels, bound)
    if not p_values:
        return _none_tested()
    order, m = _ascending(p_values), len(p_values)
    adjusted, most = [0.0] * m, 0.0
    for place in range(m):
        most = max(most, min(1.0, p_values[order[place]] * (m - place)))
        adjusted[order[place]] = most
    return _answer(labels, p_values, adjusted, bound, "Holm")


def bonferroni(p_values: Sequence[float], labels: Sequence[str], bound: float) -> ManyTests | TooLittle:
    """Return which tests stay claims at bound / m each; Holm rejects no fewer under the same promise.

    Arguments and slack as benjamini_hochberg. Source: Dunn (1961), J. Amer. Stat. Assoc. 56, 52-64.
    """
    p_values, labels, bound = _demand_tests(p_values, labels, bound)
    if not p_values:
        return _none_tested()
    adjusted = [min(1.0, p * len(p_values)) for p in p_values]
    return _answer(labels, p_values, adjusted, bound, "Bonferroni")


def watch_budget(watched: int, alarms: float) -> WatchBudget:
    """Return the false-alarm chance each of the watched series may have so that all together give ``alarms`` a look.

    watched: series times rules, at least 1; alarms: false alarms expected at one look, more than 0 and at most as
    many as are watched. The sum of the chances is the expected number whether or not the series are independent.
    Source: linearity of expectation; the practice of bounding it, ISO 7870-1 (type 1 error), clause not quoted.
    """
    watched, alarms = demand_count(watched, "watched", 1), demand_positive(alarms, "alarms")
    if alarms >= watched:
        raise ValueError(f"alarms must be fewer than are watched ({watched}), got {alarms!r}")
    return WatchBudget(alarms / watched, alarms, watched)


def _demand_tests(
    p_values: Sequence[float], labels: Sequence[str], bound: float
) -> tuple[tuple[float, ...], tuple[str, ...], float]:
    chances = tuple(demand_share(p, f"p_values[{i}]") for i, p in enumerate(demand_list(p_values, "p_values")))
    labels = demand_labels(labels, "p_values", chances)
    return chances, labels, demand_level(bound, "bound")


def _ascending(p_values: Sequence[float]) -> list[int]:
    return sorted(range(len(p_values)), key=lambda i: p_values[i])


def _none_tested() -> TooLittle:
    return TooLittle("tests looked at together", "nothing was tested", 0, 1)


def _answer(
    labels: tuple[str, ...], p_values: tuple[float, ...], adjusted: Sequence[float], bound: float, method: str
) -> ManyTests:
    rejected = tuple(p <= bound * SLACK for p in adjusted)
    return ManyTests(labels, p_values, tuple(adjusted), rejected, bound, method)
