"""The place where a small drawing puts its numbers: margins, scales, ticks and axes."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from qc.charts.drawing import svg, words
from qc.charts.drawing.scene import Places, Scene, Spot, Values, ticks
from qc.domain.words.speaking import say

WIDTH, HEIGHT = 360.0, 240.0
LEFT, TOP, BOTTOM = 46.0, 12.0, 40.0
RIGHT, RIGHT_OF_WORDS = 80.0, 46.0  # of lines' ends, the same on all pictures of periods; of words beside marks
LETTERS = 13.0  # height of a line of words
GAP = 10.0  # between labels that a blank holds together, wider than that blank
HALF_LETTER = 4.0  # of the drawing's type, so that the last period's label stays inside


@dataclass(frozen=True, slots=True)
class Frame:
    """Periods or values from left to right, values from 0 upwards. top, across: where the values end."""

    x_axis: Places | Values
    y_axis: Values
    top: float
    across: float

    @classmethod
    def of(cls, scene: Scene) -> "Frame":
        """Return a frame that holds all values, with ticks up to round numbers."""
        assert isinstance(scene.y, Values)
        return cls(scene.x, scene.y, scene.top, ticks(scene.furthest(True))[-1])

    @property
    def right(self) -> float:
        """Return where the axis across ends."""
        return WIDTH - (RIGHT if isinstance(self.x_axis, Places) else RIGHT_OF_WORDS)

    @property
    def slot(self) -> float:
        """Return the width of one period, or of nothing in particular where values run across."""
        return (self.right - LEFT) / max(1, len(self.x_axis.labels) if isinstance(self.x_axis, Places) else 24)

    @property
    def radius(self) -> float:
        """Return how large a mark is, so that those of many periods stay apart."""
        return min(3.5, max(2.0, self.slot / 3))

    def x(self, spot: Spot) -> float:
        """Return where a value stands across, or the middle of a period."""
        if isinstance(self.x_axis, Values):
            return LEFT + (self.right - LEFT) * float(spot) / self.across
        return LEFT + self.slot * (self.x_axis.labels.index(str(spot)) + 0.5)

    def y(self, value: Spot) -> float:
        """Return the height of a value; one above the top stands there."""
        return TOP + (HEIGHT - TOP - BOTTOM) * (1 - min(float(value), self.top) / self.top)

    def at(self, x: Spot, y: Spot) -> tuple[float, float]:
        """Return where a point stands."""
        return self.x(x), self.y(y)

    def step(self, x: Spot, y: Spot) -> list[tuple[float, float]]:
        """Return both ends of a period's own level."""
        middle, height = self.at(x, y)
        return [(middle - self.slot / 2, height), (middle + self.slot / 2, height)]

    def axes(self) -> Iterator[str]:
        """Yield grid, value labels, labels across (as many as fit) and what either axis has."""
        base = HEIGHT - BOTTOM
        for tick in ticks(self.top):
            yield svg.line(LEFT, self.y(tick), self.right, self.y(tick), "grid")
            yield svg.text(LEFT - 6, self.y(tick) + 4, _written(self.y_axis, tick), "end")
        if isinstance(self.x_axis, Values):
            yield from (svg.text(self.x(tick), base + 16, _written(self.x_axis, tick), "mid") for tick in self._across)
            across, up = (axis.short or axis.title for axis in (self.x_axis, self.y_axis))
            axes = say("across: {across}; up: {up}", across=across, up=up)
        else:
            yield from self._periods(self.x_axis.labels, base)
            axes = say("{values} by {periods}", values=self.y_axis.title, periods=self.x_axis.title)
        yield svg.line(LEFT, base, self.right, base, "axis")
        yield svg.text(LEFT, HEIGHT - 6, axes, "quiet")

    @property
    def _across(self) -> tuple[float, ...]:
        return ticks(self.across)

    def _periods(self, labels: tuple[str, ...], base: float) -> Iterator[str]:
        shorts = [words.week(label) for label in labels]
        widest = max(map(len, shorts), default=0)
        apart = GAP if any(words.NO_BREAK in short for short in shorts) else 0.0
        every = max(1, ceil(len(labels) * max(34, 2 * HALF_LETTER * widest + apart) / (self.right - LEFT)))
        for label in labels[::-1][::every][::-1]:
            short = words.week(label)
            yield svg.text(self.x(label), base + 16, short, "mid")


def _written(axis: Values, tick: float) -> str:
    return f"{tick * 100:.0f}%" if axis.as_percent else words.decimal(tick)
