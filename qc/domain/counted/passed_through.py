"""Count table of what a station received with a defect in it, and what was found only later."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PassedCell:
    """Defects of one origin upstream and one type that were found further on. confirmed and suspected add up to all.

    after_dispatch: those of all that were found after dispatch.
    """

    origin: str
    type: str
    confirmed: int
    suspected: int
    after_dispatch: int


@dataclass(frozen=True, slots=True)
class PassedThrough:
    """What came to a station from upstream, on units seen in a slice whose build contains the station; code order.

    At a station that is asked to find defects, cells hold the types that are meant to be found by then, and not_asked
    counts the others; elsewhere cells hold all. units: all those units; units_with: those with a defect of the cells.
    """

    station: str
    cells: tuple[PassedCell, ...]
    units: int
    units_with: int
    not_asked: int
