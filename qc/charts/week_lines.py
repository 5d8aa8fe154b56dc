"""Two or three values by week on one scale, each with its own mark and dash, without limits."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from qc.charts import palette, svg, words
from qc.charts.frame import Frame, frame_for
from qc.charts.picture import Figure, Key, Picture, axis, layout, week_axis
from qc.charts.run_chart import since_first, tick_words
from qc.charts.table import Column, Row, Table


@dataclass(frozen=True, slots=True)
class LineWords:
    """What the values are called and how one is written."""

    value: str
    write: Callable[[float | None], str]
    period: str = "ISO week"
    as_percent: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """One series: its name, its value in each week (None: nothing to tell), and words that stand beside each value.

    beside_head: head of the column of those words ("units clean of units presented", "95 % interval").
    """

    name: str
    values: tuple[float | None, ...]
    beside_head: str
    beside: tuple[str, ...]


# Colour, symbol and dash together: the second series is also dashed and square.
LOOKS = (
    (palette.MARK, "circle", "solid", "point", "line"),
    (palette.MARK_SECOND, "square", "dot", "point-second", "line-second"),
)


def lines_picture(
    id_: str,
    title: str,
    says: str,
    basis: str,
    weeks: Sequence[str],
    partial: bool,
    lines: Sequence[Line],
    spoken: LineWords,
    cautions: tuple[str, ...] = (),
) -> Picture:
    """Return the picture of up to two lines over the same weeks; partial: the last week is not over."""
    weeks, lines = _begun(weeks, lines)
    keys = [Key(look[3], line.name) for look, line in zip(LOOKS, lines, strict=False)]
    return Picture(
        id_,
        title,
        says,
        basis,
        lines_table(basis, weeks, partial, lines, spoken),
        lines_figure(weeks, partial, lines, spoken),
        lines_drawing(id_, title, says, weeks, partial, lines, spoken),
        (*keys, *((Key("hollow", "this week, not over"),) if partial else ())),
        cautions,
    )


def _begun(weeks: Sequence[str], lines: Sequence[Line]) -> tuple[Sequence[str], Sequence[Line]]:
    """Return weeks and lines from the first week in which any line has a value."""
    kept = since_first(range(len(weeks)), lambda place: any(line.values[place] is not None for line in lines))
    first = kept[0] if kept else 0
    return weeks[first:], [replace(line, values=line.values[first:], beside=line.beside[first:]) for line in lines]


def lines_table(basis: str, weeks: Sequence[str], partial: bool, lines: Sequence[Line], spoken: LineWords) -> Table:
    """Return the weeks as rows, newest first: for each line its value and its counts."""
    columns = [Column(spoken.period, numeric=False)]
    for line in lines:
        columns += [Column(line.name), Column(line.beside_head)]
    last = len(weeks) - 1
    rows = []
    for place, week in enumerate(weeks):
        cells: list[str] = []
        for line in lines:
            cells += [spoken.write(line.values[place]), line.beside[place]]
        running = partial and place == last
        point = None if all(line.values[place] is None for line in lines) else (0, place)
        rows.append(
            Row(
                f"{week}, not over" if running else week,
                tuple(cells),
                "partial" if running else "",
                (len(lines), 0) if running and point else point,
            )
        )
    return Table(basis, tuple(columns), tuple(reversed(rows)))


def lines_figure(weeks: Sequence[str], partial: bool, lines: Sequence[Line], spoken: LineWords) -> Figure:
    """Return the figure: one curve for each line, then one hollow mark for each where the last week is not over."""
    x = list(weeks)
    last = len(x) - 1
    whole = [
        _curve(line, look, x, [None if partial and p == last else v for p, v in enumerate(line.values)], spoken)
        for line, look in zip(lines, LOOKS, strict=False)
    ]
    hollow = [
        _hollow(line, look, x[-1:], list(line.values[-1:]), spoken)
        for line, look in zip(lines, LOOKS, strict=False)
        if partial
    ]
    y = axis(spoken.value, rangemode="tozero", **({"tickformat": ".0%"} if spoken.as_percent else {}))
    return {"data": [*whole, *hollow], "layout": layout(week_axis(spoken.period, x), y)}


def _curve(line: Line, look: tuple[str, ...], x: list[str], y: list[float | None], spoken: LineWords) -> dict[str, Any]:
    colour, symbol, dash = look[:3]
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "name": line.name,
        "x": x,
        "y": y,
        "text": [_told(line, place, week, spoken) for place, week in enumerate(x)],
        "hoverinfo": "text",
        "line": {"color": colour, "dash": dash, "width": 2},
        "marker": {"color": colour, "symbol": symbol, "size": 9},
    }


def _hollow(
    line: Line, look: tuple[str, ...], x: list[str], y: list[float | None], spoken: LineWords
) -> dict[str, Any]:
    colour, symbol = look[:2]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": f"{line.name}, this week, not over",
        "x": x,
        "y": y,
        "text": [_told(line, len(line.values) - 1, x[0], spoken)] if x else [],
        "hoverinfo": "text",
        "marker": {"color": colour, "symbol": f"{symbol}-open", "size": 12, "line": {"width": 2}},
        "showlegend": False,
    }


def _told(line: Line, place: int, week: str, spoken: LineWords) -> str:
    return f"{week}: {spoken.write(line.values[place])} {line.name}<br>{line.beside_head}: {line.beside[place]}"


def lines_drawing(
    id_: str,
    title: str,
    says: str,
    weeks: Sequence[str],
    partial: bool,
    lines: Sequence[Line],
    spoken: LineWords,
) -> str:
    """Return the small drawing of the same lines."""
    frame = frame_for(weeks, [value for line in lines for value in line.values])
    drawn = [
        part
        for line, look in zip(lines, LOOKS, strict=False)
        for part in _drawn_line(frame, line, look, partial, weeks, spoken)
    ]
    axes = frame.axes(tick_words(spoken.as_percent), words.week, f"{spoken.value} by {spoken.period}")
    return svg.drawing(id_, 360, frame.height, title, says, *axes, *drawn)


def _drawn_line(
    frame: Frame, line: Line, look: tuple[str, ...], partial: bool, weeks: Sequence[str], spoken: LineWords
) -> list[str]:
    runs: list[list[tuple[float, float]]] = [[]]
    marks = []
    last = len(weeks) - 1
    for place, value in enumerate(line.values):
        if value is None:
            runs.append([])
            continue
        x, y = frame.x(place), frame.y(value)
        told = _told(line, place, weeks[place], spoken).replace("<br>", ", ")
        if partial and place == last:
            marks.append(svg.dot(x, y, 4, "hollow", told))
            continue
        runs[-1].append((x, y))
        marks.append(_mark(x, y, look[3], told))
    return [*(svg.path(run, look[4]) for run in runs), *marks]


def _mark(x: float, y: float, class_: str, told: str) -> str:
    if class_ == "point":
        return svg.dot(x, y, 3, class_, told)
    return svg.square(x, y, 3, class_, told)
