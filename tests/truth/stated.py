"""An interval as a page states it, and how many of them hold the truth: the table's own arithmetic."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, log

LEVEL = 0.95
ALLOWED = 0.01  # below the stated level


@dataclass(frozen=True, slots=True)
class Stated:
    """An interval as stated in one seed. key: of what; seen: the estimate, whose mean over all seeds is the truth.

    held: whether it holds a truth that the seed itself knows, None where all seeds together tell it. weight: what
    ``seen`` is counted on; scale: by which the truth is divided before it is compared (defects expected by the seed).
    on_logs: ``seen`` is a ratio, averaged on the log scale. level: what the page says of it.
    """

    page: str
    key: str
    low: float
    high: float
    seen: float = 0.0
    weight: float = 1.0
    scale: float = 1.0
    on_logs: bool = False
    held: bool | None = None
    weeks: tuple[int, int] | None = None
    level: float = LEVEL


@dataclass(frozen=True, slots=True)
class Seen:
    """A week of a watched sum in one seed, whose means over all seeds are the truth of a signal's ratio."""

    series: str
    week: int
    defects: int
    expected: float


@dataclass(frozen=True, slots=True)
class Held:
    """One line of the table: of so many intervals so many held the truth."""

    page: str
    held: int
    intervals: int
    level: float = LEVEL

    @property
    def share(self) -> float:
        """Return the share that held."""
        return self.held / self.intervals

    @property
    def is_reached(self) -> bool:
        """Return whether that is no less than the stated level allows."""
        return self.share >= self.level - ALLOWED

    def line(self) -> str:
        """Return the row of the table."""
        state = "holds" if self.is_reached else "TOO FEW"
        return f"| {self.page} | {self.level:.4g} | {self.share:.3f} | {self.intervals} | {state} |"


HEAD = "| Interval | Stated | Held | Intervals | |\n|---|---|---|---|---|"


def counted(seeds: Iterable[Sequence[Stated | Seen]]) -> list[Held]:
    """Return how many of the intervals of all seeds hold the truth, by page."""
    given = [one for seed in seeds for one in seed]
    every = [one for one in given if isinstance(one, Stated)]
    weeks: dict[tuple[str, int], list[float]] = defaultdict(lambda: [0.0, 0.0])
    for week in given:
        if isinstance(week, Seen):
            weeks[week.series, week.week][0] += week.defects
            weeks[week.series, week.week][1] += week.expected
    sums: dict[tuple[str, str], list[float]] = defaultdict(lambda: [0.0, 0.0])
    for one in every:
        if one.held is None and one.weeks is None:
            told = log(one.seen) if one.on_logs else one.seen
            sums[one.page, one.key][0] += told * one.weight
            sums[one.page, one.key][1] += one.weight
    hits: dict[str, list[bool]] = defaultdict(list)
    levels = {one.page: one.level for one in every}
    for one in every:
        held = one.held
        if one.weeks is not None:
            own = [weeks[one.key, week] for week in range(*one.weeks)]
            truth = sum(defects for defects, _ in own) / sum(expected_ for _, expected_ in own)
            held = one.low <= truth <= one.high
        elif held is None:
            total, weight = sums[one.page, one.key]
            truth = exp(total / weight) if one.on_logs else total / weight / one.scale
            held = one.low <= truth <= one.high
        hits[one.page].append(bool(held))
    return [Held(page, sum(held), len(held), levels[page]) for page, held in hits.items()]
