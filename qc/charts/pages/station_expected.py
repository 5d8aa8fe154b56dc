"""A station's confirmed, suspected and expected defects, apart: three rows, and the two open counts on one scale."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, Table
from qc.charts.kinds.interval_dots import Dot, dots_scene
from qc.reports.stations.station_expected import StationExpected
from qc.stats.answers import TooLittle

ID = "expected"
SUSPECTED = "Suspected, not answered"


def expected_picture(report: StationExpected) -> Picture:
    """Return the three counts; the drawing has the two that speak of open defects, so that the range can be seen."""
    title = f"Not settled yet: suspected and expected at {report.station}"
    return Picture(
        id=ID,
        title=title,
        says=report.sentence,
        basis=words.sentence(report.denominator),
        table=expected_table(report),
        scene=dots_scene(
            _dots(report),
            "defects not settled",
            _written,
            "number of defects",
            f"range of the estimate, {_level(report)}",
        ),
        cautions=report.cautions,
    )


def expected_table(report: StationExpected) -> Table:
    """Return three rows: the count, and its range where it is an estimate. They are never added up."""
    columns = (Column("Made here", numeric=False), Column("Defects"), Column(f"Range, {_level(report)}"))
    number, span, _ = _told(report)
    drawn = "" if isinstance(report.expected, TooLittle) else _expected(report)
    rows = (
        Row("Confirmed", (words.whole(report.confirmed), "a count")),
        Row(SUSPECTED, (words.whole(report.suspected), "a count"), "", SUSPECTED),
        Row(_expected(report), (number, span), "", drawn),
    )
    return Table(words.sentence(report.denominator), columns, rows)


def figures(report: StationExpected) -> tuple[tuple[str, str, str], ...]:
    """Return the three numbers for large print: what it is, the number, and what it rests on."""
    number, _, likely = _told(report)
    return (
        ("Confirmed here", words.whole(report.confirmed), "its lead said so, or it was settled"),
        ("Suspected here", words.whole(report.suspected), "a guess, not answered"),
        (
            "Expected here, an estimate",
            number,
            f"{likely} of {words.whole(report.open_count)} not settled in the plant",
        ),
    )


def _expected(report: StationExpected) -> str:
    return f"Expected of {words.whole(report.open_count)} not settled"


def _level(report: StationExpected) -> str:
    return f"{report.level * 100:.0f}{words.NO_BREAK}%"


def _told(report: StationExpected) -> tuple[str, str, str]:
    """Return the estimate, its range for a table and in words."""
    own = report.expected
    if not report.open_count:
        return "0", "none is open", "none"
    if isinstance(own, TooLittle):
        return "not yet", f"{own.have} of {own.need} settled", f"{own.have} settled, {own.need} needed; none judged"
    likely = f"{own.low} to {own.high}" if own.high else "none"
    return f"{own.expected:.0f}", words.between(own.low, own.high), likely


def _dots(report: StationExpected) -> list[Dot]:
    own, suspected = report.expected, float(report.suspected)
    told = f"suspected: {words.counted(report.suspected, 'defect')}"
    first = Dot(SUSPECTED, suspected, None, None, told)
    if isinstance(own, TooLittle):
        return [first, Dot(_expected(report), None, None, None, "expected: too little to say")]
    told = f"expected: {own.expected:.0f}, {own.low} to {own.high} of {report.open_count}"
    return [first, Dot(_expected(report), own.expected, float(own.low), float(own.high), told)]


def _written(value: float | None) -> str:
    return "" if value is None else words.whole(value)
