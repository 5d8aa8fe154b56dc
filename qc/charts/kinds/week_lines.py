"""Up to two values by week on one scale, each with its own mark and dash; the first may have limits."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from qc.charts.drawing import palette, svg, words
from qc.charts.drawing.frame import Frame, frame_for
from qc.charts.drawing.picture import Figure, Key, Picture, axis, layout, week_axis
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.charts.kinds.excluded import with_exclusions
from qc.charts.kinds.run_chart import (
    KEYS,
    RunPoint,
    is_drawn,
    limit_curve,
    limit_steps,
    row_state,
    since_first,
    state_words,
    tick_words,
)


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

    beside_head: head of the column of those words ("units clean of units presented", "95 % interval"). bracketed: they
    stand in the value's own cell, in brackets, to save a column.
    """

    name: str
    values: tuple[float | None, ...]
    beside_head: str
    beside: tuple[str, ...]
    bracketed: bool = False


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
    judged: Sequence[RunPoint] = (),
    left_out: Mapping[str, str] | None = None,
) -> Picture:
    """Return the picture of up to two lines over the same weeks; partial: the last week is not over.

    judged: the first line's weeks against their limits, one point a week; () where it has none. left_out: weeks that
    do not enter those limits, each with its reason.
    """
    weeks, lines, judged = _begun(weeks, lines, judged)
    keys = [Key(look[3], line.name) for look, line in zip(LOOKS, lines, strict=False)]
    if judged:
        keys += _limit_keys(lines, judged)
    drawn = Picture(
        id=id_,
        title=title,
        says=says,
        basis=basis,
        table=lines_table(basis, weeks, partial, lines, spoken, judged),
        figure=lines_figure(weeks, partial, lines, spoken, judged),
        svg=lines_drawing(id_, title, says, weeks, partial, lines, spoken, judged),
        keys=(*keys, *((Key("hollow", "this week, not over"),) if partial else ())),
        cautions=cautions,
    )
    return with_exclusions(drawn, judged, left_out or {}, _frame(weeks, lines, judged))


def _frame(weeks: Sequence[str], lines: Sequence[Line], judged: Sequence[RunPoint]) -> Frame:
    uppers = [point.upper for point in judged]
    return frame_for(weeks, [value for line in lines for value in line.values] + uppers)


def _begun(
    weeks: Sequence[str], lines: Sequence[Line], judged: Sequence[RunPoint]
) -> tuple[Sequence[str], Sequence[Line], Sequence[RunPoint]]:
    """Return weeks, lines and limits from the first week in which any line has a value."""
    kept = since_first(range(len(weeks)), lambda place: any(line.values[place] is not None for line in lines))
    first = kept[0] if kept else 0
    begun = [replace(line, values=line.values[first:], beside=line.beside[first:]) for line in lines]
    return weeks[first:], begun, judged[first:]


def _limit_keys(lines: Sequence[Line], judged: Sequence[RunPoint]) -> list[Key]:
    keys = [key for key in KEYS if key.mark in ("signal", "limit", "centre") and is_drawn(key.mark, judged)]
    name = _range_name(lines)
    return [Key(key.mark, key.word.replace("usual range", name)) if key.mark == "limit" else key for key in keys]


def _range_name(lines: Sequence[Line]) -> str:
    """Return what the limits are called: whose they are, where another line without any could be read against them."""
    return f"usual range of “{lines[0].name}”" if len(lines) > 1 else "usual range"


def _signals(judged: Sequence[RunPoint]) -> list[RunPoint]:
    return [point for point in judged if point.is_signal]


def lines_table(
    basis: str,
    weeks: Sequence[str],
    partial: bool,
    lines: Sequence[Line],
    spoken: LineWords,
    judged: Sequence[RunPoint] = (),
) -> Table:
    """Return the weeks as rows, newest first: for each line its value and its counts, the first one's reading."""
    columns = [Column(spoken.period, numeric=False)]
    for place, line in enumerate(lines):
        limits = [Column("Usual range"), Column("Reading", numeric=False)] if judged and not place else []
        heads = (f"{line.name} ({line.beside_head})",) if line.bracketed else (line.name, line.beside_head)
        columns += [Column(heads[0]), *limits, *map(Column, heads[1:])]
    rows = [_row(place, weeks, partial, lines, spoken, judged) for place in range(len(weeks))]
    return Table(basis, tuple(columns), tuple(reversed(rows)), has_ranges=bool(judged))


def _row(
    place: int,
    weeks: Sequence[str],
    partial: bool,
    lines: Sequence[Line],
    spoken: LineWords,
    judged: Sequence[RunPoint],
) -> Row:
    cells: list[str] = []
    for line in lines:
        own = judged[place] if judged and line is lines[0] else None
        limits = [words.between(own.lower, own.upper, spoken.write), state_words(own)] if own else []
        value, beside = spoken.write(line.values[place]), line.beside[place]
        cells += [f"{value} ({beside})", *limits] if line.bracketed else [value, *limits, beside]
    running = partial and place == len(weeks) - 1
    point = None if all(line.values[place] is None for line in lines) else (0, place)
    state: RowState = "partial" if running else row_state(judged[place]) if judged else ""
    head = f"{weeks[place]}, not over" if running else weeks[place]
    return Row(head, tuple(cells), state, (len(lines), 0) if running and point else point)


def lines_figure(
    weeks: Sequence[str],
    partial: bool,
    lines: Sequence[Line],
    spoken: LineWords,
    judged: Sequence[RunPoint] = (),
) -> Figure:
    """Return the figure: one curve for each line, then one hollow mark for each where the last week is not over.

    Limits come last and lie below: the rows of the table are bound to the lines by their places.
    """
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
    data = [*whole, *hollow, *(_limits(x, lines, judged) if judged else ())]
    return {"data": data, "layout": layout(week_axis(spoken.period, x), y)}


def _limits(x: list[str], lines: Sequence[Line], judged: Sequence[RunPoint]) -> list[dict[str, Any]]:
    signals = _signals(judged)
    return [
        limit_curve(_range_name(lines), x, [point.upper for point in judged]),
        limit_curve("usual range, lower", x, [point.lower for point in judged]),
        limit_curve("centre line", x, [point.centre for point in judged], dash="solid"),
        {
            "type": "scatter",
            "mode": "markers",
            "name": "outside the usual range",
            "x": [point.label for point in signals],
            "y": [point.value for point in signals],
            "hoverinfo": "skip",
            "marker": {"symbol": "diamond", "size": 14, "color": palette.MARK_SIGNAL},
            "showlegend": bool(signals),
        },
    ]


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
    judged: Sequence[RunPoint] = (),
) -> str:
    """Return the small drawing of the same lines."""
    frame = _frame(weeks, lines, judged)
    limits = limit_steps(frame, judged)
    drawn = [
        part
        for line, look in zip(lines, LOOKS, strict=False)
        for part in _drawn_line(frame, line, look, partial, weeks, spoken)
    ]
    axes = frame.axes(tick_words(spoken.as_percent), words.week, f"{spoken.value} by {spoken.period}")
    signals = [
        svg.diamond(frame.x(place), frame.y(point.value), 6, "signal", f"{point.label}: {state_words(point)}")
        for place, point in enumerate(judged)
        if point.is_signal and point.value is not None
    ]
    return svg.drawing(id_, 360, frame.height, title, says, *axes, *limits, *drawn, *signals)


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
