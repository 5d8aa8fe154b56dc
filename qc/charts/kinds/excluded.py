"""Periods left out of the limits, marked on a run chart: still drawn and judged, with a cross and the reason."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from qc.charts.drawing import palette, svg
from qc.charts.drawing.frame import Frame, frame_for
from qc.charts.drawing.picture import Figure, Key, Picture
from qc.charts.drawing.table import Table
from qc.charts.kinds.run_chart import RunPoint

KEY = Key("excluded", "left out of the limits, still drawn and judged")
ARM = 6.0  # of the cross


def with_exclusions(
    picture: Picture, points: Sequence[RunPoint], reasons: Mapping[str, str], frame: Frame | None = None
) -> Picture:
    """Return the picture with the points that reasons names crossed out and their reasons in the table.

    picture: a chart of all these points; reasons: from a period's label to why its counts do not enter the limits;
    frame: where the drawing puts its numbers, None where it is a run chart of these points alone.
    """
    marked = [(place, point) for place, point in enumerate(points) if point.label in reasons]
    if not marked:
        return picture
    drawn = [(place, point) for place, point in marked if point.value is not None]
    return replace(
        picture,
        table=_told(picture.table, reasons),
        figure=_crossed_figure(picture.figure, [point for _, point in drawn], reasons),
        svg=_crossed_drawing(picture.svg, frame or _frame(points), drawn, reasons),
        keys=(*picture.keys, *((KEY,) if drawn else ())),
    )


def _frame(points: Sequence[RunPoint]) -> Frame:
    values = [value for point in points for value in (point.value, point.upper)]
    return frame_for([point.label for point in points], values)


def _told(table: Table, reasons: Mapping[str, str]) -> Table:
    reading = [column.head for column in table.columns].index("Reading") - 1
    rows = tuple(
        replace(row, cells=tuple(
            f"{cell}; left out of the limits: {reasons[row.head]}" if place == reading else cell
            for place, cell in enumerate(row.cells)
        ))
        if row.head in reasons else row
        for row in table.rows
    )  # fmt: skip
    return replace(table, rows=rows)


def _crossed_figure(figure: Figure, points: Sequence[RunPoint], reasons: Mapping[str, str]) -> Figure:
    crosses = {
        "type": "scatter",
        "mode": "markers",
        "name": KEY.word.partition(",")[0],
        "x": [point.label for point in points],
        "y": [point.value for point in points],
        "text": [f"{point.label}: left out of the limits, {reasons[point.label]}" for point in points],
        "hoverinfo": "text",
        "marker": {"symbol": "x-thin", "size": 16, "line": {"width": 3, "color": palette.INK}},
        "showlegend": True,
    }
    return {**figure, "data": [*figure["data"], crosses]}  # last: the rows are bound to the curves by their places


def _crossed_drawing(
    drawing: str, frame: Frame, drawn: Sequence[tuple[int, RunPoint]], reasons: Mapping[str, str]
) -> str:
    crosses = "".join(
        svg.cross(frame.x(place), frame.y(point.value), ARM, "excluded", f"{point.label}: {reasons[point.label]}")
        for place, point in drawn
        if point.value is not None
    )
    return drawing.removesuffix("</svg>") + crosses + "</svg>"
