"""What came through a station from upstream: lying bars by origin, the confirmed part ticked, and rows by type."""

from collections.abc import Sequence

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, Table
from qc.charts.kinds.ordered_bars import Amount, bars_scene
from qc.domain.words.speaking import marked, say
from qc.reports.stations.station_upstream import StationUpstream, UpstreamLine

ID = "upstream"
MOST_BARS = 8
ALL, SURE = marked("confirmed and suspected"), marked("confirmed")


def upstream_picture(report: StationUpstream) -> Picture:
    """Return what went through by the station that made it, most first; the picture has the first eight."""
    title = say("Made upstream, went through {station}, found later", station=report.station)
    bars = [
        Amount(
            _head(line),
            float(line.total),
            float(line.confirmed),
            f"{_head(line)}: {line.total}, {line.confirmed} {say(SURE)}",
        )
        for line in report.origins[:MOST_BARS]
    ]
    return Picture(
        id=ID,
        title=title,
        says=report.sentence,
        basis=words.sentence(report.denominator),
        table=_table(say("Made at"), report.origins, words.sentence(report.denominator), bars=True),
        scene=bars_scene(bars, say(ALL), say(SURE)),
        cautions=tuple(said for said in (report.duty, report.note) if said),
    )


def upstream_figures(report: StationUpstream) -> tuple[tuple[str, str, str], ...]:
    """Return the numbers for large print: what it is, the number, and what it rests on."""
    late = sum(line.after_dispatch for line in report.origins)
    return (
        (
            say("Came through, found later"),
            words.whole(report.total),
            say("defects in {weeks}", weeks=report.period.name),
        ),
        (
            say("Units with one or more"),
            words.whole(report.units_with),
            say("of {whole}", whole=words.whole(report.units)),
        ),
        (say("Found only after dispatch"), words.whole(late), say("of the {whole}", whole=words.whole(report.total))),
    )


def upstream_types_table(report: StationUpstream) -> Table:
    """Return the same defects by type, most first."""
    caption = say("The same by type. {units}", units=words.sentence(report.denominator))
    return _table(say("Type"), report.types, caption, bars=False)


def _table(head: str, lines: Sequence[UpstreamLine], caption: str, *, bars: bool) -> Table:
    columns = (Column(head, numeric=False), Column(say("Confirmed")), Column(say("Suspected")))
    rows = [
        Row(
            _head(line),
            (words.whole(line.confirmed), words.whole(line.suspected)),
            "",
            _head(line) if bars and place < MOST_BARS else "",
        )
        for place, line in enumerate(lines)
    ]
    return Table(caption, columns, tuple(rows))


def _head(line: UpstreamLine) -> str:
    return line.code if line.name == line.code else f"{line.code} {line.name}"
