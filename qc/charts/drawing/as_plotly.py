"""A scene as a plotly figure: a plain dict of lists, words and numbers, for wide screens."""

from collections.abc import Sequence
from typing import Any

from qc.charts.drawing import palette, words
from qc.charts.drawing.scene import (
    Bars,
    Cells,
    Line,
    Look,
    Marks,
    Part,
    Places,
    Scene,
    Values,
    is_drawn,
    nice_step,
    spread,
    ticks,
)
from qc.domain.words.speaking import tongue

Figure = dict[str, Any]
MOST_LABELS = 9  # of periods on one axis, so that no label is turned on its side
STROKES: dict[Look, tuple[str, str, float]] = {
    "line": (palette.MARK, "solid", 2),
    "line-second": (palette.MARK_SECOND, "dot", 2),
    "limit": (palette.MARK_LIMIT, "dash", 1.5),
    "centre": (palette.MARK_LIMIT, "solid", 1.5),
}
SHAPES: dict[Look, tuple[str, str, int]] = {
    "point": (palette.MARK, "circle", 9),
    "point-second": (palette.MARK_SECOND, "square", 9),
    "hollow": (palette.MARK, "circle-open", 12),
    "hollow-second": (palette.MARK_SECOND, "square-open", 12),
    "signal": (palette.MARK_SIGNAL, "diamond", 14),
    "excluded": (palette.INK, "x-thin", 16),
    "tick": (palette.MARK_SECOND, "line-ns-open", 18),
}
FILLS: dict[Look, tuple[str, str]] = {"bar": (palette.MARK, ""), "bar-second": (palette.MARK_SECOND, "/")}
MARGIN = {"l": 84, "r": 112, "t": 16, "b": 56}  # of periods; words at lines' ends stand at the right
LETTERS = 0.065  # height of a line of words as a share of a picture's
ROW, CELL = 40, 30  # heights of one thing and of one row of cells


def figure(scene: Scene) -> Figure:
    """Return the figure; its marks carry the keys of their rows as customdata."""
    in_key = set(scene.ends) | {_short(part.name) for part in scene.parts if isinstance(part, Line) and part.end}
    data = [_trace(scene, part, in_key) for part in scene.parts]
    many = sum(trace.get("showlegend", False) for trace in data) > 1  # one alone needs no legend: the axis names it
    return {"data": data, "layout": _layout(scene) | {"showlegend": many}}


def _trace(scene: Scene, part: Part, in_key: set[str]) -> Figure:
    """Return one part; in_key: names that the legend has already."""
    if isinstance(part, Cells):
        return _cells(scene, part)
    name = _short(part.name)
    shown = bool(name) and name not in in_key and is_drawn(part)
    in_key.update({name} if shown else ())
    if isinstance(part, Line):
        drawn = _line(part)
    else:
        drawn = _marks(scene, part) if isinstance(part, Marks) else _bars(scene, part)
    return {"name": name, "showlegend": shown, **drawn}


def _short(name: str) -> str:
    """Return a key's words up to what explains them."""
    return name.partition(":")[0].partition(" (")[0]


def _line(part: Line) -> Figure:
    colour, dash, width = STROKES[part.look]
    stroke = {"color": colour, "dash": dash, "width": width} | ({"shape": "hvh"} if part.steps else {})
    x, y = zip(*part.points, strict=True) if part.points else ((), ())
    return {"type": "scatter", "mode": "lines", "x": [*x], "y": [*y], "line": stroke, "hoverinfo": "skip"}


def _marks(scene: Scene, part: Marks) -> Figure:
    colour, symbol, size = SHAPES[part.look]
    thick = 4 if part.look == "tick" else 3 if part.look == "excluded" else 2
    written = any(mark.word for mark in part.marks) and not isinstance(scene.y, Places)
    return {
        "type": "scatter",
        "mode": "markers+text" if written else "markers",
        "x": [mark.x for mark in part.marks],
        "y": [mark.y for mark in part.marks],
        "marker": {"color": colour, "symbol": symbol, "size": size, "line": {"color": colour, "width": thick}},
        "cliponaxis": False,
        **({"text": [mark.word for mark in part.marks], "textposition": "middle right"} if written else {}),
        **_answers(part.marks),
    }


def _bars(scene: Scene, part: Bars) -> Figure:
    colour, pattern = FILLS[part.look]
    places, lengths = [bar.place for bar in part.bars], [bar.length for bar in part.bars]
    lying = isinstance(scene.y, Places)
    return {
        "type": "bar",
        **({"orientation": "h", "x": lengths, "y": places} if lying else {"x": places, "y": lengths}),
        "base": [bar.start for bar in part.bars],
        "marker": {
            # What is not over is drawn hollow: an outline of the same colour and no fill.
            "color": [palette.SHEET if bar.hollow else colour for bar in part.bars],
            "line": {"color": colour, "width": 2},
            "pattern": {"shape": pattern, "fgcolor": palette.SHEET, "size": 6} if pattern else {"shape": ""},
        },
        **_answers(part.bars),
    }


def _answers(items: Sequence[Any]) -> Figure:
    """Return what a pointer is told of marks or bars, and whose rows they are."""
    if not any(one.hover for one in items):
        return {"hoverinfo": "skip"}
    lines = ["<br>".join(one.hover) for one in items]
    return {"hovertext": lines, "hoverinfo": "text", "customdata": [one.key for one in items]}


def _cells(scene: Scene, part: Cells) -> Figure:
    """Return a heat map with the counts written in the cells, so that shade is never alone."""
    assert isinstance(scene.x, Places)
    assert isinstance(scene.y, Places)
    return {
        "type": "heatmap",
        "z": [[*row] for row in part.counts],
        "x": [*scene.x.labels],
        "y": [*scene.y.labels],
        "text": [[words.whole(count) if count else "" for count in row] for row in part.counts],
        "texttemplate": "%{text}",
        "textfont": {"size": 15, "color": palette.INK},
        "hovertemplate": f"{scene.y.title} %{{y}}, {scene.x.title} %{{x}}: %{{z}}<extra></extra>",
        # The deepest shade is reached early, so that ten is told from one where the most is a hundred.
        "colorscale": [[0, palette.SHEET], [0.4, palette.MARK_FILL], [1, palette.MARK_FILL]],
        "showscale": False,
        "xgap": 2,
        "ygap": 2,
    }


def _layout(scene: Scene) -> Figure:
    """Return the house's layout around two axes; grounds are clear so that the page's own shows."""
    drawn = {
        "font": {"family": "system-ui, 'Liberation Sans', Arial, sans-serif", "size": 15, "color": palette.INK},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "margin": {"l": 64, "r": 16, "t": 16, "b": 56},
        "hovermode": "closest",
        "hoverlabel": {"bgcolor": palette.SHEET, "bordercolor": palette.INK, "font": {"color": palette.INK}},
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        "barmode": "overlay",
        **({"separators": f"{tongue().decimal}{words.NO_BREAK}"} if tongue().decimal != "." else {}),
        "bargap": 0.3,
        **_shaped(scene),
    }
    return drawn | _noted(scene)


def _shaped(scene: Scene) -> Figure:
    """Return the axes, and the height where that follows from how many things there are."""
    x, y = scene.x, scene.y
    if isinstance(x, Places) and isinstance(y, Places):
        return {
            "xaxis": _axis(x.title, type="category", side="top", showgrid=False),
            "yaxis": _axis(y.title, type="category", autorange="reversed", showgrid=False),
            "height": 140 + CELL * max(1, len(y.labels)),
            "margin": {"l": 64, "r": 16, "t": 72, "b": 16},
        }
    if isinstance(y, Places):
        down = _axis("", type="category", categoryorder="array", categoryarray=[*y.labels], autorange="reversed")
        across = _value_axis(x, ticks(scene.furthest(True))[-1])
        return {"xaxis": across, "yaxis": down, "height": 110 + ROW * max(1, len(y.labels))}
    up = _value_axis(y, scene.top)
    if isinstance(x, Places):
        # The same margins on all pictures of periods, so that a week stands below itself down a page.
        return {"xaxis": _period_axis(x), "yaxis": up | {"automargin": False}, "margin": MARGIN}
    return {"xaxis": _value_axis(x, ticks(scene.furthest(True))[-1]), "yaxis": up, "height": 460}


def _axis(title: str, **more: Any) -> Figure:
    """Return an axis of the house: title, rule, no zero line of its own."""
    return {
        "title": {"text": title, "standoff": 10},
        "showline": True,
        "linecolor": palette.INK,
        "gridcolor": palette.HAIR,
        "zeroline": False,
        "automargin": True,
        "fixedrange": True,
        **more,
    }


def _value_axis(axis: Places | Values, top: float) -> Figure:
    """Return the axis of values with the ticks of the small drawing."""
    assert isinstance(axis, Values)
    percent = {"tickformat": ".0%"} if axis.as_percent else {}
    return _axis(axis.title, range=[0, top], dtick=nice_step(top), **percent)


def _period_axis(axis: Places) -> Figure:
    """Return the axis of periods in the order given: each has its place, as many as fit have their label."""
    labels = [*axis.labels]
    # Labels of two words, as weeks have in German, are longer and need a gap to the next
    most = MOST_LABELS * 2 // 3 if all(len(words.week(one).split()) > 1 for one in labels) else MOST_LABELS
    every = -(-len(labels) // most) or 1
    shown = labels[::-1][::every][::-1]
    ends = {"tickmode": "array", "tickvals": shown, "ticktext": [words.week(one) for one in shown], "tickangle": 0}
    return _axis(axis.title, type="category", categoryorder="array", categoryarray=labels, **ends)


def _noted(scene: Scene) -> Figure:
    """Return the notes' lines with their letters, and the words at the lines' ends."""
    stroke = {"color": palette.INK, "width": 2, "dash": "dot"}
    across = {"type": "line", "xref": "x", "yref": "paper", "y0": 0, "y1": 1, "line": stroke}
    plain = {"showarrow": False, "xanchor": "left", "font": {"color": palette.INK}}
    letters = [
        plain
        | {"xref": "x", "x": note.place, "yref": "paper", "y": 1, "yanchor": "top", "text": f"<b>{note.letter}</b>"}
        | ({"hovertext": "<br>".join(note.hover)} if note.hover else {})
        for note in scene.notes
    ]
    ends = [
        plain | {"xref": "paper", "x": 1.01, "y": height, "text": "<br>".join(lines), "align": "left"}
        for lines, height in spread(scene.ends, LETTERS * scene.top, scene.top)
    ]
    shapes = [{**across, "x0": note.place, "x1": note.place} for note in scene.notes]
    return {key: value for key, value in (("shapes", shapes), ("annotations", letters + ends)) if value}
