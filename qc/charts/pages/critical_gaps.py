"""Units between criticals: each gap at the day of the critical that ended it, the open gap hollow."""

from dataclasses import replace

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Look
from qc.charts.kinds.run_chart import RunWords, State, chart_points, run_picture
from qc.charts.pages.level import method_words
from qc.domain.words.speaking import marked, say
from qc.reports.week.critical_gaps import CriticalGaps

WHY = marked("Exact limits, because gaps between rare events follow no bell curve")
NAMES: dict[Look, str] = {
    "point": marked("a gap, at the day of the critical that ended it"),
    "signal": marked("outside the usual range: low is the bad side"),
    "hollow": marked("the gap since the last one: still open, not judged"),
    "limit": marked("usual range (95 of 100 gaps by chance alone)"),
    "centre": marked("median gap of the baseline: half of all gaps are no longer by chance alone"),
}
STATES: dict[State, str] = {
    "in": marked("usual"),
    "signal_high": marked("longer than usual"),
    "signal_low": marked("shorter than usual"),
    "gap": "–",
    "partial": marked("still open"),
}
BASIS = marked(
    "Units that every end point of their build has presented, between one critical and the next, by whole days, "
    "wherever the critical was found; short gaps are the bad news."
)


def gaps_picture(gaps: CriticalGaps) -> Picture:
    """Return the chart of gaps; its rows name the critical that ended each."""
    # The mean lies above most gaps, so that most would seem short; the line is drawn where half of them lie below.
    points = [
        replace(point, centre=gaps.chart.median or 0.0, beside=ended or say("nothing yet"))
        for point, ended in zip(chart_points(gaps.chart), gaps.ended_by, strict=True)
    ]
    spoken = RunWords(
        say("Units between"),
        say("Ended by"),
        lambda value: words.DASH if value is None else words.whole(value),
        period=say("Found"),
        states={state: say(told) for state, told in STATES.items()},
        names={look: say(told) for look, told in NAMES.items()},
    )
    title, basis = say("Units between criticals"), say(BASIS)
    drawn = run_picture("critical-gaps", title, gaps.sentence, basis, points, spoken, gaps.chart.cautions)
    return replace(drawn, method=method_words(gaps.chart, say(WHY)))
