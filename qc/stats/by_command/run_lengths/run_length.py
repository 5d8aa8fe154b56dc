"""How long until a chart signals: average run lengths of run rules, exactly, by a Markov chain.

The state is what the rules still remember of the points so far; it is found by walking from the empty
memory. Neither numpy nor scipy has run lengths; qc.stats.by_command.run_lengths.first_passage solves the chain.
Source: Champ & Woodall (1987), Technometrics 29, 393-399.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from qc.stats.by_command.run_lengths.first_passage import mean_steps_sparse
from qc.stats.by_command.run_lengths.point_laws import PointLaw, zone_edges
from qc.stats.charts.run_rules import Rule, RuleSet, is_beyond
from qc.stats.refusals import demand_count, demand_kind, demand_list
from qc.stats.stated_chances import BY_DIFFERENCE, stated_chance

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.sparse import csr_matrix

# Beyond this many remembered situations the walk would take minutes.
MOST_STATES = 60_000
# From so many points on a chain of few states is raised to their power instead of walked through.
MANY_POINTS, FEW_STATES = 5_000, 1_500


@dataclass(frozen=True, slots=True)
class RunLength:
    """The mean number of points to the first signal, that point counted; inf if it never comes.

    situation: what the points are assumed to be, in words; states: the size of the chain (1 where a closed
    form was used); method: how it was computed.
    """

    mean: float
    situation: str
    states: int
    method: str


# A memory is what one side of one rule remembers; () is "nothing yet". None in its place is a signal.
Memory = tuple[int, ...]
Step = Callable[[Memory, float], Memory | None]


def _useful(flags: Memory, need: int, of: int) -> Memory:
    """Drop the oldest flags that can take part in no pattern any more; flags are newest first."""
    kept = list(flags[: of - 1])
    while kept:
        age = len(kept)
        can_still = any(sum(kept[: of - ahead]) + ahead >= need for ahead in range(1, of - age + 1))
        if kept[-1] and can_still:
            break
        kept.pop()
    return tuple(kept)


def _beyond_step(rule: Rule, sign: int) -> Step:
    def step(memory: Memory, value: float) -> Memory | None:
        hit = int(is_beyond(sign * value, rule.zone))
        if hit and sum(memory[: rule.of - 1]) + 1 >= rule.need:
            return None
        return _useful((hit, *memory), rule.need, rule.of)

    return step


def _within_step(rule: Rule) -> Step:
    def step(memory: Memory, value: float) -> Memory | None:
        length = (memory[0] if memory else 0) + 1
        if not is_beyond(rule.zone, abs(value)):
            return ()
        return None if length >= rule.of else (length,)

    return step


def _outside_step(rule: Rule) -> Step:
    """Remember (points outside in a row, how many of the last of them lie on one side, which side)."""

    def step(memory: Memory, value: float) -> Memory | None:
        if not is_beyond(abs(value), rule.zone):
            return ()
        length, same, side = memory or (0, 0, 0)
        here = 1 if value > 0 else -1
        length, same = min(length + 1, rule.of), (same + 1 if side == here else 1)
        if length >= rule.of and same < rule.of:
            return None
        return length, min(same, rule.of), here

    return step


def _steps(rules: RuleSet) -> list[Step]:
    steps: list[Step] = []
    for rule in rules.rules:
        if rule.shape == "beyond":
            steps += [_beyond_step(rule, 1), _beyond_step(rule, -1)]
        elif rule.shape == "within":
            steps.append(_within_step(rule))
        elif rule.shape == "outside":
            steps.append(_outside_step(rule))
        else:
            raise ValueError(
                f"rules must look at zones only, got {rule.key!r}: a trend depends on the values themselves and "
                "has no exact chain"
            )
    return steps


def zone_rules(rules: RuleSet) -> RuleSet:
    """Return the set without the rules that have no exact run length (trends, alternation), named so."""
    demand_kind(rules, RuleSet, "rules")
    kept = tuple(rule for rule in rules.rules if rule.shape not in ("trend", "alternating"))
    return rules if kept == rules.rules else RuleSet(f"{rules.name}, zones only", rules.source, kept)


def _merged(rules: RuleSet, law: PointLaw) -> list[tuple[float, float]]:
    """Return (value, probability) with the values that no rule tells apart put together."""
    cuts = zone_edges(rules)
    seen: dict[tuple[int, ...], tuple[float, float]] = {}
    for value, chance in zip(law.values, law.probabilities, strict=True):
        key = tuple(1 if is_beyond(value, cut) else -1 if is_beyond(-value, -cut) else 0 for cut in cuts)
        first, so_far = seen.get(key, (value, 0.0))
        seen[key] = (first, so_far + chance)
    return [(value, chance) for value, chance in seen.values() if chance > 0]


def _chain(rules: RuleSet, law: PointLaw) -> "tuple[csr_matrix[Any], NDArray[Any]]":
    """Return the chances of going from one remembered situation to another, 0 being the start, and of a signal."""
    demand_kind(rules, RuleSet, "rules")
    demand_kind(law, PointLaw, "law")
    steps, symbols = _steps(rules), _merged(rules, law)
    empty: tuple[Memory, ...] = ((),) * len(steps)
    number, waiting = {empty: 0}, [empty]
    rows, columns, chances = [], [], []
    ends: dict[int, float] = {}
    while waiting:
        state = waiting.pop()
        for value, chance in symbols:
            following = [step(memory, value) for step, memory in zip(steps, state, strict=True)]
            target = tuple(memory for memory in following if memory is not None)
            if len(target) < len(steps):
                ends[number[state]] = ends.get(number[state], 0.0) + chance
                continue
            if target not in number:
                number[target] = len(number)
                waiting.append(target)
            rows.append(number[state])
            columns.append(number[target])
            chances.append(chance)
        if len(number) > MOST_STATES:
            raise ValueError(f"rules must need at most {MOST_STATES} remembered situations, {rules.name!r} needs more")
    import numpy as np
    from scipy.sparse import csr_matrix

    chain = csr_matrix((chances, (rows, columns)), shape=(len(number), len(number)))
    return chain, np.array([ends.get(state, 0.0) for state in range(len(number))])


def rules_run_length(rules: RuleSet, law: PointLaw) -> RunLength:
    """Return the average run length of a set of zone rules when every point follows this law.

    Raises ValueError for rules on trends or alternation, which have no exact chain (see zone_rules and
    simulated_run_length). Source: Champ & Woodall (1987), Technometrics 29, 393-399.
    """
    chain, ends = _chain(rules, law)
    return RunLength(mean_steps_sparse(chain, ends), law.situation, len(ends), "Markov chain")


def signal_probability(rules: RuleSet, law: PointLaw, points: int) -> float:
    """Return the probability of at least one signal in so many points from a fresh start, points at least 0."""
    points = demand_count(points, "points")
    import numpy as np

    chain, ends = _chain(rules, law)
    if points > MANY_POINTS and len(ends) <= FEW_STATES:
        whole = np.block([[chain.toarray(), ends[:, None]], [np.zeros((1, len(ends))), np.ones((1, 1))]])
        return min(1.0, float(np.linalg.matrix_power(whole, points)[0, -1]))
    onward, signalled = chain.T.tocsr(), 0.0
    reached: Any = np.zeros(len(ends))
    reached[0] = 1.0
    for _ in range(points):
        # Added up, not taken from 1: a small probability keeps its digits.
        signalled += float(reached @ ends)
        reached = onward @ reached
    return min(1.0, signalled)


def operating_characteristic(rules: RuleSet, laws: Sequence[PointLaw], points: int) -> tuple[tuple[str, float], ...]:
    """Return, for each law, its situation and the probability of no signal within so many points.

    With one point and the rule beyond three standard deviations it is the chart's classical OC curve.
    """
    for law in demand_list(laws, "laws"):
        demand_kind(law, PointLaw, "laws")
    return tuple(
        (law.situation, stated_chance(1 - signal_probability(rules, law, points), BY_DIFFERENCE)) for law in laws
    )
