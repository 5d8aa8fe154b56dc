"""A station's confirmed, suspected and expected defects, apart: three rows, and the two open counts on one scale."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, Table
from qc.charts.kinds.interval_dots import Dot, dots_scene
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.stations.station_expected import StationExpected
from qc.stats.answers import TooLittle

ID = "expected"
SUSPECTED = marked("Suspected, not answered")


def expected_picture(report: StationExpected) -> Picture:
    """Return the three counts; the drawing has the two that speak of open defects, so that the range can be seen."""
    title = say("Not settled yet: suspected and expected at {station}", station=report.station)
    return Picture(
        id=ID,
        title=title,
        says=report.sentence,
        basis=words.sentence(report.denominator),
        table=expected_table(report),
        scene=dots_scene(
            _dots(report),
            say("defects not settled"),
            _written,
            say("number of defects"),
            say("range of the estimate, {level}", level=_level(report)),
        ),
        cautions=report.cautions,
    )


def expected_table(report: StationExpected) -> Table:
    """Return three rows: the count, and its range where it is an estimate. They are never added up."""
    columns = (
        Column(say("Made here"), numeric=False),
        Column(say("Defects")),
        Column(say("Range, {level}", level=_level(report))),
    )
    number, span, _ = _told(report)
    drawn = "" if isinstance(report.expected, TooLittle) else _expected(report)
    rows = (
        Row(say("Confirmed"), (words.whole(report.confirmed), say("a count"))),
        Row(say(SUSPECTED), (words.whole(report.suspected), say("a count")), "", say(SUSPECTED)),
        Row(_expected(report), (number, span), "", drawn),
    )
    return Table(words.sentence(report.denominator), columns, rows)


def figures(report: StationExpected) -> tuple[tuple[str, str, str], ...]:
    """Return the three numbers for large print: what it is, the number, and what it rests on."""
    number, _, likely = _told(report)
    return (
        (say("Confirmed here"), words.whole(report.confirmed), say("its lead said so, or it was settled")),
        (say("Suspected here"), words.whole(report.suspected), say("a guess, not answered")),
        (
            say("Expected here, an estimate"),
            number,
            say("{likely} of {open} not settled in the plant", likely=likely, open=words.whole(report.open_count)),
        ),
    )


def _expected(report: StationExpected) -> str:
    return say("Expected of {open} not settled", open=words.whole(report.open_count))


def _level(report: StationExpected) -> str:
    return f"{report.level * 100:.0f}{words.NO_BREAK}%"


def _told(report: StationExpected) -> tuple[str, str, str]:
    """Return the estimate, its range for a table and in words."""
    own = report.expected
    if not report.open_count:
        return "0", say("none is open"), say("none")
    if isinstance(own, TooLittle):
        have, need = own.have, own.need
        return (
            say("not yet"),
            say("{have} of {need} settled", have=have, need=need),
            say("{have} settled, {need} needed; none judged", have=have, need=need),
        )
    likely = say("{low} to {high}", low=own.low, high=own.high) if own.high else say("none")
    return f"{own.expected:.0f}", words.between(own.low, own.high), likely


def _dots(report: StationExpected) -> list[Dot]:
    own, suspected, count = report.expected, float(report.suspected), words.whole(report.suspected)
    told = say_many("suspected: {count} defect", "suspected: {count} defects", report.suspected, count=count)
    first = Dot(say(SUSPECTED), suspected, None, None, told)
    if isinstance(own, TooLittle):
        return [first, Dot(_expected(report), None, None, None, say("expected: too little to say"))]
    told = say(
        "expected: {about:.0f}, {low} to {high} of {open}",
        about=own.expected, low=own.low, high=own.high, open=report.open_count,
    )  # fmt: skip
    return [first, Dot(_expected(report), own.expected, float(own.low), float(own.high), told)]


def _written(value: float | None) -> str:
    return "" if value is None else words.whole(value)
