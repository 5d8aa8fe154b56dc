"""A value by week against its usual range: limits as steps, signals as diamonds, the running week hollow."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal, TypeVar

from qc.charts.drawing import palette, svg, words
from qc.charts.drawing.frame import Frame, frame_for
from qc.charts.drawing.picture import Figure, Key, Picture, axis, layout, week_axis
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.stats.answers import TooLittle
from qc.stats.charts.chart_points import ControlChart
from qc.stats.charts.run_rules import Finding

State = Literal["in", "signal_high", "signal_low", "gap", "partial"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunPoint:
    """One week: its counts, the plotted value (None: nothing inspected) and its own limits (None: no such limit).

    beside: words in place of the counts, "" for the counts. run: the pattern that it completes, "" none.
    """

    label: str
    events: float
    size: float
    value: float | None
    centre: float | None
    lower: float | None
    upper: float | None
    state: State
    beside: str = ""
    run: str = ""

    @property
    def is_signal(self) -> bool:
        """Return whether a rule speaks: a limit or a run."""
        return self.state in ("signal_high", "signal_low") or bool(self.run)


RUN_WORDS = {"high": "nine or more in a row above the centre", "low": "nine or more in a row below the centre"}


def chart_points(chart: ControlChart, runs: Sequence[Finding] = ()) -> tuple[RunPoint, ...]:
    """Return a control chart's points as a run chart draws them; runs: the patterns that some of them complete."""
    told = {run.label: RUN_WORDS[run.side] for run in runs}
    return tuple(
        RunPoint(
            label=p.label,
            events=p.events,
            size=p.size,
            value=p.value,
            centre=p.centre,
            lower=p.lower,
            upper=p.upper,
            state=p.state,
            run=told.get(p.label, ""),
        )
        for p in chart.points
    )


STATE_WORDS: dict[State, str] = {
    "in": "usual",
    "signal_high": "above usual",
    "signal_low": "below usual",
    "gap": "nothing inspected",
    "partial": "not over",
}

KEYS: tuple[Key, ...] = (
    Key("point", "a whole week"),
    Key("signal", "outside the usual range (or nine weeks in a row on one side)"),
    Key("hollow", "this week, not over: not judged"),
    Key("limit", "usual range (limits for that week's own number of units)"),
    Key("centre", "centre line of the baseline"),
)


@dataclass(frozen=True, slots=True)
class RunWords:
    """What the numbers are called. value, counts: heads of columns ("Units with one, of units presented"); write
    turns a value into words. states: what a point's state is called; keys: what the marks mean."""

    value: str
    counts: str
    write: Callable[[float | None], str]
    period: str = "ISO week"
    as_percent: bool = False
    states: Mapping[State, str] = field(default_factory=lambda: STATE_WORDS)
    keys: tuple[Key, ...] = field(default_factory=lambda: KEYS)

    def name_of(self, mark: str) -> str:
        """Return what the figure's legend calls a mark: the key's words up to what explains them."""
        return next(key.word for key in self.keys if key.mark == mark).partition(":")[0].partition(" (")[0]


UNJUDGED = "no usual range yet"


def run_picture(
    id_: str,
    title: str,
    says: str,
    basis: str,
    points: Sequence[RunPoint],
    spoken: RunWords,
    cautions: tuple[str, ...] = (),
) -> Picture:
    """Return the picture of one run chart; the table has the newest week first, the figure the oldest.

    Weeks before the first one with anything inspected are left out: the record had not begun.
    """
    points = since_first(points, lambda point: bool(point.size))
    return Picture(
        id=id_,
        title=title,
        says=says,
        basis=basis,
        table=run_table(basis, points, spoken),
        figure=run_figure(points, spoken),
        svg=run_drawing(id_, title, says, points, spoken),
        keys=tuple(key for key in spoken.keys if is_drawn(key.mark, points)),
        cautions=cautions,
    )


Item = TypeVar("Item")


def since_first(items: Sequence[Item], is_there: Callable[[Item], bool]) -> Sequence[Item]:
    """Return the items from the first that is there on; all of them where none is."""
    first = next((place for place, item in enumerate(items) if is_there(item)), 0)
    return items[first:]


def state_words(point: RunPoint, states: Mapping[State, str] = STATE_WORDS) -> str:
    """Return the state of a week in words; without limits nothing was judged."""
    if point.state == "in" and point.upper is None and point.lower is None:
        return UNJUDGED
    return f"{states[point.state]}; {point.run}" if point.run else states[point.state]


def counts_words(point: RunPoint) -> str:
    """Return a week's counts, or the words that stand in their place."""
    return point.beside or words.of(point.events, point.size)


def is_drawn(mark: str, points: Sequence[RunPoint]) -> bool:
    """Return whether a key's mark stands on the chart of these points."""
    states = {point.state for point in points}
    if mark == "signal":
        return any(point.is_signal for point in points)
    if mark == "hollow":
        return "partial" in states
    if mark in ("limit", "centre"):
        return any(point.upper is not None for point in points)
    return True


def run_table(basis: str, points: Sequence[RunPoint], spoken: RunWords) -> Table:
    """Return the weeks as rows, newest first, each bound to its mark in the figure."""
    columns = (
        Column(spoken.period, numeric=False),
        Column(spoken.value),
        Column("Usual range"),
        Column("Reading", numeric=False),
        Column(spoken.counts),
    )
    curves = _places(points)
    rows = [
        Row(
            point.label,
            (
                spoken.write(point.value),
                usual_words(point, spoken),
                state_words(point, spoken.states),
                counts_words(point),
            ),
            row_state(point),
            curves.get(place),
        )
        for place, point in enumerate(points)
    ]
    return Table(basis, columns, tuple(reversed(rows)))


def usual_words(point: RunPoint, spoken: RunWords) -> str:
    """Return the week's usual range in words, "not yet" where it has none."""
    if point.state == "gap":
        return words.DASH
    if point.lower is None and point.upper is None:
        return "not yet"
    return words.between(point.lower, point.upper, spoken.write)


def row_state(point: RunPoint) -> RowState:
    """Return how a week's row is marked."""
    if point.state == "signal_low" or point.run == RUN_WORDS["low"]:
        return "low"
    if point.is_signal:
        return "signal"
    return "partial" if point.state == "partial" else ""


def marked_by_meaning(table: Table, chart: ControlChart | TooLittle) -> Table:
    """Return the table with its rows marked for a look on the side that is worse, which on some charts is the low one.

    Short gaps and a small share of clean units are the bad news, not long ones and large ones.
    """
    if isinstance(chart, TooLittle) or chart.high_is == "worse":
        return table
    turned: dict[RowState, RowState] = {"signal": "low", "low": "signal"}
    return replace(table, rows=tuple(replace(row, state=turned.get(row.state, row.state)) for row in table.rows))


# Curves of the figure, in this order: limits and centre first, so that the marks lie above them.
UPPER, LOWER, CENTRE, WHOLE, SIGNALS, PARTIAL = range(6)


def _curve_of(point: RunPoint) -> int:
    if point.is_signal:
        return SIGNALS
    return PARTIAL if point.state == "partial" else WHOLE


def _places(points: Sequence[RunPoint]) -> dict[int, tuple[int, int]]:
    """Return for each week with a value its curve and its place there.

    The line of whole weeks also runs through the signals, so those have a place on it that the marks above cover.
    """
    signals = partials = 0
    found: dict[int, tuple[int, int]] = {}
    for place, point in enumerate(points):
        curve = _curve_of(point)
        if point.value is None:
            continue
        if curve == SIGNALS:
            found[place], signals = (SIGNALS, signals), signals + 1
        elif curve == PARTIAL:
            found[place], partials = (PARTIAL, partials), partials + 1
        else:
            found[place] = (WHOLE, place)
    return found


def run_figure(points: Sequence[RunPoint], spoken: RunWords) -> Figure:
    """Return the plotly figure as a plain dict: six curves, empty where there is nothing to show."""
    x = [point.label for point in points]
    over = [point.value if point.state != "partial" else None for point in points]
    signals = [point for point in points if _curve_of(point) == SIGNALS]
    partial = [point for point in points if point.state == "partial" and point.value is not None]
    data = [
        limit_curve("usual range", x, [point.upper for point in points]),
        limit_curve("usual range, lower", x, [point.lower for point in points]),
        limit_curve("centre line", x, [point.centre for point in points], dash="solid"),
        _marks(spoken.name_of("point"), x, over, points, spoken, "lines+markers", "circle", palette.MARK),
        _marks(
            spoken.name_of("signal"),
            [point.label for point in signals],
            [point.value for point in signals],
            signals,
            spoken,
            "markers",
            "diamond",
            palette.MARK_SIGNAL,
            14,
        ),
        _marks(
            spoken.name_of("hollow"),
            [point.label for point in partial],
            [point.value for point in partial],
            partial,
            spoken,
            "markers",
            "circle-open",
            palette.MARK,
            12,
        ),
    ]
    y = axis(spoken.value, rangemode="tozero", **({"tickformat": ".0%"} if spoken.as_percent else {}))
    return {
        "data": data,
        "layout": layout(week_axis(spoken.period, x), y),
    }


def limit_curve(name: str, x: list[str], y: list[float | None], dash: str = "dash") -> dict[str, Any]:
    """Return a limit as steps, each period with its own."""
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": x,
        "y": y,
        "line": {"shape": "hvh", "dash": dash, "color": palette.MARK_LIMIT, "width": 1.5},
        "hoverinfo": "skip",
        "showlegend": name != "usual range, lower" and any(value is not None for value in y),
    }


def _marks(
    name: str,
    x: list[str],
    y: list[float | None],
    points: Sequence[RunPoint],
    spoken: RunWords,
    mode: str,
    symbol: str,
    colour: str,
    size: int = 9,
) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": mode,
        "name": name,
        "x": x,
        "y": y,
        "connectgaps": False,
        "text": [_told(point, spoken) for point in points],
        "hoverinfo": "text",
        "marker": {"symbol": symbol, "size": size, "color": colour, "line": {"width": 2, "color": colour}},
        "line": {"color": colour, "width": 2},
        "showlegend": bool(y),
    }


def _told(point: RunPoint, spoken: RunWords) -> str:
    return (
        f"{point.label}: {spoken.write(point.value)}<br>{counts_words(point)} "
        f"({spoken.counts.lower()})<br>{state_words(point, spoken.states)}"
    )


def run_drawing(id_: str, title: str, says: str, points: Sequence[RunPoint], spoken: RunWords) -> str:
    """Return the small drawing of the same numbers."""
    everything = [value for point in points for value in (point.value, point.upper)]
    frame = frame_for([point.label for point in points], everything)
    marks = [_drawn_mark(frame, place, point, spoken) for place, point in enumerate(points)]
    return svg.drawing(
        id_,
        360,
        frame.height,
        title,
        says,
        *frame.axes(tick_words(spoken.as_percent), words.week, f"{spoken.value} by {spoken.period}"),
        *limit_steps(frame, points),
        *(svg.path(run, "line") for run in _runs(frame, points)),
        *marks,
    )


def limit_steps(frame: Frame, points: Sequence[RunPoint]) -> list[str]:
    """Return limits and centre line as steps."""
    return [
        svg.path(run, class_)
        for class_, values in (
            ("limit", [point.upper for point in points]),
            ("limit", [point.lower for point in points]),
            ("centre", [point.centre for point in points]),
        )
        for run in frame.steps(values)
    ]


def tick_words(as_percent: bool) -> Callable[[float], str]:
    """Return how a value axis is written: whole per cent, or the plain number."""
    return (lambda tick: f"{tick * 100:.0f}%") if as_percent else words.decimal


def _runs(frame: Frame, points: Sequence[RunPoint]) -> list[list[tuple[float, float]]]:
    runs: list[list[tuple[float, float]]] = [[]]
    for place, point in enumerate(points):
        if point.value is None or point.state == "partial":
            runs.append([])
        else:
            runs[-1].append((frame.x(place), frame.y(point.value)))
    return runs


def _drawn_mark(frame: Frame, place: int, point: RunPoint, spoken: RunWords) -> str:
    if point.value is None:
        return ""
    x, y = frame.x(place), frame.y(point.value)
    told = _told(point, spoken).replace("<br>", ", ")
    if _curve_of(point) == SIGNALS:
        return svg.diamond(x, y, min(6.0, max(4.0, 1.5 * frame.slot)), "signal", told)
    radius = min(3.5, max(2.0, frame.slot / 3))
    return svg.dot(x, y, radius, "hollow" if point.state == "partial" else "point", told)
