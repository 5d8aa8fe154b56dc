"""A signal in a sentence: what, how much, since when, how sure."""

from collections.abc import Sequence
from math import isinf

from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import figure, say
from qc.reports.how_many import defects
from qc.reports.watch.watching import LEVEL, Moved
from qc.stats.answers import TooLittle


def signal_sentence(moved: Moved, weeks: Sequence[str], place: str, name: str) -> str:
    """Return a signal in words; weeks are the names of the table's weeks."""
    values = {
        "place": f"{moved.series.station} {place}",
        "name": name,
        "defects": defects(moved.observed),
        "expected": moved.expected,
        "span": _span(moved, weeks),
    }
    if moved.direction == "up":
        told = say(
            "{place}, {name}: more than usual, {defects} where {expected:.1f} were to be expected {span}", **values
        )
    else:
        told = say(
            "{place}, {name}: fewer than usual, {defects} where {expected:.1f} were to be expected {span}", **values
        )
    return f"{told}{_times(moved)}. {_since(moved, weeks)} {by_chance_words(moved.by_chance)}"


def _span(moved: Moved, weeks: Sequence[str]) -> str:
    begun = week_words(weeks[moved.begun])
    if moved.over is None:
        return say("from {week}", week=begun)
    return say("from {week} to {last}", week=begun, last=week_words(weeks[moved.over]))


def _times(moved: Moved) -> str:
    ratio = moved.ratio
    if isinstance(ratio, TooLittle):
        return ""
    high = say("no upper limit") if isinf(ratio.high) else figure(ratio.high, ".1f")
    told = say(
        "({ratio:.1f} times, {low:.1f} to {high} at {level:.0f} %)",
        ratio=ratio.ratio,
        low=ratio.low,
        high=high,
        level=LEVEL * 100,
    )
    return f" {told}"


def _since(moved: Moved, weeks: Sequence[str]) -> str:
    first, last = (week_words(weeks[place]) for place in moved.since)
    when = say("in {week}", week=first) if first == last else say("between {week} and {last}", week=first, last=last)
    if moved.rule == "drift":
        return say(
            "It rose little by little, no week stood out at first; as one step it would have begun {when}.", when=when
        )
    return say("It began {when}.", when=when)


def by_chance_words(number: float) -> str:
    """Return how many signals as strong chance alone would have raised."""
    if number < 0.001:
        return say("Chance alone would hardly ever raise one as strong (fewer than 1 in 1000 such watches).")
    if number < 0.1:
        return say("Chance alone would raise one as strong in {number:.0f} of 1000 such watches.", number=number * 1000)
    return say(
        "Chance alone would raise {number:.1f} as strong in everything watched since the baseline: look before acting.",
        number=number,
    )
