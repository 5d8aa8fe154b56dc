"""A value by week against its usual range: limits as steps, signals as diamonds, the running week hollow."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, TypeVar

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import WEEKS, Hover, Line, Look, Mark, Marks, Part, Places, Scene, Values
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import marked, say
from qc.stats.answers import TooLittle
from qc.stats.charts.chart_points import ControlChart
from qc.stats.charts.run_rules import Finding

State = Literal["in", "signal_high", "signal_low", "gap", "partial"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunPoint:
    """One week: its counts, the plotted value (None: nothing inspected) and its own limits (None: no such limit).

    beside: words in place of the counts, "" for the counts. run: the pattern that it completes, "" none. excluded: why
    its counts do not enter the limits, "" where they do; it is drawn and judged all the same.
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
    excluded: str = ""

    @property
    def is_signal(self) -> bool:
        """Return whether a rule speaks: a limit or a run."""
        return self.state in ("signal_high", "signal_low") or bool(self.run)


RUN_WORDS = {
    "high": marked("nine or more in a row above the centre"),
    "low": marked("nine or more in a row below the centre"),
}


def chart_points(chart: ControlChart, runs: Sequence[Finding] = ()) -> tuple[RunPoint, ...]:
    """Return a control chart's points as a run chart draws them; runs: the patterns that some of them complete."""
    run_words = {run.label: RUN_WORDS[run.side] for run in runs}
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
            run=run_words.get(p.label, ""),
            excluded=p.excluded,
        )
        for p in chart.points
    )


STATE_WORDS: dict[State, str] = {
    "in": marked("usual"),
    "signal_high": marked("above usual"),
    "signal_low": marked("below usual"),
    "gap": marked("nothing inspected"),
    "partial": marked("not over"),
}

NAMES: dict[Look, str] = {
    "point": marked("a whole week"),
    "signal": marked("outside the usual range (or nine weeks in a row on one side)"),
    "hollow": marked("this week, not over: not judged"),
    "limit": marked("usual range (limits for that week's own number of units)"),
    "centre": marked("centre line of the baseline"),
}
UPPER, LOWER = marked("upper limit"), marked("lower limit")  # the words at their ends
LEFT_OUT = marked("left out of the limits, still drawn and judged")


@dataclass(frozen=True, slots=True)
class RunWords:
    """What the numbers are called. value, counts: heads of columns ("Units with one, of units presented"); write
    turns a value into words. states: what a point's state is called; names: what the marks mean."""

    value: str
    counts: str
    write: Callable[[float | None], str]
    period: str = field(default_factory=lambda: say(WEEKS))
    as_percent: bool = False
    states: Mapping[State, str] = field(
        default_factory=lambda: {state: say(told) for state, told in STATE_WORDS.items()}
    )
    names: Mapping[Look, str] = field(default_factory=lambda: {look: say(told) for look, told in NAMES.items()})


UNJUDGED = marked("no usual range yet")


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
        scene=run_scene(points, spoken),
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
        return say(UNJUDGED)
    excluded = say("left out of the limits: {why}", why=point.excluded) if point.excluded else ""
    run = say(point.run) if point.run else ""
    return "; ".join(filter(None, (say(states[point.state]), run, excluded)))


def counts_words(point: RunPoint) -> str:
    """Return a week's counts, or the words that stand in their place."""
    return point.beside or words.of(point.events, point.size)


def run_table(basis: str, points: Sequence[RunPoint], spoken: RunWords) -> Table:
    """Return the weeks as rows, newest first, each bound to its mark in the figure."""
    columns = (
        Column(spoken.period, numeric=False),
        Column(spoken.value),
        Column(say("Usual range")),
        Column(say("Reading"), numeric=False),
        Column(spoken.counts),
    )
    rows = [
        Row(
            week_words(point.label),
            (
                spoken.write(point.value),
                usual_words(point, spoken),
                state_words(point, spoken.states),
                counts_words(point),
            ),
            row_state(point),
            key_of(point),
        )
        for point in points
    ]
    return Table(basis, columns, tuple(reversed(rows)))


def usual_words(point: RunPoint, spoken: RunWords) -> str:
    """Return the week's usual range in words, "not yet" where it has none."""
    if point.state == "gap":
        return words.DASH
    if point.lower is None and point.upper is None:
        return say("not yet")
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


def key_of(point: RunPoint) -> str:
    """Return what binds a week's row to its mark, "" where it has none."""
    return "" if point.value is None else point.label


def run_scene(points: Sequence[RunPoint], spoken: RunWords) -> Scene:
    """Return limits as steps, the line of whole weeks, and each week's mark."""
    x = Places(spoken.period, tuple(point.label for point in points))
    over = [None if point.state == "partial" else point.value for point in points]

    def marks(look: Look) -> Marks:
        own = [point for point in points if _look(point) == look]
        return Marks(
            look, spoken.names[look], tuple(_mark(point, _hover(point, spoken)) for point in own if key_of(point))
        )

    parts: tuple[Part, ...] = (
        *limit_lines(points, spoken.names["limit"], spoken.names.get("centre", "")),
        Line("line", "", tuple(zip(x.labels, over, strict=True))),
        marks("point"),
        marks("signal"),
        marks("hollow"),
        *crosses(points),
    )
    return Scene(x, Values(spoken.value, spoken.as_percent), parts)


def limit_lines(points: Sequence[RunPoint], limit: str, centre: str) -> tuple[Line, ...]:
    """Return both limits and the centre line as steps: each week has its own."""

    def steps(look: Look, name: str, values: Iterable[float | None], end: str) -> Line:
        return Line(look, name, tuple(zip((point.label for point in points), values, strict=True)), True, end)

    return (
        steps("limit", limit, (point.upper for point in points), say(UPPER)),
        steps("limit", limit, (point.lower for point in points), say(LOWER)),
        steps("centre", centre, (point.centre for point in points), centre.partition(" ")[0]),
    )


def crosses(points: Sequence[RunPoint]) -> tuple[Marks, ...]:
    """Return a cross on each week that does not enter the limits, with its reason."""
    out = [
        _mark(point, (week_words(point.label), say("left out of the limits: {why}", why=point.excluded)))
        for point in points
        if point.excluded
    ]
    return (Marks("excluded", say(LEFT_OUT), tuple(mark for mark in out if mark.key)),) if out else ()


def _look(point: RunPoint) -> Look:
    if point.is_signal:
        return "signal"
    return "hollow" if point.state == "partial" else "point"


def _mark(point: RunPoint, hover: Hover) -> Mark:
    return Mark(x=point.label, y=point.value or 0.0, hover=hover, key=key_of(point))


def _hover(point: RunPoint, spoken: RunWords) -> Hover:
    counted = f"{counts_words(point)} ({spoken.counts.lower()})"
    return f"{week_words(point.label)}: {spoken.write(point.value)}", counted, state_words(point, spoken.states)
