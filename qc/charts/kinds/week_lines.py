"""Up to two values by week on one scale, each with its own mark and dash; the first may have limits."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from qc.charts.drawing import scene, words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import WEEKS, Hover, Look, Mark, Marks, Places, Scene, Values
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.charts.kinds.run_chart import NAMES, RunPoint, crosses, limit_lines, row_state, since_first, state_words
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import marked, say


@dataclass(frozen=True, slots=True)
class LineWords:
    """What the values are called and how one is written."""

    value: str
    write: Callable[[float | None], str]
    period: str = field(default_factory=lambda: say(WEEKS))
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


# The second series is also dashed and square.
LOOKS: tuple[tuple[Look, Look, Look], ...] = (
    ("line", "point", "hollow"), ("line-second", "point-second", "hollow-second"),
)  # fmt: skip
NOT_OVER = marked("this week, not over")


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
) -> Picture:
    """Return the picture of up to two lines over the same weeks; partial: the last week is not over.

    judged: the first line's weeks against their limits, one point a week; () where it has none.
    """
    weeks, lines, judged = _begun(weeks, lines, judged)
    return Picture(
        id=id_,
        title=title,
        says=says,
        basis=basis,
        table=lines_table(basis, weeks, partial, lines, spoken, judged),
        scene=lines_scene(weeks, partial, lines, spoken, judged),
        cautions=cautions,
    )


def _begun(
    weeks: Sequence[str], lines: Sequence[Line], judged: Sequence[RunPoint]
) -> tuple[Sequence[str], Sequence[Line], Sequence[RunPoint]]:
    """Return weeks, lines and limits from the first week in which any line has a value."""
    kept = since_first(range(len(weeks)), lambda place: any(line.values[place] is not None for line in lines))
    first = kept[0] if kept else 0
    begun = [replace(line, values=line.values[first:], beside=line.beside[first:]) for line in lines]
    return weeks[first:], begun, judged[first:]


def _range_name(lines: Sequence[Line]) -> str:
    """Return what the limits are called: whose they are, where another line without any could be read against them."""
    if len(lines) == 1:
        return say(NAMES["limit"])
    return say("usual range of “{name}” (limits for that week's own number of units)", name=lines[0].name)


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
        limits = [Column(say("Usual range")), Column(say("Reading"), numeric=False)] if judged and not place else []
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
    state: RowState = "partial" if running else row_state(judged[place]) if judged else ""
    week = week_words(weeks[place])
    head = say("{week}, not over", week=week) if running else week
    return Row(head, tuple(cells), state, "" if lines[0].values[place] is None else weeks[place])


def lines_scene(
    weeks: Sequence[str],
    partial: bool,
    lines: Sequence[Line],
    spoken: LineWords,
    judged: Sequence[RunPoint] = (),
) -> Scene:
    """Return the first line's limits, each line with its marks, and the marks of what is outside the limits."""
    whole = len(weeks) - partial
    last = range(whole, len(weeks))
    signals = [place for place, point in enumerate(judged) if point.is_signal]
    plain = [place for place in range(whole) if place not in signals]

    def joined(line: Line, look: Look) -> scene.Line:
        values = [*line.values[:whole], *[None] * len(last)]
        return scene.Line(look, "", tuple(zip(weeks, values, strict=True)), end=line.name if len(lines) > 1 else "")

    def marks(line: Line, look: Look, name: str, places: Sequence[int]) -> Marks:
        values = [(place, line.values[place]) for place in places]
        own = judged if line is lines[0] else ()
        return Marks(look, name, tuple(
            Mark(x=weeks[place], y=value, hover=_hover(line, place, weeks, spoken, own), key=weeks[place])
            for place, value in values if value is not None
        ))  # fmt: skip

    named = list(zip(lines, LOOKS, strict=False))
    limits = limit_lines(judged, _range_name(lines), say(NAMES["centre"]))
    return Scene(
        Places(spoken.period, tuple(weeks)),
        Values(spoken.value, spoken.as_percent),
        (
            *(limits if judged else ()),
            *(joined(line, look[0]) for line, look in named),
            *(marks(line, look[1], line.name, range(whole) if n else plain) for n, (line, look) in enumerate(named)),
            *(marks(line, look[2], say(NOT_OVER), last) for line, look in named),
            *(marks(line, "signal", say(NAMES["signal"]), signals) for line in lines[:1]),
            *crosses(judged),
        ),
    )


def _hover(line: Line, place: int, weeks: Sequence[str], spoken: LineWords, judged: Sequence[RunPoint]) -> Hover:
    reading = (state_words(judged[place]),) if judged else ()
    value = f"{week_words(weeks[place])}: {spoken.write(line.values[place])} {line.name}"
    return value, f"{line.beside_head}: {line.beside[place]}", *reading
