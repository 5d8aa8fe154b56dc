"""What a picture shows, told once: two axes, and the parts between them from the lowest to the uppermost.

Two drawers read it: `drawing` for the page itself, a phone and a print, `plotly` for wide screens.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor, log10
from textwrap import wrap
from typing import Literal

from qc.domain.words.speaking import marked

WEEKS = marked("ISO week")  # what an axis of weeks is called
LONGEST_END = 12  # characters of one line of words at a line's end

# How a part looks: a colour, a shape and a dash together, so that hue never speaks alone. A drawing has it as a class.
Look = Literal[
    "line", "line-second", "limit", "centre", "point", "point-second", "hollow", "hollow-second", "signal", "excluded",
    "bar", "bar-second", "tick", "cell",
]  # fmt: skip
Spot = str | float  # on an axis: a place by its label, or a value
Point = tuple[Spot | None, Spot | None]  # across and up; None: there is none
Hover = tuple[str, ...]  # what a pointer or a screen reader gets, line by line


@dataclass(frozen=True, slots=True)
class Places:
    """An axis of places in order: periods from left to right, things from top to bottom; title: what they are."""

    title: str
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Values:
    """An axis of values from 0 up; top: where it ends, None for a round number that holds all of them.

    short: the title where there is little room, "" for the title.
    """

    title: str
    as_percent: bool = False
    top: float | None = None
    short: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark; x None: there is no value to mark. word: beside it; key: the row of the table that it stands for."""

    x: Spot | None
    y: Spot
    hover: Hover
    word: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar from ``start`` on, upright where places run from left to right, else lying; hollow: not over yet."""

    place: str
    start: float
    length: float
    hover: Hover
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
    """A line through points, broken where one is None; steps: each place keeps its own level over its whole width.

    end: the words at its end, which stand there instead of a key.
    """

    look: Look
    name: str
    points: tuple[Point, ...]
    steps: bool = False
    end: str = ""

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
    """An upright line at a place with a letter that is explained beside the picture, and to a pointer by ``hover``."""

    place: str
    letter: str
    hover: Hover = ()


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
        """Return the key: each name of something drawn that stands at no line's end; lines come last."""
        named: dict[str, Look] = {}
        ends = self.ends
        for part in sorted(self.parts, key=lambda part: isinstance(part, Line)):
            if part.name and part.name not in ends and is_drawn(part):
                named.setdefault(part.name, part.look)
        return tuple(Key(look, name) for name, look in named.items())

    @property
    def ends(self) -> dict[str, float]:
        """Return the words at the lines' ends with the value where each line ends; of equal words the highest."""
        found: dict[str, float] = {}
        for part in self.parts:
            values = [value for _, value in part.spots if isinstance(value, (int, float))]
            if isinstance(part, Line) and part.end and values:
                found[part.end] = max(found.get(part.end, 0.0), values[-1])
        return found

    @property
    def top(self) -> float:
        """Return where the values upwards end: at a round number that holds all of them, unless it is given."""
        given = self.y.top if isinstance(self.y, Values) else None
        return given or ticks(self.furthest(False))[-1]

    def furthest(self, across: bool) -> float:
        """Return the highest value that anything reaches across, or up; 0 where nothing has one."""
        values = (spot[0 if across else 1] for part in self.parts for spot in part.spots)
        return max((value for value in values if isinstance(value, (int, float))), default=0.0)


def nice_step(top: float, parts: int = 4) -> float:
    """Return the step of 1, 2 or 5 times a power of ten that gives at least about ``parts`` ticks up to top."""
    if top <= 0:
        return 1.0
    raw = top / parts
    power = 10.0 ** floor(log10(raw))
    return next((factor * power for factor in (1, 2, 5) if raw <= factor * power), 10 * power)


def ticks(top: float) -> tuple[float, ...]:
    """Return the ticks from 0 to the first one at or above top; 0 and 1 where there is nothing above 0."""
    step = nice_step(top)
    return tuple(step * place for place in range(max(1, ceil(round(top / step, 9))) + 1))


def spread(ends: dict[str, float], line: float, top: float) -> list[tuple[list[str], float]]:
    """Return words at lines' ends, folded, with the heights of their middles, apart by their lines of height ``line``.

    They stand in the order of their values; what would leave the top pushes the others down.
    """
    ordered = sorted((value, word) for word, value in ends.items())
    folded = [(wrap(word, LONGEST_END), value) for value, word in ordered]
    heights: list[float] = []
    for (lines, value), below in zip(folded, [([], 0.0), *folded], strict=False):
        apart = line * (len(lines) + len(below[0])) / 2
        heights.append(max(value, heights[-1] + apart) if heights else value)
    limit = top
    for place in range(len(heights) - 1, -1, -1):
        heights[place] = min(heights[place], limit)
        limit = heights[place] - line * (len(folded[place][0]) + len(folded[place - 1][0])) / 2
    return [(lines, height) for (lines, _), height in zip(folded, heights, strict=True)]


def is_drawn(part: Part) -> bool:
    """Return whether anything of a part is seen."""
    return any(None not in spot for spot in part.spots)
