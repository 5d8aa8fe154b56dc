"""Run rules: patterns of successive points that hardly arise by chance, and the point that completes each.

They work on standardised values z = (value - centre) / sigma, so that periods of different size compare.
All inequalities are strict: a point on a limit is not beyond it, one on the centre line is on neither side,
and two equal values neither rise nor fall.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from numbers import Real
from typing import Literal

from qc.stats.charts.chart_points import ROUNDING
from qc.stats.refusals import demand_flag, demand_kind, demand_labels, demand_list

Shape = Literal["beyond", "trend", "alternating", "within", "outside"]
Side = Literal["high", "low", "rising", "falling", "both"]


@dataclass(frozen=True, slots=True)
class Rule:
    """One pattern: at least need of the last of points show it, the last one among them.

    shape: "beyond" zone standard deviations on one side; "trend" up or down; "alternating" up and down;
    "within" zone of the centre on either side; "outside" zone, with points on both sides.
    """

    key: str
    words: str
    shape: Shape
    need: int
    of: int
    zone: float


@dataclass(frozen=True, slots=True)
class RuleSet:
    """A published set of rules, used together; source says who published it."""

    name: str
    source: str
    rules: tuple[Rule, ...]


BEYOND_3S = Rule("beyond_3s", "one point beyond 3 standard deviations", "beyond", 1, 1, 3.0)
TWO_OF_THREE = Rule(
    "2of3_beyond_2s", "two of three points beyond 2 standard deviations on one side", "beyond", 2, 3, 2.0
)
FOUR_OF_FIVE = Rule(
    "4of5_beyond_1s", "four of five points beyond 1 standard deviation on one side", "beyond", 4, 5, 1.0
)
EIGHT_ONE_SIDE = Rule("8_one_side", "eight points in a row on one side of the centre", "beyond", 8, 8, 0.0)
NINE_ONE_SIDE = Rule("9_one_side", "nine points in a row on one side of the centre", "beyond", 9, 9, 0.0)
SIX_TREND = Rule("6_trend", "six points in a row rising, or falling", "trend", 6, 6, 0.0)
FOURTEEN_ALTERNATING = Rule(
    "14_alternating", "fourteen points in a row alternating up and down", "alternating", 14, 14, 0.0
)
FIFTEEN_WITHIN = Rule("15_within_1s", "fifteen points in a row within 1 standard deviation", "within", 15, 15, 1.0)
EIGHT_OUTSIDE = Rule(
    "8_beyond_1s_both",
    "eight points in a row on both sides, none within 1 standard deviation",
    "outside",
    8,
    8,
    1.0,
)

WESTERN_ELECTRIC_1956 = RuleSet(
    "Western Electric 1956",
    "Western Electric, Statistical Quality Control Handbook (1956), tests for instability",
    (BEYOND_3S, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_ONE_SIDE),
)
NELSON_1984 = RuleSet(
    "Nelson 1984",
    "Nelson, L.S. (1984), Journal of Quality Technology 16, 237-239",
    (
        BEYOND_3S,
        NINE_ONE_SIDE,
        SIX_TREND,
        FOURTEEN_ALTERNATING,
        TWO_OF_THREE,
        FOUR_OF_FIVE,
        FIFTEEN_WITHIN,
        EIGHT_OUTSIDE,
    ),
)


@dataclass(frozen=True, slots=True)
class Finding:
    """A completed pattern: the rule, the point that completed it, and the points that make it.

    at is that point's position from 0, label its period; pattern holds the labels of the points in the
    pattern, oldest first; side says which way ("both" for patterns without a side).
    """

    rule: str
    at: int
    label: str
    side: Side
    pattern: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RuleReading:
    """What a set of rules says of a row of points; findings stand in time order.

    judged: the number of points that were read (gaps are not); stretches: into how many separate rows they
    were parted, by gaps or by a change of criteria.
    """

    rules: RuleSet
    findings: tuple[Finding, ...]
    judged: int
    stretches: int
    across_gaps: bool
    fresh_from: tuple[str, ...]

    def at(self, label: str) -> tuple[Finding, ...]:
        """Return the patterns that this point completed."""
        return tuple(finding for finding in self.findings if finding.label == label)


def run_rules(
    z: Sequence[float | None],
    labels: Sequence[str],
    rules: RuleSet,
    *,
    across_gaps: bool,
    fresh_from: Sequence[str] = (),
) -> RuleReading:
    """Return every completed pattern in a row of standardised points.

    z beside labels in time order, None for a gap or a period still running. across_gaps: whether the points
    before and after a gap count as neighbours. fresh_from: labels at which something was redefined (criteria,
    method): no pattern reaches across the beginning of such a period.
    Raises ValueError for nan, for lengths that differ, and for a fresh_from that is no label.
    """
    labels = demand_labels(labels, "z", z)
    demand_kind(rules, RuleSet, "rules")
    across_gaps = demand_flag(across_gaps, "across_gaps")
    z, fresh_from = demand_list(z, "z"), demand_list(fresh_from, "fresh_from")
    for label, value in zip(labels, z, strict=True):
        if value is not None and (not isinstance(value, Real) or isinstance(value, bool) or value != value):
            raise ValueError(f"z must be a number or None for a gap, got {value!r} for {label!r}")
    for label in fresh_from:
        if label not in labels:
            raise ValueError(f"fresh_from names {label!r}, which is not a period of the chart")
    stretches = _stretches(z, labels, across_gaps, frozenset(fresh_from))
    findings = [
        finding for stretch in stretches for rule in rules.rules for finding in _findings(rule, stretch, labels)
    ]
    order = {rule.key: place for place, rule in enumerate(rules.rules)}
    findings.sort(key=lambda finding: (finding.at, order[finding.rule]))
    return RuleReading(
        rules,
        tuple(findings),
        sum(len(stretch) for stretch in stretches),
        len(stretches),
        across_gaps,
        tuple(fresh_from),
    )


Stretch = list[tuple[int, float]]


def _stretches(
    z: Sequence[float | None], labels: Sequence[str], across_gaps: bool, fresh_from: frozenset[str]
) -> list[Stretch]:
    stretches: list[Stretch] = [[]]
    for place, (value, label) in enumerate(zip(z, labels, strict=True)):
        if label in fresh_from or (value is None and not across_gaps):
            stretches.append([])
        if value is not None:
            stretches[-1].append((place, value))
    return [stretch for stretch in stretches if stretch]


def _findings(rule: Rule, stretch: Stretch, labels: Sequence[str]) -> list[Finding]:
    find = _PATTERNS[rule.shape]
    values = [value for _, value in stretch]
    found = []
    for end in range(len(values)):
        first = max(0, end + 1 - rule.of)
        for side, members in find(rule, values[first : end + 1]):
            pattern = tuple(labels[stretch[first + member][0]] for member in members)
            place = stretch[end][0]
            found.append(Finding(rule.key, place, labels[place], side, pattern))
    return found


Pattern = tuple[Side, list[int]]


def is_beyond(value: float, zone: float) -> bool:
    """Return whether a standardised value is strictly above zone, rounding aside."""
    return value > zone + ROUNDING


def _beyond(rule: Rule, window: list[float]) -> list[Pattern]:
    found: list[Pattern] = []
    sides: tuple[tuple[Side, int], ...] = (("high", 1), ("low", -1))
    for side, sign in sides:
        # Most points lie in no zone: they end the search at once.
        if not is_beyond(sign * window[-1], rule.zone):
            continue
        members = [i for i, value in enumerate(window) if is_beyond(sign * value, rule.zone)]
        if len(members) >= rule.need:
            found.append((side, members))
    return found


def _steps(window: list[float]) -> list[int]:
    rises = [b - a for a, b in pairwise(window)]
    return [1 if rise > ROUNDING else -1 if rise < -ROUNDING else 0 for rise in rises]


def _trend(rule: Rule, window: list[float]) -> list[Pattern]:
    steps = set(_steps(window))
    if len(window) < rule.of or len(steps) != 1 or not steps <= {1, -1}:
        return []
    return [("rising" if steps == {1} else "falling", list(range(rule.of)))]


def _alternating(rule: Rule, window: list[float]) -> list[Pattern]:
    steps = _steps(window)
    turns = all(one * two == -1 for one, two in pairwise(steps))
    return [("both", list(range(rule.of)))] if len(window) == rule.of and turns else []


def _within(rule: Rule, window: list[float]) -> list[Pattern]:
    inside = all(abs(value) < rule.zone - ROUNDING for value in window)
    return [("both", list(range(rule.of)))] if len(window) == rule.of and inside else []


def _outside(rule: Rule, window: list[float]) -> list[Pattern]:
    outside = all(is_beyond(abs(value), rule.zone) for value in window)
    both = min(window) < 0 < max(window)
    return [("both", list(range(rule.of)))] if len(window) == rule.of and outside and both else []


_PATTERNS: dict[Shape, Callable[[Rule, list[float]], list[Pattern]]] = {
    "beyond": _beyond,
    "trend": _trend,
    "alternating": _alternating,
    "within": _within,
    "outside": _outside,
}
