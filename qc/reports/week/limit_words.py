"""How a week stands to the limits of its chart, in words that end a sentence."""

from qc.domain.counted.counts import WeekCounts
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import say


def against_limits(state: str, low: str, high: str) -> str:
    """Return "above the limits of 2 % to 9 %"; state: as a chart's point has it, low and high: written."""
    if state == "signal_high":
        return say("above the limits of {low} to {high}", low=low, high=high)
    if state == "signal_low":
        return say("below the limits of {low} to {high}", low=low, high=high)
    return say("inside the limits of {low} to {high}", low=low, high=high)


def none_presented(counts: WeekCounts, week: str) -> str:
    """Return that the judged week has no unit; where another is shown, which is not over, why that one is not said."""
    if counts.partial and week != counts.weeks[-1]:
        return say(
            "No unit was presented in {week}, the last whole week; the running one is judged once it is over.",
            week=week_words(week),
        )
    return say("No unit was presented in {week}.", week=week_words(week))
