"""Things in order of size, as lying bars, each with a tick for what a longer time would lead one to expect."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.charts.drawing import words
from qc.charts.drawing.scene import Bar, Bars, Mark, Marks, Places, Scene, Values


@dataclass(frozen=True, slots=True)
class Amount:
    """One thing: its label, its value, the expected value beside it (None: nothing to compare with), and its words."""

    label: str
    value: float
    expected: float | None
    hover: str


def bars_scene(amounts: Sequence[Amount], value_words: str, expected_words: str) -> Scene:
    """Return lying bars, the greatest on top, and ticks for what was expected."""
    bars = [
        Bar(place=one.label, start=0, length=one.value, hover=(one.hover,), word=words.whole(one.value), key=one.label)
        for one in amounts
    ]
    expected = [Mark(x=one.expected, y=one.label, hover=()) for one in amounts]
    return Scene(
        Values(value_words),
        Places("", tuple(one.label for one in amounts)),
        (Bars("bar", value_words, tuple(bars)), Marks("tick", expected_words, tuple(expected))),
    )
