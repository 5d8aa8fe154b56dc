"""The station lead's pictures: own defects by the day of the work and of presentation, usual range beside."""

from collections.abc import Sequence
from dataclasses import replace

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.charts.kinds.week_notes import WeekNote, with_notes
from qc.charts.kinds.week_stacks import StackWeek, StackWords, stack_picture
from qc.domain.plant.naming import with_name
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.stations.station import StationReport, StationTrend, UsualRange, WeekDot
from qc.stats.answers import TooLittle

TITLES = {
    "work": marked("Defects made at {station}, by the day the work was done"),
    "found": marked("Defects made at {station}, by the day the unit was presented"),
}
STATE_WORDS = {
    "usual": marked("usual"),
    "more": marked("more than usual"),
    "fewer": marked("fewer than usual"),
    "partial": marked("not over"),
    "no units": marked("no units"),
    "too little": marked("too little to say"),
}
ROW_STATES: dict[str, RowState] = {"more": "signal", "fewer": "low", "partial": "partial"}


def trend_picture(station: str, trend: StationTrend, notes: Sequence[WeekNote] = ()) -> Picture:
    """Return one station's weeks on one basis; confirmed and suspected stand apart; notes: what changed and when."""
    picture = stack_picture(
        f"trend-{trend.basis}",
        say(TITLES[trend.basis], station=station),
        trend.sentence,
        words.sentence(trend.counts.denominator),
        [_week(dot) for dot in trend.dots],
        StackWords(say("confirmed"), say("suspected"), say("Units")),
        trend.cautions,
    )
    return with_notes(replace(picture, method=_method(trend.dots)), notes)


def _week(dot: WeekDot) -> StackWeek:
    usual = dot.usual if isinstance(dot.usual, UsualRange) else None
    return StackWeek(
        label=dot.week,
        first=dot.confirmed,
        second=dot.suspected,
        exposed=dot.exposed,
        low=float(usual.low) if usual else None,
        high=float(usual.high) if usual else None,
        reading=say(STATE_WORDS[dot.state]),
        state=ROW_STATES.get(dot.state, ""),
    )


def _method(dots: tuple[WeekDot, ...]) -> tuple[str, ...]:
    for dot in reversed(dots):
        if isinstance(dot.usual, UsualRange):
            usual = dot.usual
            return (
                say_many(
                    "The usual range rests on {units} unit of {weeks}.",
                    "The usual range rests on {units} units of {weeks}.",
                    usual.units,
                    units=words.whole(usual.units),
                    weeks=usual.rests_on,
                ),
                say("It holds {share} of weeks: {method}.", share=words.percent(usual.level), method=say(usual.method)),
            )
    return ()


def usual_words(usual: UsualRange | TooLittle) -> str:
    """Return a usual range in words, "too little to say" where there is none."""
    if isinstance(usual, TooLittle):
        return say("too little to say")
    return words.between(usual.low, usual.high)


def types_table(report: StationReport) -> Table:
    """Return the station's types: the week and the weeks before, confirmed and suspected apart."""
    heads = (
        say("Week, confirmed"),
        say("Week, suspected"),
        say("Usual in a week"),
        say("Weeks before, confirmed"),
        say("Weeks before, suspected"),
    )
    columns = (Column(say("Type"), numeric=False), *(Column(head) for head in heads))
    rows = [
        Row(
            with_name(line.type, line.type_name),
            (
                words.whole(line.week_confirmed),
                words.whole(line.week_suspected),
                usual_words(line.usual),
                words.whole(line.before_confirmed),
                words.whole(line.before_suspected),
            ),
            _beyond(line.week_confirmed + line.week_suspected, line.usual),
        )
        for line in report.types
    ]
    caption = say(
        "Types made at {station}, on units presented in {week}. {exposed}",
        station=report.station,
        week=report.week.name,
        exposed=words.sentence(report.by_found.counts.denominator),
    )
    return Table(caption, columns, tuple(rows))


def _beyond(count: int, usual: UsualRange | TooLittle) -> RowState:
    if isinstance(usual, TooLittle):
        return ""
    return "signal" if count > usual.high else "low" if count < usual.low else ""
