"""How a week stands to the limits of its chart, in words that end a sentence."""

from qc.domain.speaking import say


def against_limits(state: str, low: str, high: str) -> str:
    """Return "above the limits of 2 % to 9 %"; state: as a chart's point has it, low and high: written."""
    if state == "signal_high":
        return say("above the limits of {low} to {high}", low=low, high=high)
    if state == "signal_low":
        return say("below the limits of {low} to {high}", low=low, high=high)
    return say("inside the limits of {low} to {high}", low=low, high=high)
