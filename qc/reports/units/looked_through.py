"""A file that was looked through: what taking it would do, row by row, before anything is taken."""

import hashlib
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from qc.domain.words.speaking import say, say_many
from qc.reports.wording import listed


class Row(Protocol):
    """What a row of a file would do; the members as in PlanLine and PassedLine."""

    @property
    def row(self) -> int: ...
    @property
    def unit(self) -> str: ...
    @property
    def outcome(self) -> str: ...
    @property
    def words(self) -> str: ...
    @property
    def kind(self) -> str: ...


Line = TypeVar("Line", bound=Row)


@dataclass(frozen=True, slots=True)
class LookedThrough(Generic[Line]):
    """lines: every row of the file in order. notes: how the file was read where that was not plain, in words."""

    lines: tuple[Line, ...]
    notes: tuple[str, ...]

    def of(self, outcome: str) -> tuple[Line, ...]:
        """Return the rows that come to an outcome, in order."""
        return tuple(line for line in self.lines if line.outcome == outcome)

    @property
    def doing(self) -> tuple[Line, ...]:
        """The rows that would make an operation."""
        return tuple(line for line in self.lines if line.kind)

    @property
    def mark(self) -> str:
        """A digest of what was shown: what is taken later is this, or it is shown again."""
        told = "\n".join(f"{line.row} {line.unit} {line.outcome} {line.words}" for line in self.lines)
        return hashlib.sha256(told.encode()).hexdigest()


def rows_and(rows: int, told: list[str]) -> str:
    """Return how many rows a file has and what they come to."""
    if not told:
        return say("no row")
    return say_many("{number} row: {told}", "{number} rows: {told}", rows, told=listed(told))
