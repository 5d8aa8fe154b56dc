"""The same numbers as a picture, as rows: what a reader, a screen reader and a printer get first."""

from dataclasses import dataclass
from typing import Literal

# "signal" calls for a look; "low" is outside the usual range on the side that is no worse.
RowState = Literal["", "signal", "low", "partial"]

AT_ONCE = 8  # rows shown before the rest is opened
AT_ONCE_WIDE = 5  # of a wide table: each row is a block on a phone
WIDE = 7  # columns beside a picture; more need the page's width
LONG, WIDE_WORDS = 20, 4  # of a row's head in characters; with such heads fewer columns fit
LONGER, WIDE_NAMES = 30, 3  # the same of heads that are two names


@dataclass(frozen=True, slots=True)
class Column:
    """A column's head. numeric aligns it to the right."""

    head: str
    numeric: bool = True


@dataclass(frozen=True, slots=True)
class Row:
    """A row: its head and its cells, already in words. mark: the key of its mark in the scene, "" for none."""

    head: str
    cells: tuple[str, ...]
    state: RowState = ""
    mark: str = ""
    link: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a caption that names period and denominator. columns[0] heads the rows' heads.

    has_ranges: several cells of a row are ranges, sentences or hold words in brackets, so fewer columns fit.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    has_ranges: bool = False

    @property
    def is_wide(self) -> bool:
        """Return whether it needs the page's whole width."""
        longest = max((len(row.head) for row in self.rows), default=0)
        if longest > LONGER:
            return len(self.columns) > WIDE_NAMES
        return len(self.columns) > (WIDE_WORDS if longest > LONG or self.has_ranges else WIDE)

    @property
    def parts(self) -> tuple[tuple[Row, ...], tuple[Row, ...]]:
        """Return the rows shown at once and those that a reader opens: a long table does not push the picture away."""
        most = AT_ONCE_WIDE if self.is_wide else AT_ONCE
        if len(self.rows) <= most + 2:
            return self.rows, ()
        return self.rows[:most], self.rows[most:]

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row.cells) != len(self.columns) - 1:
                raise ValueError(f"row {row.head!r} must have {len(self.columns) - 1} cells, got {len(row.cells)}")
