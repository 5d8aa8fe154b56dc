"""Stations in a funnel: defects over those that the own past expects, against how many are expected."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Line, Look, Mark, Marks, Scene, Values, ticks
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.domain.plant.naming import with_name
from qc.domain.words.speaking import figure, marked, say, say_many
from qc.reports.stations.funnel import StationFunnel, StationStanding

TITLE = marked("Stations against their own past: a funnel, not a ranking")
STATES: dict[str, RowState] = {"high": "signal", "very high": "signal", "low": "low", "very low": "low"}
STANDS = {
    "high": marked("above the inner limit"),
    "very high": marked("above the outer limit"),
    "low": marked("below the inner limit"),
    "very low": marked("below the outer limit"),
    "usual range": marked("between the limits"),
    "little exposure": marked("little exposure, no verdict"),
    "no exposure": marked("little exposure, no verdict"),
}
Curve = list[tuple[float, float]]


def funnel_picture(funnel: StationFunnel) -> Picture:
    """Return the funnel; the table has the stations in table order, never by rate."""
    basis = say(
        "{denominator} Units of {weeks}, the past is {past}.",
        denominator=words.sentence(funnel.denominator), weeks=funnel.period.name, past=funnel.past.name,
    )  # fmt: skip
    unknown = say_many(
        "{count} defect of unknown or disputed origin are charged to no station.",
        "{count} defects of unknown or disputed origin are charged to no station.",
        funnel.unknown,
        count=words.whole(funnel.unknown),
    )
    return Picture(
        id="station-funnel",
        title=say(TITLE),
        says=funnel.sentence,
        basis=basis,
        table=funnel_table(funnel, basis),
        scene=funnel_scene(funnel),
        cautions=(*funnel.notes, unknown),
    )


def funnel_table(funnel: StationFunnel, caption: str) -> Table:
    """Return one row a station in table order: counts, expected, ratios plain and shrunken, chance, standing."""
    columns = (
        Column(say("Station"), numeric=False),
        Column(say("Units")),
        Column(say("Made: confirmed + suspected")),
        Column(say("Expected from own past")),
        Column(say("Made over expected; usual")),
        Column(say("Drawn towards all (interval)")),
        Column(say("Chance: furthest above")),
        Column(say("Standing"), numeric=False),
    )
    return Table(caption, columns, tuple(map(_row, funnel.stations)))


def _head(one: StationStanding) -> str:
    return with_name(one.station, one.name)


def _row(one: StationStanding) -> Row:
    cells = (
        words.whole(one.units),
        f"{words.whole(one.confirmed)} + {words.whole(one.suspected)}",
        figure(one.expected, ".1f"),
        f"{_two(one.ratio)}; {words.between(max(0.0, one.wide[1]), one.wide[2], _two)}",
        _shrunken(one),
        say("cannot be told") if one.furthest is None else _chance(one.furthest),
        say(STANDS[one.standing]),
    )
    return Row(_head(one), cells, STATES.get(one.standing, ""), _head(one))


def _two(value: float) -> str:
    return figure(value, ".2f")


def _chance(value: float) -> str:
    return say("under {percent}", percent="1\u00a0%") if value < 0.01 else f"{value * 100:.0f}\u00a0%"


def _shrunken(one: StationStanding) -> str:
    if one.shrunken is None or one.low is None or one.high is None:
        return say("cannot be told")
    return f"{_two(one.shrunken)} ({words.between(one.low, one.high, _two)})"


def _curves(funnel: StationFunnel) -> list[Curve]:
    """Return the four limits over the expected counts that stations have, from few to many; none below nought."""
    across = sorted(funnel.stations, key=lambda one: one.expected)
    return [[(one.expected, max(0.0, one.wide[place])) for one in across] for place in range(4)]


def _spoken(one: StationStanding) -> str:
    return say(
        "{station}: {defects} made, {expected:.1f} expected, {standing}",
        station=one.station, defects=one.defects, expected=one.expected, standing=say(STANDS[one.standing]),
    )  # fmt: skip


def funnel_scene(funnel: StationFunnel) -> Scene:
    """Return the limits, the line where a station is as its own past, and the stations, named if beyond."""
    stations = funnel.stations

    def marks(look: Look, name: str, state: RowState) -> Marks:
        own = [one for one in stations if STATES.get(one.standing, "") == state]
        return Marks(look, name, tuple(
            Mark(x=one.expected, y=one.ratio, hover=(_spoken(one),), key=_head(one), word=one.station if state else "")
            for one in own
        ))  # fmt: skip

    end = float(ticks(max(one.expected for one in stations))[-1])
    return Scene(
        Values(say("defects expected from the station's own past"), short=say("expected")),
        Values(say("made over expected"), top=_top(funnel)),
        (
            Line("centre", say("as its own past"), ((0.0, 1.0), (end, 1.0))),
            *(
                Line(
                    "limit",
                    say("limits, {inner} and {outer}", inner="95 %", outer=f"{figure(99.8, '.1f')} %"),
                    tuple(curve),
                )
                for curve in _curves(funnel)
            ),
            marks("point", say("station"), ""),
            marks("signal", say("more than a limit"), "signal"),
            marks("point-second", say("fewer than a limit"), "low"),
        ),
    )


def _top(funnel: StationFunnel) -> float:
    # the outer limit of a station with few defects lies far above; what is cut off is said by the dashed line's end
    highest = max(one.ratio for one in funnel.stations)
    return float(ticks(max(2.0, 1.1 * highest))[-1])
