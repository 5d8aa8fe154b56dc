"""Counts by two things at once: rows by columns, the number in each cell, a darker ground for more."""

from collections.abc import Sequence

from qc.charts.drawing import palette, svg, words
from qc.charts.drawing.picture import Figure, axis, layout

WIDE = 360.0
ROW = 26.0
LEFT = 64.0


def matrix_figure(
    rows: Sequence[str], columns: Sequence[str], counts: Sequence[Sequence[int]], row_words: str, column_words: str
) -> Figure:
    """Return a heat map with the counts written in the cells, so that shade is never alone."""
    data = [
        {
            "type": "heatmap",
            "z": [list(line) for line in counts],
            "x": list(columns),
            "y": list(rows),
            "text": [[words.whole(cell) if cell else "" for cell in line] for line in counts],
            "texttemplate": "%{text}",
            "textfont": {"size": 15, "color": palette.INK},
            "hovertemplate": f"{row_words} %{{y}}, {column_words} %{{x}}: %{{z}}<extra></extra>",
            # The deepest shade is reached early, so that ten is told from one where the most is a hundred.
            "colorscale": [[0, palette.SHEET], [0.4, palette.MARK_FILL], [1, palette.MARK_FILL]],
            "showscale": False,
            "xgap": 2,
            "ygap": 2,
        }
    ]
    return {
        "data": data,
        "layout": layout(
            axis(column_words, type="category", side="top", showgrid=False),
            axis(row_words, type="category", autorange="reversed", showgrid=False),
            height=140 + 30 * max(1, len(rows)),
            margin={"l": 64, "r": 16, "t": 72, "b": 16},
        ),
    }


def matrix_drawing(
    id_: str, title: str, says: str, rows: Sequence[str], columns: Sequence[str], counts: Sequence[Sequence[int]]
) -> str:
    """Return the small drawing: a square in each cell whose side grows with the root of the count, and the count."""
    wide = (WIDE - LEFT) / max(1, len(columns))
    most = max((cell for line in counts for cell in line), default=0) or 1
    heads = [svg.text(LEFT + wide * (place + 0.5), 16, head, "mid") for place, head in enumerate(columns)]
    body = [
        part
        for down, (name, line) in enumerate(zip(rows, counts, strict=True))
        for part in (svg.text(0, 42 + ROW * down, name), *_line(down, line, wide, most))
    ]
    return svg.drawing(id_, WIDE, 32 + ROW * max(1, len(rows)), title, says, *heads, *body)


def _line(down: int, line: Sequence[int], wide: float, most: int) -> list[str]:
    parts = []
    for across, count in enumerate(line):
        if not count:
            continue
        side = 8 + 14 * (count / most) ** 0.5
        x, y = LEFT + wide * (across + 0.5), 37 + ROW * down
        parts += [
            svg.rect(x - side / 2 - wide / 5, y - side / 2, side, side, "cell"),
            svg.text(x + wide / 5, y + 5, words.whole(count), "mid"),
        ]
    return parts
