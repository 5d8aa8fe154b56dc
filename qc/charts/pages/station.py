"""The station lead's pictures: own defects by the day of the work and of presentation, usual range beside."""

from collections.abc import Sequence
from dataclasses import replace

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.charts.kinds.week_notes import WeekNote, with_notes
from qc.charts.kinds.week_stacks import StackWeek, StackWords, stack_picture
from qc.domain.naming import with_name
from qc.reports.stations.station import StationReport, StationTrend, UsualRange, WeekDot
from qc.stats.answers import TooLittle

BASIS_WORDS = {"work": "by the day the work was done", "found": "by the day the unit was presented"}
STATE_WORDS = {
    "usual": "usual",
    "more": "more than usual",
    "fewer": "fewer than usual",
    "partial": "not over",
    "no units": "no units",
    "too little": "too little to say",
}
ROW_STATES: dict[str, RowState] = {"more": "signal", "fewer": "low", "partial": "partial"}
SPOKEN = StackWords("confirmed", "suspected", "Units")


def trend_picture(station: str, trend: StationTrend, notes: Sequence[WeekNote] = ()) -> Picture:
    """Return one station's weeks on one basis; confirmed and suspected stand apart; notes: what changed and when."""
    basis = BASIS_WORDS[trend.basis]
    picture = stack_picture(
        f"trend-{trend.basis}",
        f"Defects made at {station}, {basis}",
        trend.sentence,
        words.sentence(trend.counts.denominator),
        [_week(dot) for dot in trend.dots],
        SPOKEN,
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
        reading=STATE_WORDS[dot.state],
        state=ROW_STATES.get(dot.state, ""),
    )


def _method(dots: tuple[WeekDot, ...]) -> tuple[str, ...]:
    for dot in reversed(dots):
        if isinstance(dot.usual, UsualRange):
            usual = dot.usual
            return (
                f"The usual range rests on {words.counted(usual.units, 'unit')} of {usual.rests_on}.",
                f"It holds {words.percent(usual.level)} of weeks: {usual.method}.",
            )
    return ()


def usual_words(usual: UsualRange | TooLittle) -> str:
    """Return a usual range in words, "too little to say" where there is none."""
    if isinstance(usual, TooLittle):
        return "too little to say"
    return words.between(usual.low, usual.high)


def types_table(report: StationReport) -> Table:
    """Return the station's types: the week and the weeks before, confirmed and suspected apart."""
    heads = (
        "Week, confirmed",
        "Week, suspected",
        "Usual in a week",
        "Weeks before, confirmed",
        "Weeks before, suspected",
    )
    columns = (Column("Type", numeric=False), *(Column(head) for head in heads))
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
    return Table(
        f"Types made at {report.station}, on units presented in {report.week.name}. "
        f"{words.sentence(report.by_found.counts.denominator)}",
        columns,
        tuple(rows),
    )


def _beyond(count: int, usual: UsualRange | TooLittle) -> RowState:
    if isinstance(usual, TooLittle):
        return ""
    return "signal" if count > usual.high else "low" if count < usual.low else ""
