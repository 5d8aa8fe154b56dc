"""The place where a small drawing puts its numbers: margins, scales, ticks and axes."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from qc.charts.drawing import svg

WIDTH, HEIGHT = 360.0, 240.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 10.0, 12.0, 40.0
HALF_LETTER = 4.0  # of the drawing's type, so that the last period's label stays inside


def nice_step(top: float, parts: int = 4) -> float:
    """Return the step of 1, 2 or 5 times a power of ten that gives at least about ``parts`` ticks up to top."""
    if top <= 0:
        return 1.0
    raw = top / parts
    power = 10.0 ** floor(log10(raw))
    return next((factor * power for factor in (1, 2, 5) if raw <= factor * power), 10 * power)


def ticks(top: float) -> tuple[float, ...]:
    """Return the ticks from 0 to the first one at or above top."""
    step = nice_step(top)
    return tuple(step * place for place in range(ceil(round(top / step, 9)) + 1)) or (0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Frame:
    """Periods from left to right, values from 0 upwards to top."""

    labels: tuple[str, ...]
    top: float
    height: float = HEIGHT

    @property
    def slot(self) -> float:
        """Return the width of one period."""
        return (WIDTH - LEFT - RIGHT) / max(1, len(self.labels))

    def x(self, place: float) -> float:
        """Return the middle of the period at ``place`` (0 for the first)."""
        return LEFT + self.slot * (place + 0.5)

    def y(self, value: float) -> float:
        """Return the height of a value."""
        span = self.height - TOP - BOTTOM
        return TOP + span * (1 - min(value, self.top) / self.top)

    def steps(self, values: Sequence[float | None]) -> list[list[tuple[float, float]]]:
        """Return the values as stairs, one run for each stretch without a gap."""
        runs: list[list[tuple[float, float]]] = [[]]
        for place, value in enumerate(values):
            if value is None:
                runs.append([])
                continue
            left = LEFT + self.slot * place
            runs[-1] += [(left, self.y(value)), (left + self.slot, self.y(value))]
        return [run for run in runs if run]

    def axes(self, write: Callable[[float], str], short: Callable[[str], str], y_title: str) -> tuple[str, ...]:
        """Return grid, value labels, period labels (as many as fit) and what the values are."""
        lines = [svg.line(LEFT, self.y(tick), WIDTH - RIGHT, self.y(tick), "grid") for tick in ticks(self.top)]
        values = [svg.text(LEFT - 6, self.y(tick) + 4, write(tick), "end") for tick in ticks(self.top)]
        base = self.height - BOTTOM
        widest = max((len(short(label)) for label in self.labels), default=0)
        every = max(1, ceil(len(self.labels) * max(34, 2 * HALF_LETTER * widest) / (WIDTH - LEFT - RIGHT)))
        last = len(self.labels) - 1
        periods = [
            svg.text(min(self.x(place), WIDTH - HALF_LETTER * len(short(label))), base + 16, short(label), "mid")
            for place, label in enumerate(self.labels)
            if (last - place) % every == 0
        ]
        return (
            *lines,
            *values,
            *periods,
            svg.line(LEFT, base, WIDTH - RIGHT, base, "axis"),
            svg.text(LEFT, self.height - 6, y_title, "quiet"),
        )


def frame_for(labels: Sequence[str], values: Sequence[float | None], height: float = HEIGHT) -> Frame:
    """Return a frame that holds all values, with ticks up to a round number."""
    top = max((value for value in values if value is not None), default=0.0)
    return Frame(tuple(labels), ticks(top)[-1] if top > 0 else 1.0, height)
