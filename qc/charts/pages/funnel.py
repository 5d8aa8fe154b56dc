"""Stations in a funnel: defects over those that the own past expects, against how many are expected."""

from collections.abc import Sequence

from qc.charts.drawing import palette, svg, words
from qc.charts.drawing.frame import ticks
from qc.charts.drawing.picture import Figure, Key, Picture, axis, layout
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.reports.stations.funnel import StationFunnel, StationStanding

TITLE = "Stations against their own past: a funnel, not a ranking"
WIDTH, HEIGHT = 360.0, 260.0
LEFT, RIGHT, TOP, BOTTOM = 40.0, 46.0, 14.0, 40.0
STATES: dict[str, RowState] = {"high": "signal", "very high": "signal", "low": "low", "very low": "low"}
LOOKS: dict[RowState, tuple[str, str]] = {
    "signal": ("diamond", palette.MARK_SIGNAL),
    "low": ("square", palette.MARK_SECOND),
    "": ("circle", palette.MARK),
}
STANDS = {
    "high": "above the inner limit",
    "very high": "above the outer limit",
    "low": "below the inner limit",
    "very low": "below the outer limit",
    "usual range": "between the limits",
    "little exposure": "little exposure, no verdict",
    "no exposure": "little exposure, no verdict",
}
KEYS = (
    Key("point", "station"),
    Key("signal", "more than a limit"),
    Key("point-second", "fewer than a limit"),
    Key("centre", "as its own past"),
    Key("limit", "limits, 95 % and 99.8 %"),
)
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
        figure=_figure(funnel),
        svg=_drawing(funnel),
        keys=KEYS,
        cautions=(*funnel.told, unknown),
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
    rows = [_row(one, place) for place, one in enumerate(funnel.stations)]
    return Table(caption, columns, tuple(rows))


def _row(one: StationStanding, place: int) -> Row:
    cells = (
        words.whole(one.units),
        f"{words.whole(one.confirmed)} + {words.whole(one.suspected)}",
        f"{one.expected:.1f}",
        f"{one.ratio:.2f}; {words.between(max(0.0, one.wide[1]), one.wide[2], _two)}",
        _shrunken(one),
        "cannot be told" if one.furthest is None else _chance(one.furthest),
        STANDS[one.standing],
    )
    return Row(f"{one.station} {one.name}", cells, STATES.get(one.standing, ""), (0, place))


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


def _figure(funnel: StationFunnel) -> Figure:
    stations = funnel.stations
    looks = [LOOKS[STATES.get(one.standing, "")] for one in stations]
    marks = {
        "type": "scatter",
        "mode": "markers+text",
        "name": "station",
        "x": [one.expected for one in stations],
        "y": [one.ratio for one in stations],
        "text": [one.station if one.standing in STATES else "" for one in stations],
        "textposition": "middle right",
        "hovertext": [_spoken(one) for one in stations],
        "hoverinfo": "text",
        "marker": {
            "size": 11,
            "symbol": [symbol for symbol, _ in looks],
            "color": [colour for _, colour in looks],
        },
        "showlegend": False,
    }
    limits = [
        {
            "type": "scatter",
            "mode": "lines",
            "name": "limits",
            "x": [x for x, _ in curve],
            "y": [y for _, y in curve],
            "hoverinfo": "skip",
            "line": {"color": palette.MARK_LIMIT, "width": 1.5, "dash": "dash"},
            "showlegend": False,
        }
        for curve in _curves(funnel)
    ]
    own = {
        "type": "scatter",
        "mode": "lines",
        "name": "as its own past",
        "x": [0, max(one.expected for one in stations)],
        "y": [1, 1],
        "hoverinfo": "skip",
        "line": {"color": palette.MARK_LIMIT, "width": 1.5},
        "showlegend": False,
    }
    x = axis("defects expected from the station's own past", rangemode="tozero")
    y = axis("made over expected", rangemode="tozero", range=[0, _top(funnel)])
    return {"data": [marks, *limits, own], "layout": layout(x, y, height=460)}


def _top(funnel: StationFunnel) -> float:
    # the outer limit of a station with few defects lies far above; what is cut off is said by the dashed line's end
    highest = max(one.ratio for one in funnel.stations)
    return float(ticks(max(2.0, 1.1 * highest))[-1])


def _drawing(funnel: StationFunnel) -> str:
    across, top = ticks(max(one.expected for one in funnel.stations)), _top(funnel)

    def at(x: float, y: float) -> tuple[float, float]:
        high = TOP + (HEIGHT - TOP - BOTTOM) * (1 - min(y, top) / top)
        return LEFT + (WIDTH - LEFT - RIGHT) * x / across[-1], high

    base, right = at(0, 0)[1], WIDTH - RIGHT
    up = [tick for tick in ticks(top) if tick <= top]
    parts = [
        *(svg.line(LEFT, at(0, tick)[1], right, at(0, tick)[1], "grid") for tick in up),
        *(svg.text(LEFT - 6, at(0, tick)[1] + 4, words.decimal(tick), "end") for tick in up),
        *(svg.text(at(tick, 0)[0], base + 16, words.whole(tick), "mid") for tick in across),
        svg.line(LEFT, base, right, base, "axis"),
        svg.line(LEFT, at(0, 1)[1], right, at(0, 1)[1], "centre"),
        *(svg.path([at(*point) for point in _below(curve, top)], "limit") for curve in _curves(funnel)),
        *(_mark(one, *at(one.expected, one.ratio)) for one in funnel.stations),
        svg.text(LEFT, HEIGHT - 6, "across: expected; up: made over expected", "quiet"),
    ]
    return svg.drawing("station-funnel", WIDTH, HEIGHT, TITLE, funnel.sentence, *parts)


def _below(curve: Curve, top: float) -> Sequence[tuple[float, float]]:
    return [(x, y) for x, y in curve if y <= top]


def _mark(one: StationStanding, x: float, y: float) -> str:
    if one.standing not in STATES:
        return svg.dot(x, y, 4, "point", _spoken(one))
    if STATES[one.standing] == "signal":
        mark = svg.diamond(x, y, 6, "signal", _spoken(one))
    else:
        mark = svg.square(x, y, 4.5, "point-second", _spoken(one))
    return mark + svg.text(x + 9, y + 4, one.station, "strong")
