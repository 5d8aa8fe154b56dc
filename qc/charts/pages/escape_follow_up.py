"""Escapes by point on the weeks that were followed up, and by build week with how complete each is."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, Table
from qc.charts.kinds.interval_dots import Dot, dots_scene, interval_words
from qc.charts.pages.origin_table import BEFORE_POINT
from qc.domain.counts import LEFT
from qc.domain.naming import with_name
from qc.reports.week.escape_follow_up import BuildWeek, EscapeFollowUp, PointEscape
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval
from qc.stats.origins.escapes import FollowUp

ID = "escapes"


def escape_picture(report: EscapeFollowUp) -> Picture:
    """Return what each point let through on the complete weeks: the shares that hardly grow any more."""
    title = "What each point let through, weeks followed up"
    table = escape_points_table(report)
    dots = [_dot(line) for line in report.points]
    return Picture(
        id=ID,
        title=title,
        says=report.sentence,
        basis=table.caption,
        table=table,
        scene=dots_scene(dots, "share passed", words.percent),
    )


def _dot(line: PointEscape) -> Dot:
    name = with_name(line.point, line.name)
    if isinstance(line.share, TooLittle):
        return Dot(name, None, None, None, f"{name}: nothing was found here nor passed")
    told = f"{name}: {words.of(line.passed, line.found + line.passed)} passed, {_share(line.share)}"
    return Dot(name, line.share.share, line.share.low, line.share.high, told)


def escape_points_table(report: EscapeFollowUp) -> Table:
    """Return one row a point: found and passed on the complete weeks with the share, and on all weeks beside."""
    columns = (
        Column("Point", numeric=False),
        Column("Found here, units followed up"),
        Column("Passed, found later"),
        Column("Share passed (interval)"),
        Column("Found here, all units"),
        Column("Passed so far, all units"),
    )
    rows = [
        Row(
            with_name(line.point, line.name),
            (
                words.whole(line.found),
                words.whole(line.passed),
                _share(line.share),
                words.whole(line.all_found),
                words.whole(line.all_passed),
            ),
            mark="" if isinstance(line.share, TooLittle) else with_name(line.point, line.name),
        )
        for line in report.points
    ]
    caption = (
        f"What each point let through, {words.counted(report.complete, 'complete week')} of {report.period.name}: the "
        f"{words.counted(report.units, 'unit')} that left more than {report.followed_days} days ago, up to day "
        f"{report.followed_days} after each left. {LEFT} {BEFORE_POINT}"
    )
    return Table(caption, columns, tuple(rows))


def build_weeks_table(report: EscapeFollowUp) -> Table:
    """Return the build weeks, newest first, with how far each is followed up."""
    columns = (
        Column("Units presented in", numeric=False),
        Column("Units"),
        Column(f"Of those that left, followed up {report.followed_days} days"),
        Column("Found at the points"),
        Column(f"Found after dispatch, to day {report.followed_days}"),
        Column("Later, apart"),
        Column("Reading", numeric=False),
    )
    rows = [_week(one) for one in reversed(report.weeks)]
    return Table(f"Findings by build week, {report.period.name}", columns, tuple(rows))


def _week(one: BuildWeek) -> Row:
    part = "none has left" if one.units else "no units"
    if isinstance(one.follow, FollowUp):
        part = f"{words.of(one.follow.followed, one.follow.units)}, {one.follow.share * 100:.0f}\u00a0%"
    reading = "complete" if one.is_complete else "still growing" if one.units else "no units"
    found = (words.whole(one.at_points), words.whole(one.after_dispatch), words.whole(one.later))
    cells = (words.whole(one.units), part, *found, reading)
    return Row(one.week, cells, "partial" if reading == "still growing" else "")


def _share(answer: ShareInterval | TooLittle) -> str:
    if isinstance(answer, TooLittle):
        return "too little to say"
    return f"{words.percent(answer.share)} ({interval_words(answer.low, answer.high, words.percent)})"
