"""What a picture shows, told once: two axes, and the parts between them from the lowest to the uppermost.

Two drawers read it: `drawing` for the page itself, a phone and a print, `plotly` for wide screens.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

# How a part looks: a colour, a shape and a dash together, so that hue never speaks alone. A drawing has it as a class.
Look = Literal[
    "line", "line-second", "limit", "centre", "point", "point-second", "hollow", "hollow-second", "signal", "excluded",
    "bar", "bar-second", "tick", "cell",
]  # fmt: skip
Spot = str | float  # on an axis: a place by its label, or a value
Point = tuple[Spot | None, Spot | None]  # across and up; None: there is none
Told = tuple[str, ...]  # what a pointer or a screen reader gets, line by line


@dataclass(frozen=True, slots=True)
class Places:
    """An axis of places in order: periods from left to right, things from top to bottom; title: what they are."""

    title: str
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Values:
    """An axis of values from 0 up; top: where it ends, None for a round number that holds all of them."""

    title: str
    as_percent: bool = False
    top: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark; x None: there is no value to mark. word: beside it; key: the row of the table that it stands for."""

    x: Spot | None
    y: Spot
    told: Told
    word: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar from ``start`` on, upright where places run from left to right, else lying; hollow: not over yet."""

    place: str
    start: float
    length: float
    told: Told
    word: str = ""
    key: str = ""
    hollow: bool = False


@dataclass(frozen=True, slots=True)
class Marks:
    """Marks of one look; name: what they are, "" for none of its own."""

    look: Look
    name: str
    marks: tuple[Mark, ...]

    @property
    def spots(self) -> Iterator[Point]:
        """Return where its marks stand."""
        return ((mark.x, mark.y) for mark in self.marks)


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars of one look."""

    look: Look
    name: str
    bars: tuple[Bar, ...]

    @property
    def spots(self) -> Iterator[Point]:
        """Return how far its bars reach, on whichever axis has values."""
        return ((bar.start + bar.length,) * 2 for bar in self.bars)


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points, broken where one is None; steps: each place keeps its own level over its whole width."""

    look: Look
    name: str
    points: tuple[Point, ...]
    steps: bool = False

    @property
    def spots(self) -> Iterator[Point]:
        """Return where it goes; nowhere, where it has no value at all."""
        return (point for point in self.points if None not in point)


@dataclass(frozen=True, slots=True)
class Cells:
    """Counts in the cells of two axes of places: rows by columns."""

    counts: tuple[tuple[int, ...], ...]
    look: Look = "cell"
    name: str = ""

    @property
    def spots(self) -> Iterator[Point]:
        """Return nothing: a cell fills its place."""
        return iter(())


Part = Marks | Bars | Line | Cells


@dataclass(frozen=True, slots=True)
class Note:
    """An upright line at a place with a letter that is explained beside the picture."""

    place: str
    letter: str


@dataclass(frozen=True, slots=True)
class Key:
    """One entry of a drawing's key: what its mark looks like and the word for it."""

    mark: Look
    word: str


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that is drawn, x across and y up (or down, where y has places)."""

    x: Places | Values
    y: Places | Values
    parts: tuple[Part, ...]
    notes: tuple[Note, ...] = ()

    @property
    def keys(self) -> tuple[Key, ...]:
        """Return the key: each name that something is drawn of, lines after what stands on them."""
        named: dict[str, Look] = {}
        for part in sorted(self.parts, key=lambda part: isinstance(part, Line)):
            if part.name and is_drawn(part):
                named.setdefault(part.name, part.look)
        return tuple(Key(look, name) for name, look in named.items())

    def furthest(self, across: bool) -> float:
        """Return the highest value that anything reaches across, or up; 0 where nothing has one."""
        values = (spot[0 if across else 1] for part in self.parts for spot in part.spots)
        return max((value for value in values if isinstance(value, (int, float))), default=0.0)


def is_drawn(part: Part) -> bool:
    """Return whether anything of a part is seen."""
    return any(None not in spot for spot in part.spots)
