"""A signal in a sentence: what, how much, since when, how sure."""

from collections.abc import Sequence
from math import isinf

from qc.reports.watch.watching import LEVEL, Moved
from qc.reports.wording import counted
from qc.stats.answers import TooLittle


def signal_sentence(moved: Moved, weeks: Sequence[str], place: str, name: str) -> str:
    """Return a signal in words; weeks are the names of the table's weeks."""
    series = moved.series
    more = "more" if moved.direction == "up" else "fewer"
    until = f" to {weeks[moved.over]}" if moved.over is not None else ""
    told = (
        f"{series.station} {place}, {name}: {more} than usual, {counted(moved.observed, 'defect')} where "
        f"{moved.expected:.1f} were to be expected from {weeks[moved.begun]}{until}"
    )
    return f"{told}{_times(moved)}. {_since(moved, weeks)} {by_chance_words(moved.by_chance)}"


def _times(moved: Moved) -> str:
    ratio = moved.ratio
    if isinstance(ratio, TooLittle):
        return ""
    high = "no upper limit" if isinf(ratio.high) else f"{ratio.high:.1f}"
    return f" ({ratio.ratio:.1f} times, {ratio.low:.1f} to {high} at {LEVEL * 100:.0f} %)"


def _since(moved: Moved, weeks: Sequence[str]) -> str:
    first, last = weeks[moved.since[0]], weeks[moved.since[1]]
    when = f"in {first}" if first == last else f"between {first} and {last}"
    if moved.rule == "drift":
        return f"It rose little by little, no week stood out at first; as one step it would have begun {when}."
    return f"It began {when}."


def by_chance_words(number: float) -> str:
    """Return how many signals as strong chance alone would have raised."""
    if number < 0.001:
        return "Chance alone would hardly ever raise one as strong (fewer than 1 in 1000 such watches)."
    if number < 0.1:
        return f"Chance alone would raise one as strong in {number * 1000:.0f} of 1000 such watches."
    return (
        f"Chance alone would raise {number:.1f} as strong in everything watched since the baseline: look before acting."
    )
