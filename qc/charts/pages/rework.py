"""Usual rework minutes a unit by week, with the minutes and the units that they are made of."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.kinds.week_lines import Line, LineWords, lines_picture
from qc.domain.words.speaking import say
from qc.reports.week.rework import ReworkMinutes, ReworkWeek


def rework_picture(rework: ReworkMinutes) -> Picture:
    """Return the line of minutes a unit; it has no limits: minutes are sums of unlike defects."""
    weeks = rework.weeks
    line = Line(
        say("minutes a unit"),
        tuple(week.a_unit for week in weeks),
        say("usual minutes, on units presented"),
        tuple(_counts(week) for week in weeks),
    )
    return lines_picture(
        "rework-minutes",
        say("Rework minutes a unit"),
        rework.sentence,
        rework.denominator,
        [week.week for week in weeks],
        bool(weeks) and weeks[-1].partial,
        (line,),
        LineWords(say("Minutes a unit"), _minutes),
    )


def _counts(week: ReworkWeek) -> str:
    return say("{minutes} on {units}", minutes=words.whole(week.minutes), units=words.whole(week.units))


def _minutes(value: float | None) -> str:
    return say("no units") if value is None else words.whole(value)
