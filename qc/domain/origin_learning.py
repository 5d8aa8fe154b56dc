"""Count tables that origins are learned from: the finders' guesses, the leads' words, and what was made where."""

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


@dataclass(frozen=True, slots=True)
class OpenCell:
    """Defects of a type whose origin is open (nobody's guess, suspected or disputed), found at a point on one model.

    suspected: the place that is suspected now, "" for nobody or where it is disputed; guess, denied as in SettledCell.
    """

    group: str
    type: str
    guess: str
    denied: bool
    point: str
    model: str
    suspected: str
    count: int


@dataclass(frozen=True, slots=True)
class OriginLearning:
    """Settled and open defects of first presentations, on the units seen in a slice, in code order.

    units: those units, with a defect or without. What is found after dispatch is not among the defects.
    """

    settled: tuple[SettledCell, ...]
    open: tuple[OpenCell, ...]
    units: int
