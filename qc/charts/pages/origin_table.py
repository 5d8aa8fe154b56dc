"""Origin × detection as a matrix, and what each point let through as shares with intervals."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, Table
from qc.charts.kinds.interval_dots import Dot, dots_scene, interval_words
from qc.charts.kinds.matrix import matrix_scene
from qc.domain.plant.naming import NO_STATIONS, with_name
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.week.origin_table import OriginRow, OriginTable, PointLine
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval

BEFORE_POINT = marked(
    "In the share are defects whose origin lies before the point or is not known, of types meant to be found by then. "
    "Left out: handling and rework, which may come after it, and types first looked for later."
)

BY_UNITS = marked("Ranges are made by units: defects on one unit go together, as one cause often makes several.")


def matrix_picture(table: OriginTable, period: str) -> Picture:
    """Return the matrix: confirmed + suspected in each cell of the table, their sum in the picture."""
    basis = " ".join((say("Units presented in {period}.", period=period), words.sentence(table.denominator)))
    told = " ".join((basis, say("Each cell: confirmed + still only suspected."), say(BY_UNITS)))
    title = say("Where defects were made (rows) and where they were found (columns)")
    names = [row.origin for row in table.rows]
    counts = [_sums(row) for row in table.rows]
    return Picture(
        id="origin-matrix",
        title=title,
        says=table.sentence,
        basis=basis,
        table=origin_rows(table, told),
        scene=matrix_scene(names, _short(table), counts, say("made at"), say("found at")),
        cautions=_cautions(table),
    )


def _short(table: OriginTable) -> tuple[str, ...]:
    """Return the points as a picture's axis has room for them: codes, words for what is no station."""
    return tuple(say(NO_STATIONS[point]) if point in NO_STATIONS else point for point in table.points)


def _sums(row: OriginRow) -> tuple[int, ...]:
    return tuple(sure + guess for sure, guess in zip(row.confirmed, row.suspected, strict=True))


def _cautions(table: OriginTable) -> tuple[str, ...]:
    share = table.unknown_share
    if isinstance(share, TooLittle):
        return (table.follow_up,)  # the sentence says that nothing was found
    unknown = say_many(
        "{count} defect of unknown or disputed origin ({part}, {share}) stand in no row.",
        "{count} defects of unknown or disputed origin ({part}, {share}) stand in no row.",
        table.unknown_total,
        count=words.whole(table.unknown_total),
        part=words.of(share.defectives, share.inspected),
        share=words.percent(share.share),
    )
    return (unknown, table.follow_up)


def origin_rows(table: OriginTable, caption: str) -> Table:
    """Return one row an origin: confirmed + suspected at each point, the sum, the share with its interval."""
    columns = (
        Column(say("Made at"), numeric=False),
        *(Column(words.sentence(name)) for name in table.point_names),
        Column(say("Together")),
        Column(say("Share of known")),
    )
    rows = [
        Row(
            with_name(row.origin, row.name),
            (
                *(_cell(sure, guess) for sure, guess in zip(row.confirmed, row.suspected, strict=True)),
                words.whole(row.total),
                _interval(row.share),
            ),
        )
        for row in table.rows
    ]
    unknown = Row(
        say("Not known or disputed"),
        (*(words.whole(count) for count in table.counts.unknown), words.whole(table.unknown_total), "–"),
    )
    return Table(caption, columns, (*rows, unknown))


def _cell(sure: int, guess: int) -> str:
    if not sure and not guess:
        return "0"
    return f"{words.whole(sure)} + {words.whole(guess)}"


def _interval(answer: ShareInterval | TooLittle) -> str:
    if isinstance(answer, TooLittle):
        return say("too little to say")
    return f"{words.percent(answer.share)} ({interval_words(answer.low, answer.high, words.percent)})"


def passed_picture(table: OriginTable, period: str) -> Picture:
    """Return the share of the defects at each point that was found only later, with intervals."""
    title = say("What each point let through")
    says = passed_says(table)
    passed = say("Units presented in {period}. Passed: found later, of those found here and later.", period=period)
    basis = f"{passed} {say(BEFORE_POINT)} {say(BY_UNITS)} {table.follow_up}"
    dots = [_dot(line) for line in table.detection]
    return Picture(
        id="origin-passed",
        title=title,
        says=says,
        basis=basis,
        table=passed_table(table, basis),
        scene=dots_scene(dots, say("share passed"), words.percent),
    )


def passed_says(table: OriginTable) -> str:
    """Return the plain sentence: what the last end point let through, in numbers."""
    told = [
        say(
            "{point} found {found} and let {passed} through",
            point=line.name,
            found=words.whole(line.found),
            passed=words.whole(line.passed),
        )
        for line in table.detection
        if line.found or line.passed
    ]
    return f"{'; '.join(told)}." if told else say("No defect of known origin in this period.")


def _dot(line: PointLine) -> Dot:
    name = with_name(line.point, line.name)
    if isinstance(line.share_passed, TooLittle):
        return Dot(name, None, None, None, say("{point}: nothing was found here nor passed", point=name))
    share = line.share_passed
    part = words.of(line.passed, line.found + line.passed)
    told = say("{point}: {part} passed, {share}", point=name, part=part, share=_interval(share))
    return Dot(name, share.share, share.low, share.high, told)


def passed_table(table: OriginTable, caption: str) -> Table:
    """Return one row a point: all that it found in two parts, passed, share, those of unknown origin in each."""
    columns = (
        Column(say("Point"), numeric=False),
        Column(say("Found here, in all")),
        Column(say("Left out of the share")),
        Column(say("Found here, in the share")),
        Column(say("Found here, origin unknown")),
        Column(say("Passed, found later")),
        Column(say("Passed, origin unknown")),
        Column(say("Share passed (interval)")),
    )
    rows = [
        Row(
            with_name(line.point, line.name),
            (
                words.whole(line.found + line.left_out),
                words.whole(line.left_out),
                words.whole(line.found),
                words.whole(line.unknown_found),
                words.whole(line.passed),
                words.whole(line.unknown_passed),
                _interval(line.share_passed),
            ),
            mark="" if isinstance(line.share_passed, TooLittle) else with_name(line.point, line.name),
        )
        for line in table.detection
    ]
    return Table(caption, columns, tuple(rows))
