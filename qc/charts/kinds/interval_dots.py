"""Shares or rates of several things as dots with their intervals, on one scale, in the order given."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from qc.charts.drawing import palette, svg, words
from qc.charts.drawing.frame import ticks
from qc.charts.drawing.picture import Figure, axis, layout

WIDE = 360.0
ROW = 40.0


@dataclass(frozen=True, slots=True)
class Dot:
    """One thing: label, value with its interval (all three None: too little to say), and its words."""

    label: str
    value: float | None
    low: float | None
    high: float | None
    told: str


def dots_figure(dots: Sequence[Dot], value_words: str, *, as_percent: bool) -> Figure:
    """Return the dots with error bars; things without a value keep their line and are empty."""
    data = [
        {
            "type": "scatter",
            "mode": "markers",
            "name": value_words,
            "x": [dot.value for dot in dots],
            "y": [dot.label for dot in dots],
            "error_x": {
                "type": "data",
                "symmetric": False,
                "array": [_gap(dot.high, dot.value) for dot in dots],
                "arrayminus": [_gap(dot.value, dot.low) for dot in dots],
                "color": palette.MARK,
                "thickness": 2,
                "width": 8,
            },
            "text": [dot.told for dot in dots],
            "hoverinfo": "text",
            "marker": {"symbol": "circle", "size": 12, "color": palette.MARK},
            "showlegend": False,
        }
    ]
    more = {"tickformat": ".0%"} if as_percent else {}
    x = axis(value_words, rangemode="tozero", **more)
    return {
        "data": data,
        "layout": layout(x, axis("", type="category", autorange="reversed"), height=110 + 44 * max(1, len(dots))),
    }


def _gap(upper: float | None, lower: float | None) -> float:
    return 0.0 if upper is None or lower is None else max(0.0, upper - lower)


def dots_drawing(id_: str, title: str, says: str, dots: Sequence[Dot], write: Callable[[float | None], str]) -> str:
    """Return the small drawing: label and value above, dot and interval below."""
    top = ticks(max((dot.high or dot.value or 0.0 for dot in dots), default=0.0))[-1] or 1.0
    parts = [part for place, dot in enumerate(dots) for part in _drawn(place, dot, (WIDE - 24) / top, write)]
    return svg.drawing(id_, WIDE, ROW * max(1, len(dots)) + 4, title, says, *parts)


def _drawn(place: int, dot: Dot, scale: float, write: Callable[[float | None], str]) -> tuple[str, ...]:
    y = ROW * place
    if dot.value is None:
        return (svg.text(0, y + 13, f"{dot.label}: too little to say"),)
    centre = 8 + dot.value * scale
    interval = (
        ""
        if dot.low is None or dot.high is None
        else svg.line(8 + dot.low * scale, y + 26, 8 + dot.high * scale, y + 26, "line")
    )
    return (
        svg.text(0, y + 13, f"{dot.label}: {write(dot.value)}"),
        interval,
        svg.dot(centre, y + 26, 5, "point", dot.told),
    )


def interval_words(low: float | None, high: float | None, write: Callable[[float | None], str]) -> str:
    """Return an interval in words, "too little to say" where there is none."""
    if low is None or high is None:
        return "too little to say"
    return f"{write(low)} {words.DASH} {write(high)}"
