"""First-pass both ways by week: with no critical or major, and with nothing at all; the severity is always said."""

from dataclasses import replace

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.kinds.run_chart import RunPoint, chart_points, marked_by_meaning
from qc.charts.kinds.week_lines import Line, LineWords, lines_picture
from qc.charts.pages.level import method_of, no_range
from qc.domain.counted.counts import FirstPassWeeks
from qc.domain.words.speaking import say
from qc.reports.week.first_pass import NO_MAJOR, NOTHING, FirstPassBoth, FirstPassLine
from qc.stats.answers import TooLittle


def first_pass_picture(part: FirstPassLine, denominator: str) -> Picture:
    """Return the two lines of one point, or of the whole line; the first against its limits."""
    weeks, chart = part.weeks, part.chart
    judged: tuple[RunPoint, ...]
    cautions: tuple[str, ...]
    method: tuple[str, ...]
    if isinstance(chart, TooLittle):
        judged, cautions, method = (), (no_range(chart),), ()
    else:
        judged, cautions = chart_points(chart, part.runs), (*part.cautions, *chart.cautions)
        method = method_of(say("the share with no critical or major"), chart, part.why)
    drawn = lines_picture(
        f"first-pass-{part.point.lower()}",
        say("First-pass at {point}", point=part.name),
        part.sentence,
        words.sentence(denominator),
        weeks.weeks,
        weeks.partial,
        (_line(say(NO_MAJOR), weeks.clean_major, weeks), _line(say(NOTHING), weeks.clean_all, weeks)),
        LineWords(say("First-pass"), words.percent, as_percent=True),
        cautions,
        judged,
    )
    return replace(drawn, table=marked_by_meaning(drawn.table, chart), method=method)


def _line(name: str, clean: tuple[int, ...], weeks: FirstPassWeeks) -> Line:
    return Line(
        name,
        tuple(part / whole if whole else None for part, whole in zip(clean, weeks.presented, strict=True)),
        say("clean, of units presented"),
        tuple(words.of(part, whole) for part, whole in zip(clean, weeks.presented, strict=True)),
    )


def first_pass_pictures(both: FirstPassBoth) -> tuple[Picture, ...]:
    """Return one picture a point: the line first, then the end points."""
    return tuple(first_pass_picture(part, both.denominator) for part in both.lines)
