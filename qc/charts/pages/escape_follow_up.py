"""Escapes by point on the weeks that were followed up, and by build week with how complete each is."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, Table
from qc.charts.kinds.interval_dots import Dot, dots_scene, interval_words
from qc.charts.pages.origin_table import BEFORE_POINT, BY_UNITS
from qc.domain.counted.counts import LEFT
from qc.domain.plant.naming import with_name
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import say, say_many
from qc.reports.week.escape_follow_up import BuildWeek, EscapeFollowUp, PointEscape
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval
from qc.stats.origins.escapes import FollowUp

ID = "escapes"


def escape_picture(report: EscapeFollowUp) -> Picture:
    """Return what each point let through on the complete weeks: the shares that hardly grow any more."""
    title = say("What each point let through, weeks followed up")
    table = escape_points_table(report)
    dots = [_dot(line) for line in report.points]
    return Picture(
        id=ID,
        title=title,
        says=report.sentence,
        basis=table.caption,
        table=table,
        scene=dots_scene(dots, say("share passed"), words.percent),
    )


def _dot(line: PointEscape) -> Dot:
    name = with_name(line.point, line.name)
    if isinstance(line.share, TooLittle):
        return Dot(name, None, None, None, say("{point}: nothing was found here nor passed", point=name))
    part = words.of(line.passed, line.found + line.passed)
    told = say("{point}: {part} passed, {share}", point=name, part=part, share=_share(line.share))
    return Dot(name, line.share.share, line.share.low, line.share.high, told)


def escape_points_table(report: EscapeFollowUp) -> Table:
    """Return one row a point: found and passed on the complete weeks with the share, and on all weeks beside."""
    columns = (
        Column(say("Point"), numeric=False),
        Column(say("Found here, units followed up")),
        Column(say("Passed, found later")),
        Column(say("Share passed (interval)")),
        Column(say("Found here, all units")),
        Column(say("Passed so far, all units")),
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
    caption = say_many(
        "What each point let through, {number} complete week of {period}: the {units} that left more than {days} days "
        "ago, up to day {days} after each left.",
        "What each point let through, {number} complete weeks of {period}: the {units} that left more than {days} days "
        "ago, up to day {days} after each left.",
        report.complete,
        period=report.period.name,
        units=_units(report.units),
        days=report.followed_days,
    )
    caption = f"{caption} {say(LEFT)} {say(BEFORE_POINT)} {say(BY_UNITS)}"
    return Table(caption, columns, tuple(rows))


def build_weeks_table(report: EscapeFollowUp) -> Table:
    """Return the build weeks, newest first, with how far each is followed up."""
    columns = (
        Column(say("Units presented in"), numeric=False),
        Column(say("Units")),
        Column(say("Of those that left, followed up {days} days", days=report.followed_days)),
        Column(say("Found at the points")),
        Column(say("Found after dispatch, to day {day}", day=report.followed_days)),
        Column(say("Later, apart")),
        Column(say("Reading"), numeric=False),
    )
    rows = [_week(one) for one in reversed(report.weeks)]
    return Table(say("Findings by build week, {period}", period=report.period.name), columns, tuple(rows))


def _units(number: int) -> str:
    return say_many("{count} unit", "{count} units", number, count=words.whole(number))


def _week(one: BuildWeek) -> Row:
    part = say("none has left") if one.units else say("no units")
    if isinstance(one.follow, FollowUp):
        part = f"{words.of(one.follow.followed, one.follow.units)}, {one.follow.share * 100:.0f}\u00a0%"
    grows = bool(one.units) and not one.is_complete
    reading = say("still growing") if grows else say("complete") if one.is_complete else say("no units")
    found = (words.whole(one.at_points), words.whole(one.after_dispatch), words.whole(one.later))
    cells = (words.whole(one.units), part, *found, reading)
    return Row(week_words(one.week), cells, "partial" if grows else "")


def _share(answer: ShareInterval | TooLittle) -> str:
    if isinstance(answer, TooLittle):
        return say("too little to say")
    return f"{words.percent(answer.share)} ({interval_words(answer.low, answer.high, words.percent)})"
