"""Things in order of size, as lying bars, each with a tick for what a longer time would lead one to expect."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from qc.charts.drawing import palette, svg, words
from qc.charts.drawing.frame import ticks
from qc.charts.drawing.picture import Figure, Key, axis, layout


@dataclass(frozen=True, slots=True)
class Bar:
    """One thing: its label, its value, the expected value beside it (None: nothing to compare with), and its words."""

    label: str
    value: float
    expected: float | None
    told: str


def bars_figure(bars: Sequence[Bar], value_words: str, expected_words: str) -> Figure:
    """Return lying bars, the greatest on top, and ticks for what was expected."""
    labels = [bar.label for bar in bars]
    data = [
        {
            "type": "bar",
            "orientation": "h",
            "name": value_words,
            "x": [bar.value for bar in bars],
            "y": labels,
            "text": [bar.told for bar in bars],
            "textposition": "none",
            "hoverinfo": "text",
            "marker": {"color": palette.MARK, "line": {"color": palette.MARK, "width": 1}},
        },
        {
            "type": "scatter",
            "mode": "markers",
            "name": expected_words,
            "x": [bar.expected for bar in bars],
            "y": labels,
            "hoverinfo": "skip",
            "marker": {
                "symbol": "line-ns-open",
                "size": 18,
                "color": palette.MARK_SECOND,
                "line": {"width": 4, "color": palette.MARK_SECOND},
            },
        },
    ]
    y = axis("", type="category", autorange="reversed")
    return {
        "data": data,
        "layout": layout(axis(value_words, rangemode="tozero"), y, bargap=0.35, height=110 + 34 * max(1, len(bars))),
    }


ROW = 40.0
WIDE = 360.0


def bars_drawing(
    id_: str, title: str, says: str, bars: Sequence[Bar], write: Callable[[float], str] = words.whole
) -> str:
    """Return the small drawing: the label above its bar, the value at its end, the expected as an upright tick."""
    top = max((max(bar.value, bar.expected or 0) for bar in bars), default=0.0)
    scale = (WIDE - 70) / (ticks(top)[-1] or 1)
    parts = [part for place, bar in enumerate(bars) for part in _drawn(place, bar, scale, write)]
    return svg.drawing(id_, WIDE, ROW * max(1, len(bars)) + 4, title, says, *parts)


def _drawn(place: int, bar: Bar, scale: float, write: Callable[[float], str]) -> tuple[str, ...]:
    y = ROW * place
    end = bar.value * scale
    expected = "" if bar.expected is None else _tick(bar.expected * scale, y + 17)
    return (
        svg.text(0, y + 13, bar.label),
        svg.group(bar.told, svg.rect(0, y + 18, end, 14, "bar")),
        expected,
        svg.text(max(end, (bar.expected or 0) * scale) + 8, y + 30, write(bar.value), "strong"),
    )


def _tick(x: float, y: float) -> str:
    return svg.line(x, y - 1, x, y + 17, "tick")


def bar_keys(value_words: str, expected_words: str) -> tuple[Key, ...]:
    """Return what the drawing's marks mean."""
    return (Key("bar", value_words), Key("tick", expected_words))
