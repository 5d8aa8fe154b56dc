"""A picture as a page needs it: a plain sentence, the table first, the figure as a plain dict, the small drawing."""

from dataclasses import dataclass, field
from typing import Any

from qc.charts.drawing import palette, words
from qc.charts.drawing.table import Table

Figure = dict[str, Any]
MOST_LABELS = 9  # of weeks on one axis, so that no label is turned on its side


@dataclass(frozen=True, slots=True)
class Key:
    """One entry of a drawing's key: what its mark looks like and the word for it."""

    mark: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One chart with everything that stands in for it.

    id: stable, of letters and dashes, unique on a page. says: what it shows, in one or two sentences.
    basis: period, n and denominator. table: its numbers as rows. figure: for plotly, as a plain dict of lists,
    strings and numbers. svg: the same on a small drawing. keys: what the drawing's marks mean.
    cautions: what a reader must know before believing it. notes: what changed in its weeks, each with its letter.
    method: how its limits were made: why they are of their kind first, the rest for who wants to know.
    """

    id: str
    title: str
    says: str
    basis: str
    table: Table
    figure: Figure
    svg: str
    keys: tuple[Key, ...] = ()
    cautions: tuple[str, ...] = field(default=())
    notes: tuple[str, ...] = field(default=())
    method: tuple[str, ...] = field(default=())


def axis(title: str, **more: Any) -> Figure:
    """Return an axis of the house: title, rule, no zero line of its own."""
    return {
        "title": {"text": title},
        "showline": True,
        "linecolor": palette.INK,
        "gridcolor": palette.HAIR,
        "zeroline": False,
        "automargin": True,
        "fixedrange": True,
        **more,
    }


def week_axis(title: str, weeks: list[str]) -> Figure:
    """Return the axis of ISO weeks in the order given: each has its place, as many as fit have their label."""
    every = -(-len(weeks) // MOST_LABELS) or 1
    shown = weeks[::-1][::every][::-1]
    ends = {"tickmode": "array", "tickvals": shown, "ticktext": [words.week(week) for week in shown], "tickangle": 0}
    return axis(title, type="category", categoryorder="array", categoryarray=weeks, **ends)


def layout(x: Figure, y: Figure, **more: Any) -> Figure:
    """Return the house's layout around two axes; grounds are clear so that the page's own shows."""
    return {
        "font": {"family": "system-ui, 'Liberation Sans', Arial, sans-serif", "size": 15, "color": palette.INK},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "margin": {"l": 64, "r": 16, "t": 16, "b": 56},
        "hovermode": "closest",
        "hoverlabel": {"bgcolor": palette.SHEET, "bordercolor": palette.INK, "font": {"color": palette.INK}},
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        "xaxis": x,
        "yaxis": y,
        **more,
    }
