"""Drawings of some weeks the height of two lines, beside a sentence: no words, no figures, the section has those.

All have the same week axis, one slot a week with the newest at the right, so that a change lines up from one to the
next. They are hidden from a reader: the sentence beside says what they show.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.charts.drawing import svg

WEEKS = 26
SLOT, HEIGHT, PAD = 10.0, 52.0, 5.0
WIDTH = WEEKS * SLOT
Box = tuple[float, float, float, float]  # left, top, width, height


@dataclass(frozen=True, slots=True)
class SparkWeek:
    """One week: its value (None: nothing to tell), its usual range (None: none), whether a rule speaks or it is not
    over. part: what of the value is drawn solid on bars."""

    value: float | None
    lower: float | None = None
    upper: float | None = None
    signal: bool = False
    partial: bool = False
    part: float = 0.0


def spark_line(weeks: Sequence[SparkWeek]) -> str:
    """Return the values as a line over the band of what is usual; a signal is a diamond, a week not over hollow.

    The line uses its height in full, so it shows the moves; bars begin at nought, so they show the size.
    """
    shown = _slots(weeks)
    values = [value for _, week in shown for value in (week.value, week.lower, week.upper) if value is not None]
    low, high = min(values, default=0.0), max(values, default=1.0)

    def height(value: float) -> float:
        return PAD + (HEIGHT - 2 * PAD) * (1 - (value - low) / ((high - low) or 1.0))

    runs: list[list[tuple[float, float]]] = [[]]
    marks = []
    for place, week in shown:
        if week.value is None:
            runs.append([])
            continue
        at = _x(place), height(week.value)
        if week.partial:
            marks.append(svg.dot(*at, 3, "hollow"))
            continue
        runs[-1].append(at)
        if week.signal:
            marks.append(svg.diamond(*at, 4.5, "signal"))
    last = [svg.dot(*run[-1], 3, "point") for run in runs[-1:] if run and not (weeks[-1].signal or weeks[-1].partial)]
    band = [
        svg.rect(
            _x(place) - SLOT / 2, height(week.upper), SLOT, height(week.lower or low) - height(week.upper), "usual"
        )
        for place, week in shown
        if week.upper is not None
    ]
    return _drawing(*band, *(svg.path(run, "line") for run in runs), *last, *marks)


def spark_bars(weeks: Sequence[SparkWeek], limit: float | None = None) -> str:
    """Return a bar a week, its part solid and the rest light; a week not over is hollow. limit: a line across."""
    shown = _slots(weeks)
    top = max([limit or 0.0, *(week.value or 0.0 for _, week in shown)]) or 1.0
    bars: dict[str, list[Box]] = {"bar-light": [], "bar-hollow": [], "bar": []}
    for place, week in shown:
        if not week.value:
            continue
        left, wide = _x(place) - SLOT / 2 + 1, SLOT - 2
        head, solid = _y(week.value, top), _y(week.part, top)
        bars["bar-hollow" if week.partial else "bar-light"].append((left, head, wide, _y(0, top) - head))
        if week.part:
            bars["bar-hollow" if week.partial else "bar"].append((left, solid, wide, _y(0, top) - solid))
    drawn = [(boxes, looks) for looks, boxes in bars.items()]
    across = [] if limit is None else [svg.line(0, _y(limit, top), WIDTH, _y(limit, top), "limit")]
    return _drawing(svg.line(0, HEIGHT - PAD, WIDTH, HEIGHT - PAD, "ground"), *(_boxes(*one) for one in drawn), *across)


def _boxes(boxes: Sequence[Box], class_: str) -> str:
    """Return boxes of one look as one path, "" for none: a page has hundreds of them."""
    if not boxes:
        return ""
    steps = "".join(f"M{x:.4g} {y:.4g}h{wide:.4g}v{high:.4g}h{-wide:.4g}z" for x, y, wide, high in boxes)
    return svg.element("path", {"class_": class_, "d": steps})


def _slots(weeks: Sequence[SparkWeek]) -> list[tuple[int, SparkWeek]]:
    """Return the latest weeks with their slots, counted from the right."""
    kept = weeks[-WEEKS:]
    return list(enumerate(kept, start=WEEKS - len(kept)))


def _x(place: int) -> float:
    return (place + 0.5) * SLOT


def _y(value: float, top: float) -> float:
    return PAD + (HEIGHT - 2 * PAD) * (1 - value / top)


def _drawing(*parts: str) -> str:
    head = {"class_": "spark", "viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}", "aria_hidden": "true", "focusable": "false"}
    return svg.element("svg", head, *parts)
