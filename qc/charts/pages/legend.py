"""The pictures and the table of the legend: every look once, over numbers of no record."""

from typing import get_args

from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Bar, Bars, Hover, Key, Line, Look, Mark, Marks, Note, Places, Scene, Values
from qc.charts.drawing.sparkline import SparkWeek, spark_bars, spark_line
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.domain.words.speaking import figure, marked, say

# What each look says wherever it is drawn.
LOOK_WORDS: dict[Look, str] = {
    "line": marked("what was counted"),
    "line-second": marked("what it is held against"),
    "limit": marked("where a rule begins to speak"),
    "centre": marked("the middle of the baseline"),
    "point": marked("a week"),
    "point-second": marked("a week of the second line"),
    "hollow": marked("a week that is not over, or still grows"),
    "hollow-second": marked("the same of the second line"),
    "signal": marked("beyond chance: look"),
    "excluded": marked("left out of the baseline"),
    "bar": marked("a count or a share"),
    "bar-second": marked("the part that nobody has settled"),
    "tick": marked("what is usual or expected"),
    "cell": marked("a count between a row and a column"),
}
_COUNTS = (4, 6, 5, 3, 5, 6, 4, 5, 12, 13, 11, 4)
_MIDDLE, _LIMIT, _LEFT_OUT, _SIGNALS = 5.0, 10.0, 3, range(8, 11)
_STATES = {
    3: marked("left out of the baseline"),
    8: marked("above the limit"),
    9: marked("above the limit"),
    10: marked("above the limit"),
    11: marked("not over"),
}


def _weeks() -> tuple[str, ...]:
    return tuple(say("week {number}", number=number) for number in range(1, len(_COUNTS) + 1))


def look_keys() -> tuple[Key, ...]:
    """Return every look that has a mark of its own, with what it says."""
    return tuple(Key(look, say(LOOK_WORDS[look])) for look in get_args(Look) if look != "cell")


def weeks_example() -> Picture:
    """Return twelve weeks with limits, a week left out, three beyond the limit, a note, and one that is not over."""
    weeks = _weeks()
    places = list(enumerate(zip(weeks, _COUNTS, strict=True)))

    def marks(look: Look, own: range | tuple[int, ...]) -> Marks:
        chosen = [(week, count) for place, (week, count) in places if place in own]
        return Marks(look, say(LOOK_WORDS[look]), tuple(Mark(x=w, y=c, hover=_told(w, c), key=w) for w, c in chosen))

    scene = Scene(
        Places(say("week"), weeks),
        Values(say("defects")),
        (
            Line("limit", "", tuple((week, _LIMIT) for week in weeks), end=say("limit")),
            Line("centre", "", tuple((week, _MIDDLE) for week in weeks), end=say("middle")),
            Line("line", "", tuple((week, count) for _, (week, count) in places[:-1])),
            marks("point", (0, 1, 2, 4, 5, 6, 7)),
            marks("signal", _SIGNALS),
            marks("excluded", (_LEFT_OUT,)),
            marks("hollow", (11,)),
        ),
        (Note(weeks[7], "A", (say("A: a new jig"),)),),
    )
    return Picture(
        id="legend-weeks",
        title=say("A picture: one question, its weeks and its limits"),
        says=say(
            "The sentence says what the picture shows: three weeks in a row lie above the limit, since a new jig."
        ),
        basis="",
        table=_weeks_table(),
        scene=scene,
        notes=(say("A week 8: a new jig"),),
        cautions=(say("A caution says what would mislead."),),
        method=(
            say("How the limits are made stands folded."),
            say("The whole method stands here: kind, baseline, rules."),
        ),
    )


def _told(week: str, count: int) -> Hover:
    return (week, say("{count} defects", count=count))


def _weeks_table() -> Table:
    states: dict[int, RowState] = {**dict.fromkeys(_SIGNALS, "signal"), _LEFT_OUT: "low", 11: "partial"}
    rows = tuple(
        Row(
            week,
            (str(count), figure(_LIMIT, "g"), say(_STATES[place]) if place in _STATES else ""),
            states.get(place, ""),
            week,
        )
        for place, (week, count) in enumerate(zip(_weeks(), _COUNTS, strict=True))
    )
    caption = say("An example: defects by week, against a limit. Bold on a tint calls for a look, slanted is not over")
    return Table(
        caption,
        (Column(say("Week"), False), Column(say("Defects")), Column(say("Limit")), Column(say("What is said"), False)),
        rows,
    )


def bars_example() -> Picture:
    """Return things in an order, each with its part that is settled, its part that is not, and what is usual."""
    things = ((say("The first"), 9, 3, 7.0), (say("The second"), 6, 2, 6.5), (say("The third"), 3, 1, 3.5))
    scene = Scene(
        Values(say("defects")),
        Places(say("type"), tuple(name for name, *_ in things)),
        (
            Bars("bar", say("settled"), tuple(
                Bar(
                    place=name,
                    start=0,
                    length=settled,
                    hover=(name, say("{number} settled", number=settled)),
                    word=str(settled + left),
                )
                for name, settled, left, _ in things
            )),
            Bars("bar-second", say(LOOK_WORDS["bar-second"]), tuple(
                Bar(place=name, start=settled, length=left, hover=(name, say("{number} not settled", number=left)))
                for name, settled, left, _ in things
            )),
            Marks("tick", say(LOOK_WORDS["tick"]), tuple(
                Mark(x=usual, y=name, hover=(name, say("{number:g} usual", number=usual)))
                for name, _, _, usual in things
            )),
        ),
    )  # fmt: skip
    rows = tuple(Row(name, (str(a), str(b), figure(usual, "g"))) for name, a, b, usual in things)
    heads = (Column(say("Type"), False), Column(say("Settled")), Column(say("Not settled")), Column(say("Usual")))
    return Picture(
        id="legend-bars",
        title=say("The few that make most"),
        says=say("Solid and dashed apart: what somebody has confirmed, and what nobody has."),
        basis="",
        table=Table(say("An example: defects by type"), heads, rows),
        scene=scene,
    )


def sparks_example() -> tuple[str, str]:
    """Return the drawing of weeks beside a sentence: as a line over what is usual, and as bars."""
    weeks = [SparkWeek(c, 2, _LIMIT, place in _SIGNALS, place == 11) for place, c in enumerate(_COUNTS)]
    bars = [SparkWeek(c, part=c / 3, partial=place == 11) for place, c in enumerate(_COUNTS)]
    return spark_line(weeks), spark_bars(bars, _LIMIT)
