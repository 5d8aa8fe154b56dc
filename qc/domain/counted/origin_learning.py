"""Count tables that origins are learned from: the finders' guesses, the leads' words, and what was made where."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SettledCell:
    """Defects of a type whose origin is confirmed or settled ("UNK": closed as not known).

    guess: whom the finder named before anybody answered, "" for nobody; denied: a lead passed it on or disputed it.
    """

    group: str
    type: str
    guess: str
    denied: bool
    origin: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCell:
    """Defects of a type whose origin is open (nobody's guess, suspected or disputed), found at a point on one model.

    suspected: the place that is suspected now, "" for nobody or where it is disputed; guess, denied as in SettledCell.
    line: as told of the unit.
    """

    group: str
    type: str
    guess: str
    denied: bool
    point: str
    model: str
    suspected: str
    count: int
    line: str = ""


@dataclass(frozen=True, slots=True)
class OriginLearning:
    """Settled and open defects of first presentations, on the units seen in a slice, in code order.

    Defects that were linked have one source and count once (`first_of_source`). units: those units, with a defect or
    without. What is found after dispatch is not among the defects.
    """

    settled: tuple[SettledCell, ...]
    open: tuple[OpenCell, ...]
    units: int


def first_of_source(linked: Sequence[tuple[str, str | None]]) -> dict[str, str]:
    """Return for each defect the first recorded of its source; linked: (id, the one it was linked to), as recorded.

    Whoever records a defect may link it to an earlier one of the same source. Links are followed through all of them:
    b linked to a and c to b are one source, and so are two that are linked to one that is not given (withdrawn, or on
    another unit). A defect without a link is a source of its own.
    """
    head: dict[str, str] = {}

    def head_of(one: str) -> str:
        while head.setdefault(one, one) != one:
            head[one] = head[head[one]]
            one = head[one]
        return one

    for defect, earlier in linked:
        if earlier is not None:
            head[head_of(defect)] = head_of(earlier)
    first: dict[str, str] = {}
    return {defect: first.setdefault(head_of(defect), defect) for defect, _ in linked}
