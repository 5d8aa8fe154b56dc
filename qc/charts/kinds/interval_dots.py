"""Shares or rates of several things as dots with their intervals, on one scale, in the order given."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from qc.charts.drawing import words
from qc.charts.drawing.scene import Line, Mark, Marks, Places, Scene, Values
from qc.domain.words.speaking import say


@dataclass(frozen=True, slots=True)
class Dot:
    """One thing: label, value with its interval (all three None: too little to say), and its words."""

    label: str
    value: float | None
    low: float | None
    high: float | None
    hover: str


def dots_scene(
    dots: Sequence[Dot], value_words: str, write: Callable[[float | None], str], name: str = "", range_name: str = ""
) -> Scene:
    """Return the dots on their intervals; things without a value keep their line and say so.

    write: how a value is written, per cent for shares; name, range_name: for the key, "" for none.
    """
    spans = [(x, dot.label) for dot in dots if dot.low is not None for x in (dot.low, dot.high, None)]
    marks = tuple(
        Mark(
            x=dot.value,
            y=dot.label,
            hover=(dot.hover,),
            word=_word(dot, write),
            key="" if dot.value is None else dot.label,
        )
        for dot in dots
    )
    return Scene(
        Values(value_words, as_percent=write is words.percent),
        Places("", tuple(dot.label for dot in dots)),
        (Line("line", range_name, tuple(spans)), Marks("point", name, marks)),
    )


def _word(dot: Dot, write: Callable[[float | None], str]) -> str:
    return say("too little to say") if dot.value is None else write(dot.value)


def interval_words(low: float | None, high: float | None, write: Callable[[float | None], str]) -> str:
    """Return an interval in words, "too little to say" where there is none."""
    if low is None or high is None:
        return say("too little to say")
    return f"{write(low)} {words.DASH} {write(high)}"
