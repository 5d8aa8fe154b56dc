"""Counts by week in two parts, one standing on the other, against the range that is usual for their sum."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import WEEKS, Bar, Bars, Line, Places, Scene, Values
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.charts.kinds.run_chart import LOWER, UPPER, since_first
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import say


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
    period: str = field(default_factory=lambda: say(WEEKS))


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
    return Picture(
        id=id_,
        title=title,
        says=says,
        basis=basis,
        table=stack_table(basis, weeks, spoken),
        scene=stack_scene(weeks, spoken),
        cautions=cautions,
    )


def stack_table(basis: str, weeks: Sequence[StackWeek], spoken: StackWords) -> Table:
    """Return the weeks as rows, newest first."""
    columns = (
        Column(spoken.period, numeric=False),
        Column(say("Defects ({first} + {second})", first=spoken.first, second=spoken.second)),
        Column(say("Usual")),
        Column(say("Reading"), numeric=False),
        Column(spoken.exposed),
    )
    rows = [
        Row(
            week_words(week.label),
            (
                f"{words.whole(week.first + week.second)} ({words.whole(week.first)} + {words.whole(week.second)})",
                words.between(week.low, week.high) if week.high is not None else say("not yet"),
                week.reading,
                words.whole(week.exposed),
            ),
            week.state,
            week.label,
        )
        for week in weeks
    ]
    return Table(basis, columns, tuple(reversed(rows)))


def stack_scene(weeks: Sequence[StackWeek], spoken: StackWords) -> Scene:
    """Return the second part standing on the first, and the usual range of both together as steps."""

    def limit(values: Iterable[float | None], end: str) -> Line:
        points = zip((week.label for week in weeks), values, strict=True)
        return Line("limit", say("usual range of the sum"), tuple(points), True, say(end))

    first = tuple(_bar(week, spoken.first, 0, week.first) for week in weeks)
    second = tuple(_bar(week, spoken.second, week.first, week.second) for week in weeks)
    return Scene(
        Places(spoken.period, tuple(week.label for week in weeks)),
        Values(say("defects")),
        (
            Bars("bar", spoken.first, first),
            Bars("bar-second", spoken.second, second),
            limit((week.high for week in weeks), UPPER),
            limit((week.low for week in weeks), LOWER),
        ),
    )


def _bar(week: StackWeek, name: str, start: int, length: int) -> Bar:
    hover = f"{week_words(week.label)}: {length} {name}", week.reading
    hollow = week.state == "partial"
    return Bar(place=week.label, start=start, length=length, hover=hover, key=week.label, hollow=hollow)
