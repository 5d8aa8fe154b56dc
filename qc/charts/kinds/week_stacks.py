"""Counts by week in two parts, one standing on the other, against the range that is usual for their sum."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from qc.charts.drawing import palette, svg, words
from qc.charts.drawing.frame import Frame, frame_for
from qc.charts.drawing.picture import Figure, Key, Picture, axis, layout, week_axis
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.charts.kinds.run_chart import since_first


@dataclass(frozen=True, slots=True, kw_only=True)
class StackWeek:
    """One week: first and second part (counts), what could have had them, and the usual range of the sum.

    low, high: None where there is no usual range yet. reading: the week's state in words; state: for the row.
    """

    label: str
    first: int
    second: int
    exposed: int
    low: float | None
    high: float | None
    reading: str
    state: RowState


@dataclass(frozen=True, slots=True)
class StackWords:
    """What the parts are called; exposed heads the column of the denominator."""

    first: str
    second: str
    exposed: str
    period: str = "ISO week"


def stack_picture(
    id_: str,
    title: str,
    says: str,
    basis: str,
    weeks: Sequence[StackWeek],
    spoken: StackWords,
    cautions: tuple[str, ...] = (),
) -> Picture:
    """Return the picture of two parts by week from the first with units; the table has the newest week first."""
    weeks = since_first(weeks, lambda week: bool(week.exposed))
    keys = (
        Key("bar", spoken.first),
        Key("bar-second", spoken.second),
        *((Key("limit", "usual range of the sum"),) if any(week.high is not None for week in weeks) else ()),
    )
    return Picture(
        id=id_,
        title=title,
        says=says,
        basis=basis,
        table=stack_table(basis, weeks, spoken),
        figure=stack_figure(weeks, spoken),
        svg=stack_drawing(id_, title, says, weeks, spoken),
        keys=keys,
        cautions=cautions,
    )


def stack_table(basis: str, weeks: Sequence[StackWeek], spoken: StackWords) -> Table:
    """Return the weeks as rows, newest first."""
    columns = (
        Column(spoken.period, numeric=False),
        Column(f"Defects ({spoken.first} + {spoken.second})"),
        Column("Usual"),
        Column("Reading", numeric=False),
        Column(spoken.exposed),
    )
    rows = [
        Row(
            week.label,
            (
                f"{words.whole(week.first + week.second)} ({words.whole(week.first)} + {words.whole(week.second)})",
                words.between(week.low, week.high) if week.high is not None else "not yet",
                week.reading,
                words.whole(week.exposed),
            ),
            week.state,
            (0, place),
        )
        for place, week in enumerate(weeks)
    ]
    return Table(basis, columns, tuple(reversed(rows)))


def stack_figure(weeks: Sequence[StackWeek], spoken: StackWords) -> Figure:
    """Return stacked bars, the second part hatched, and the usual range as two stepped lines."""
    x = [week.label for week in weeks]
    data = [
        _bars(spoken.first, x, [week.first for week in weeks], weeks, "", palette.MARK),
        _bars(spoken.second, x, [week.second for week in weeks], weeks, "/", palette.MARK_SECOND),
        _limit("usual range", x, [week.high for week in weeks]),
        _limit("usual range, lower", x, [week.low for week in weeks]),
    ]
    return {
        "data": data,
        "layout": layout(
            week_axis(spoken.period, x), axis("defects", rangemode="tozero"), barmode="stack", bargap=0.25
        ),
    }


def _bars(
    name: str, x: list[str], y: list[int], weeks: Sequence[StackWeek], pattern: str, colour: str
) -> dict[str, Any]:
    # The running week is drawn hollow: an outline with the same colour and no fill.
    fills = [palette.SHEET if week.state == "partial" else colour for week in weeks]
    return {
        "type": "bar",
        "name": name,
        "x": x,
        "y": y,
        "text": [f"{week.label}: {count} {name}<br>{week.reading}" for week, count in zip(weeks, y, strict=True)],
        "textposition": "none",
        "hoverinfo": "text",
        "marker": {
            "color": fills,
            "line": {"color": colour, "width": 2},
            "pattern": {"shape": pattern, "fgcolor": palette.SHEET, "size": 6} if pattern else {"shape": ""},
        },
    }


def _limit(name: str, x: list[str], y: list[float | None]) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": x,
        "y": y,
        "line": {"shape": "hvh", "dash": "dash", "color": palette.MARK_LIMIT, "width": 1.5},
        "hoverinfo": "skip",
        "showlegend": not name.endswith("lower") and any(value is not None for value in y),
    }


def stack_drawing(id_: str, title: str, says: str, weeks: Sequence[StackWeek], spoken: StackWords) -> str:
    """Return the small drawing of the same bars."""
    frame = frame_for(
        [week.label for week in weeks],
        [value for week in weeks for value in (float(week.first + week.second), week.high)],
    )
    bars = [part for place, week in enumerate(weeks) for part in _drawn_bars(frame, place, week, spoken)]
    limits = [
        svg.path(run, "limit")
        for values in ([week.high for week in weeks], [week.low for week in weeks])
        for run in frame.steps(values)
    ]
    axes = frame.axes(words.decimal, words.week, f"defects by {spoken.period}")
    return svg.drawing(id_, 360, frame.height, title, says, *axes, *bars, *limits)


def _drawn_bars(frame: Frame, place: int, week: StackWeek, spoken: StackWords) -> tuple[str, ...]:
    wide = frame.slot * 0.7
    left = frame.x(place) - wide / 2
    base, middle = frame.y(0), frame.y(week.first)
    top = frame.y(week.first + week.second)
    hollow = week.state == "partial"
    told = f"{week.label}: {week.first} {spoken.first}, {week.second} {spoken.second}, {week.reading}"
    parts = (
        svg.rect(left, middle, wide, base - middle, "hollow" if hollow else "bar") if week.first else "",
        svg.rect(left, top, wide, middle - top, "bar-second") if week.second else "",
    )
    return (svg.group(told, *parts),)
