"""Defects counted unit by unit, as sums from which the scatter of their shares follows.

Defects come in units: one bad panel, one wrong jig makes several on one unit, all of one origin and found at one point.
How sure a share of defects is, shows in how it differs from unit to unit; what is summed here is all that it takes.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PartByUnit:
    """A part of a whole, both in defects, summed over units. All are whole numbers of at least 0.

    part, whole: their sums. part_squares, products, whole_squares: sums over the units of part x part, part x whole
    and whole x whole. units: those with any of the whole; a unit without any counts nothing.
    """

    part: int = 0
    whole: int = 0
    part_squares: int = 0
    products: int = 0
    whole_squares: int = 0
    units: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectsByUnit:
    """The defects of a slice's units by origin and by what each point let through, as in `OriginDetection` and
    `PointFindings` of the same slice.

    origins: that have any, in code order; made: of the defects of known origin, in their order; unknown: of all
    defects, those of unknown or disputed origin. points: in flow order; passed: of what each found and passed, what it
    passed. after_dispatch: of all defects, those found after dispatch.
    """

    origins: tuple[str, ...]
    made: tuple[PartByUnit, ...]
    unknown: PartByUnit
    points: tuple[str, ...]
    passed: tuple[PartByUnit, ...]
    after_dispatch: PartByUnit

    def made_at(self, origin: str) -> PartByUnit:
        """Return the part of one origin; one without a defect has nothing of the same whole."""
        if origin in self.origins:
            return self.made[self.origins.index(origin)]
        return PartByUnit()


def part_by_unit(units: Iterable[tuple[int, int]]) -> PartByUnit:
    """Return the sums over units of (part, whole), 0 <= part <= whole; a unit whose whole is 0 counts nothing."""
    return parts_by_unit(({"": part}, whole) for part, whole in units).get("", PartByUnit())


def parts_by_unit(units: Iterable[tuple[Mapping[str, int], int]]) -> dict[str, PartByUnit]:
    """Return the sums of each part of one whole, by name, from (parts by name, whole) of each unit."""
    sums: dict[str, list[int]] = {}
    whole = whole_squares = number = 0
    for parts, every in units:
        whole, number, whole_squares = whole + every, number + (every > 0), whole_squares + every * every
        for name, part in parts.items():
            own = sums.get(name) or sums.setdefault(name, [0, 0, 0])
            own[0] += part
            own[1] += part * part
            own[2] += part * every
    return {
        name: PartByUnit(
            part=part,
            whole=whole,
            part_squares=part_squares,
            products=products,
            whole_squares=whole_squares,
            units=number,
        )
        for name, (part, part_squares, products) in sums.items()
    }
