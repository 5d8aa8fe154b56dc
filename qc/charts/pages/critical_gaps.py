"""Units between criticals: each gap at the day of the critical that ended it, the open gap hollow."""

from dataclasses import replace

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Look
from qc.charts.kinds.run_chart import RunWords, chart_points, run_picture
from qc.charts.pages.level import method_words
from qc.domain.counts import PRESENTED
from qc.reports.week.critical_gaps import CriticalGaps

WHY = "Exact limits, because gaps between rare events follow no bell curve"
NAMES: dict[Look, str] = {
    "point": "a gap, at the day of the critical that ended it",
    "signal": "outside the usual range: low is the bad side",
    "hollow": "the gap since the last one: still open, not judged",
    "limit": "usual range (95 of 100 gaps by chance alone)",
    "centre": "median gap of the baseline: half of all gaps are no longer by chance alone",
}
SPOKEN = RunWords(
    "Units between",
    "Ended by",
    lambda value: words.DASH if value is None else words.whole(value),
    period="Found",
    states={
        "in": "usual",
        "signal_high": "longer than usual",
        "signal_low": "shorter than usual",
        "gap": "–",
        "partial": "still open",
    },
    names=NAMES,
)
BASIS = (
    f"{PRESENTED.capitalize()}, between one critical and the next, by whole days, wherever the critical was found; "
    "short gaps are the bad news."
)


def gaps_picture(gaps: CriticalGaps) -> Picture:
    """Return the chart of gaps; its rows name the critical that ended each."""
    # The mean lies above most gaps, so that most would seem short; the line is drawn where half of them lie below.
    points = [
        replace(point, centre=gaps.chart.median or 0.0, beside=ended or "nothing yet")
        for point, ended in zip(chart_points(gaps.chart), gaps.ended_by, strict=True)
    ]
    drawn = run_picture(
        "critical-gaps", "Units between criticals", gaps.sentence, BASIS, points, SPOKEN, gaps.chart.cautions
    )
    return replace(drawn, method=method_words(gaps.chart, WHY))
