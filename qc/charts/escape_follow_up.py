"""Escapes by point on the weeks that were followed up, and by build week with how complete each is: tables."""

from qc.charts import words
from qc.charts.interval_dots import interval_words
from qc.charts.table import Column, Row, Table
from qc.reports.escape_follow_up import BuildWeek, EscapeFollowUp
from qc.stats.answers import TooLittle
from qc.stats.escapes import FollowUp
from qc.stats.intervals import ShareInterval


def escape_points_table(report: EscapeFollowUp) -> Table:
    """Return one row a point: found and passed on the complete weeks with the share, and on all weeks beside."""
    columns = (
        Column("Point", numeric=False),
        Column("Found here, complete weeks"),
        Column("Passed, found later"),
        Column("Share passed (interval)"),
        Column("Found here, all weeks"),
        Column("Passed so far, all weeks"),
    )
    rows = [
        Row(
            f"{line.point} {line.name}",
            (
                words.whole(line.found),
                words.whole(line.passed),
                _share(line.share),
                words.whole(line.all_found),
                words.whole(line.all_passed),
            ),
        )
        for line in report.points
    ]
    caption = (
        f"What each point let through, {words.counted(report.complete, 'complete week')} of {report.period.name}. Of "
        "types and origins that the point was meant to find."
    )
    return Table(caption, columns, tuple(rows))


def build_weeks_table(report: EscapeFollowUp) -> Table:
    """Return the build weeks, newest first, with how far each is followed up."""
    columns = (
        Column("Units presented in", numeric=False),
        Column("Units"),
        Column(f"Followed up {report.followed_days} days"),
        Column("Found at the points"),
        Column("Found after dispatch"),
        Column("Reading", numeric=False),
    )
    rows = [_week(one) for one in reversed(report.weeks)]
    return Table(f"Findings by build week, {report.period.name}", columns, tuple(rows))


def _week(one: BuildWeek) -> Row:
    part = "no units"
    if isinstance(one.follow, FollowUp):
        part = f"{words.of(one.follow.followed, one.follow.units)}, {one.follow.share * 100:.0f}\u00a0%"
    reading = "complete" if one.is_complete else "still growing" if one.units else "no units"
    cells = (words.whole(one.units), part, words.whole(one.at_points), words.whole(one.after_dispatch), reading)
    return Row(one.week, cells, "partial" if reading == "still growing" else "")


def _share(answer: ShareInterval | TooLittle) -> str:
    if isinstance(answer, TooLittle):
        return "too little to say"
    return f"{words.percent(answer.share)} ({interval_words(answer.low, answer.high, words.percent)})"
