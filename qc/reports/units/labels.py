"""Labels that carry a unit's number as a QR code and in figures: the sizes there are, and the sheets that they fill.

The sizes are such as stationers sell (common practice, no source); their measures stand in ``labels.css``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import segno

from qc.domain.words.speaking import marked
from qc.store.reading.numbered import NumberedUnit

MOST = 1000  # labels at one press


@dataclass(frozen=True, slots=True)
class LabelSize:
    """columns × rows labels on a sheet, of which each is told in words; paper: "a4" or "roll"."""

    code: str
    words: str
    paper: str
    columns: int
    rows: int

    @property
    def on_a_sheet(self) -> int:
        """Return how many labels a sheet has."""
        return self.columns * self.rows


SIZES: Mapping[str, LabelSize] = {
    one.code: one
    for one in (
        LabelSize("a4-2x7", marked("A4, 2 × 7 of 99.1 × 38.1 mm"), "a4", 2, 7),
        LabelSize("a4-3x7", marked("A4, 3 × 7 of 63.5 × 38.1 mm"), "a4", 3, 7),
        LabelSize("a4-3x8", marked("A4, 3 × 8 of 70 × 37 mm"), "a4", 3, 8),
        LabelSize("roll-62", marked("roll, one by one, 62 × 29 mm"), "roll", 1, 1),
    )
}


@dataclass(frozen=True, slots=True)
class Label:
    """One label. square: the chassis number as a QR code, an SVG drawing."""

    chassis: str
    shop_number: str
    model: str
    square: str


def label_sheets(units: Sequence[NumberedUnit], size: LabelSize, used: int) -> list[list[Label | None]]:
    """Return the sheets, each a list of its labels in reading order; None is a place whose label is used already.

    used: places of the first sheet that are left empty, 0 to one less than a sheet has.
    """
    places = [None] * used + [_label(unit) for unit in units]
    return [places[start : start + size.on_a_sheet] for start in range(0, len(places), size.on_a_sheet)]


def _label(unit: NumberedUnit) -> Label:
    # The plain number and nothing else, so that any reader types what is on the metal; medium correction keeps a number
    # of 17 characters in the smallest symbol (21 modules: ISO/IEC 18004, table of capacities, from memory).
    square = segno.make(unit.chassis, error="m", micro=False)
    drawn = square.svg_inline(border=4, omitsize=True, dark="#000", light="#fff", svgclass=None, lineclass=None)
    return Label(unit.chassis, unit.shop_number, unit.model, drawn)
