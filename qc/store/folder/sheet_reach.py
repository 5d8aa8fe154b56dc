"""How far the cells of a worksheet reach that hold anything, read from its XML (ECMA-376-1, 18.3.1) as a stream.

The reader of workbooks lays a whole rectangle up to the last cell in memory: one cell in the last corner of a sheet,
a file of two kilobytes, would be 17 thousand million.
"""

from typing import Any, BinaryIO
from xml.parsers import expat

_VALUES = ("v", "is")  # what a cell that holds anything holds; one that is only coloured has neither


class DamagedXml(Exception):
    """What was read is no XML as a whole."""


class TooManyCells(Exception):
    """The sheet has more cells than are looked at; reading stopped there."""


class _Reach:
    """Counts rows and columns as they open. A cell that names no place stands right of the one before."""

    def __init__(self, most_filled: int, most: int) -> None:
        self.rows = self.columns = 0
        self._filled_left, self._left = most_filled, most
        self._row = self._column = 0
        self._was_counted = False

    def opened(self, name: str, told: dict[str, str]) -> None:
        name = name.rpartition(":")[2]
        if name == "row":
            self._row, self._column = _number(told.get("r", "")) or self._row + 1, 0
        elif name == "c":
            column, row = _place(told.get("r", ""))
            self._row, self._column = row or self._row, column or self._column + 1
            self._was_counted = False
            self._left -= 1
        elif name in _VALUES and not self._was_counted:
            self._was_counted = True
            self._filled_left -= 1
            self.rows, self.columns = max(self.rows, self._row), max(self.columns, self._column)
        if self._left < 0 or self._filled_left < 0:
            raise TooManyCells


def reach_of(sheet: BinaryIO, most_filled: int = 10**9, most: int = 10**9) -> tuple[int, int]:
    """Return (rows, columns) up to the last cell of a worksheet that holds anything, (0, 0) where none does.

    most_filled, most: so many cells that hold anything, and so many in all, are looked at. What is no worksheet has no
    cells. Raises DamagedXml, TooManyCells.
    """
    reach, parser = _Reach(most_filled, most), expat.ParserCreate()
    parser.buffer_text = True
    opened: Any = reach.opened
    parser.StartElementHandler = opened
    try:
        parser.ParseFile(sheet)
    except (expat.ExpatError, ValueError) as error:
        raise DamagedXml(str(error)) from None
    return reach.rows, reach.columns


def _place(told: str) -> tuple[int, int]:
    """Return (column, row) of a cell's reference such as C12, zeros where it is none."""
    letters = told.rstrip("0123456789")
    column = 0
    for letter in letters[:8].upper():
        column = column * 26 + max(0, ord(letter) - 64)
    return column, _number(told[len(letters) :])


def _number(told: str) -> int:
    return int(told[:12]) if told.isascii() and told.isdigit() else 0
