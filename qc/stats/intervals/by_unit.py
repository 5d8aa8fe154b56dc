"""Intervals for shares of defects that come in units: several of one cause lie on one unit and go together.

An interval that takes each defect as drawn by itself is too narrow then: where causes make four defects on one unit
it holds the truth in 55 of 100, not 95. Here a share is a ratio of sums over units, and its interval is Wilson's on so
many defects, drawn one by one, as would scatter as much.
"""

from collections.abc import Sequence

from qc.domain.counted.by_unit import PartByUnit
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval, wilson_of_size
from qc.stats.refusals import demand_count, demand_kind, demand_level, demand_list, demand_part

METHOD = "Wilson by units"
LARGEST_SUM = 10**18  # of squares and products: a sum of squares is no larger than the square of the sum


def shares_by_unit(
    rows: Sequence[PartByUnit], level: float, beside: Sequence[PartByUnit] = ()
) -> tuple[ShareInterval | TooLittle, ...]:
    """Return the interval of each row's share part / whole, for rows of one table, in their order.

    beside: further rows of the table, whose scatter is learned from and whose intervals are not asked for. Each is
    Wilson's on whole / design effect defects (see design_effects); where no unit has two defects it is Wilson's on the
    whole. defectives and inspected of an answer are part and whole, in defects. A whole of 0 answers TooLittle.
    Raises ValueError naming the row and what of it cannot be, or the level.
    Source: Wilson's interval on the effective number, Korn & Graubard (1998), Survey Methodology 24, 193-201, and Dean
    & Pagano (2015), J. Survey Statistics and Methodology 3, 484-503 (both from memory).
    """
    level = demand_level(level)
    effects = design_effects(rows, beside)
    return tuple(
        wilson_of_size(row.part, row.whole, row.whole / effect, level, METHOD)
        for row, effect in zip(rows, effects, strict=True)
    )


def design_effects(rows: Sequence[PartByUnit], beside: Sequence[PartByUnit] = ()) -> tuple[float, ...]:
    """Return for each row how many times as much its share scatters as one of defects drawn one by one, at least 1.

    A share scatters as a ratio of sums over units does, by linearisation, against p (1 - p) / n. A row's own effect is
    noisy, and cannot be seen where its share is 0 or 1; the rows' together is steady, and too small for the one row
    whose causes make many. So the larger of the two is taken. Where neither can be seen, all of a unit's defects are
    taken as alike, the most that can be; so they are with a weight of units ^ -1.5 in every row, since few units
    cannot show how alike theirs are (all of the weight with one unit, .03 with 10, .001 with 100). No correction for
    the units' own mean is made (their number less one): units of one defect each have 1, and two of everything on each
    unit double it, exactly.
    A row without defects has 1. Errors as in shares_by_unit.
    Source: Cochran (1977), Sampling Techniques, 3rd ed., 6.3 and 9A, the variance of a ratio; Rao & Scott (1981), J.
    Amer. Stat. Assoc. 76, 221-230, the effect pooled over rows (both from memory). The larger of the two, the weight
    and the missing correction: chosen by simulation, DEVELOPERS.md has what they hold.
    """
    asked, others = _demand_rows(rows, "rows"), _demand_rows(beside, "beside")
    seen = [row for row in (*asked, *others) if 0 < row.part < row.whole]
    chance = sum(map(_chance, seen))
    together = sum(map(_spread, seen)) / chance if chance else None
    return tuple(_effect(row, together) for row in asked)


def _effect(row: PartByUnit, together: float | None) -> float:
    if not row.whole:
        return 1.0
    alike = row.whole_squares / row.whole
    if together is None:
        return alike
    own = _spread(row) / _chance(row) if 0 < row.part < row.whole else together
    effect = max(1.0, own, together)
    return effect + max(0.0, alike - effect) * float(row.units**-1.5)


def _spread(row: PartByUnit) -> float:
    """Return the sum over units of (part - share x whole) squared, in whole numbers until the last division."""
    part, whole = row.part, row.whole
    return (
        whole * whole * row.part_squares - 2 * part * whole * row.products + part * part * row.whole_squares
    ) / whole**2


def _chance(row: PartByUnit) -> float:
    """Return what that sum would be were each defect drawn by itself."""
    return row.part * (row.whole - row.part) / row.whole


def _demand_rows(rows: Sequence[PartByUnit], name: str) -> tuple[PartByUnit, ...]:
    told = demand_list(rows, name)
    for place, row in enumerate(told):
        _demand_row(row, f"{name}[{place}]")
    return told


def _demand_row(row: PartByUnit, name: str) -> None:
    """Refuse sums that no units have."""
    demand_kind(row, PartByUnit, name)
    part, whole = demand_part(row.part, f"{name}.part", row.whole, f"{name}.whole")
    units = demand_count(row.units, f"{name}.units")
    if units > whole or (whole and not units):
        raise ValueError(f"{name}.units must be from 1 to whole ({whole}), 0 where that is 0, got {units}")
    squares = (row.part_squares, row.products, row.whole_squares)
    for what, value in zip(("part_squares", "products", "whole_squares"), squares, strict=True):
        if type(value) is not int or not 0 <= value <= LARGEST_SUM:
            raise ValueError(f"{name}.{what} must be a whole number of at least 0, got {value!r}")
    if not (part <= row.part_squares <= row.products <= row.whole_squares <= whole**2):
        raise ValueError(
            f"{name} must be sums over the same units, part ({part}) <= part_squares <= products <= whole_squares <= "
            f"whole x whole ({whole**2}), got {squares!r}"
        )
    if units * row.whole_squares < whole**2:
        raise ValueError(
            f"{name}.whole_squares must be at least whole x whole / units ({whole**2 / units:.6g}), "
            f"got {row.whole_squares}"
        )
    if _is_torn(row):
        raise ValueError(f"{name}.products must be such as units can have beside the squares, got {row.products}")


def _is_torn(row: PartByUnit) -> bool:
    """Return whether the sums break Cauchy's inequality, so that some share would scatter by less than nothing."""
    return row.products**2 > row.part_squares * row.whole_squares
