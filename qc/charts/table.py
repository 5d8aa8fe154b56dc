"""The same numbers as a picture, as rows: what a reader, a screen reader and a printer get first."""

from dataclasses import dataclass
from typing import Literal

RowState = Literal["", "signal", "partial"]


@dataclass(frozen=True, slots=True)
class Column:
    """A column's head. numeric aligns it to the right; says is a longer word for the head, "" for none."""

    head: str
    numeric: bool = True
    says: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A row: its head and its cells, already in words. point: (curve, point) of its mark in the figure, if any."""

    head: str
    cells: tuple[str, ...]
    state: RowState = ""
    point: tuple[int, int] | None = None
    link: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a caption that names period and denominator. columns[0] heads the rows' heads."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row.cells) != len(self.columns) - 1:
                raise ValueError(f"row {row.head!r} must have {len(self.columns) - 1} cells, got {len(row.cells)}")
