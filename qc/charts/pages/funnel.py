"""Stations in a funnel: defects over those that the own past expects, against how many are expected."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Line, Look, Mark, Marks, Scene, Values, ticks
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.domain.naming import with_name
from qc.reports.stations.funnel import StationFunnel, StationStanding

TITLE = "Stations against their own past: a funnel, not a ranking"
STATES: dict[str, RowState] = {"high": "signal", "very high": "signal", "low": "low", "very low": "low"}
STANDS = {
    "high": "above the inner limit",
    "very high": "above the outer limit",
    "low": "below the inner limit",
    "very low": "below the outer limit",
    "usual range": "between the limits",
    "little exposure": "little exposure, no verdict",
    "no exposure": "little exposure, no verdict",
}
Curve = list[tuple[float, float]]


def funnel_picture(funnel: StationFunnel) -> Picture:
    """Return the funnel; the table has the stations in table order, never by rate."""
    basis = f"{words.sentence(funnel.denominator)} Units of {funnel.period.name}, the past is {funnel.past.name}."
    unknown = f"{words.counted(funnel.unknown, 'defect')} of unknown or disputed origin are charged to no station."
    return Picture(
        id="station-funnel",
        title=TITLE,
        says=funnel.sentence,
        basis=basis,
        table=funnel_table(funnel, basis),
        scene=funnel_scene(funnel),
        cautions=(*funnel.notes, unknown),
    )


def funnel_table(funnel: StationFunnel, caption: str) -> Table:
    """Return one row a station in table order: counts, expected, ratios plain and shrunken, chance, standing."""
    columns = (
        Column("Station", numeric=False),
        Column("Units"),
        Column("Made: confirmed + suspected"),
        Column("Expected from own past"),
        Column("Made over expected; usual"),
        Column("Drawn towards all (interval)"),
        Column("Chance: furthest above"),
        Column("Standing", numeric=False),
    )
    return Table(caption, columns, tuple(map(_row, funnel.stations)))


def _head(one: StationStanding) -> str:
    return with_name(one.station, one.name)


def _row(one: StationStanding) -> Row:
    cells = (
        words.whole(one.units),
        f"{words.whole(one.confirmed)} + {words.whole(one.suspected)}",
        f"{one.expected:.1f}",
        f"{one.ratio:.2f}; {words.between(max(0.0, one.wide[1]), one.wide[2], _two)}",
        _shrunken(one),
        "cannot be told" if one.furthest is None else _chance(one.furthest),
        STANDS[one.standing],
    )
    return Row(_head(one), cells, STATES.get(one.standing, ""), _head(one))


def _two(value: float) -> str:
    return f"{value:.2f}"


def _chance(value: float) -> str:
    return "under 1\u00a0%" if value < 0.01 else f"{value * 100:.0f}\u00a0%"


def _shrunken(one: StationStanding) -> str:
    if one.shrunken is None or one.low is None or one.high is None:
        return "cannot be told"
    return f"{one.shrunken:.2f} ({words.between(one.low, one.high, _two)})"


def _curves(funnel: StationFunnel) -> list[Curve]:
    """Return the four limits over the expected counts that stations have, from few to many; none below nought."""
    across = sorted(funnel.stations, key=lambda one: one.expected)
    return [[(one.expected, max(0.0, one.wide[place])) for one in across] for place in range(4)]


def _spoken(one: StationStanding) -> str:
    return f"{one.station}: {one.defects} made, {one.expected:.1f} expected, {STANDS[one.standing]}"


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
        Values("defects expected from the station's own past", short="expected"),
        Values("made over expected", top=_top(funnel)),
        (
            Line("centre", "as its own past", ((0.0, 1.0), (end, 1.0))),
            *(Line("limit", "limits, 95 % and 99.8 %", tuple(curve)) for curve in _curves(funnel)),
            marks("point", "station", ""),
            marks("signal", "more than a limit", "signal"),
            marks("point-second", "fewer than a limit", "low"),
        ),
    )


def _top(funnel: StationFunnel) -> float:
    # the outer limit of a station with few defects lies far above; what is cut off is said by the dashed line's end
    highest = max(one.ratio for one in funnel.stations)
    return float(ticks(max(2.0, 1.1 * highest))[-1])
