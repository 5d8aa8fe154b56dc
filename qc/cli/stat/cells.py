"""What one cell of a CSV file may hold: each kind turns its text into a value, or says what would do.

Text stays text: a cell becomes a number only in a column that must hold numbers. The shapes are plain ASCII
(1234, 0.5, 1e3), so that a decimal comma or a thousands mark is refused instead of read as another number.
"""

import re
from collections.abc import Callable

Kind = Callable[[str], object]

# Ten million units are more than a plant makes; a slip of the keyboard beyond that would only fill the memory.
MOST = 10_000_000
MOST_EXPOSED = 1_000_000_000
# Beyond these the arithmetic of the statistics leaves what a computer's numbers can hold.
LARGEST, SMALLEST = 1e12, 1e-12

WHOLE = re.compile(r"[0-9]{1,15}", re.ASCII)
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?", re.ASCII)
YES, NO = ("1", "yes", "true", "y"), ("0", "no", "false", "n")


class Unfit(Exception):
    """A cell's text is not what its column must hold; the message says what would do."""


def text(cell: str) -> str:
    """Return the cell as it stands, blanks at its ends taken off; "" is allowed."""
    return cell.strip()


def name(cell: str) -> str:
    """Return a text that is not empty."""
    if not cell.strip():
        raise Unfit("write a name, this cell is empty")
    return cell.strip()


def count(cell: str) -> int:
    """Return a whole number from 0 to ten million; leading zeros are read as the number they stand for."""
    found = cell.strip()
    if not found:
        raise Unfit("write 0 if nothing was found, leave the row out if nobody looked")
    if not WHOLE.fullmatch(found) or int(found) > MOST:
        raise Unfit(f"a whole number from 0 to {MOST} would do")
    return int(found)


def number(cell: str) -> float:
    """Return a finite number, positive or negative."""
    found = cell.strip()
    if not NUMBER.fullmatch(found):
        raise Unfit("a number such as 12 or 0.5 would do, with a point and without a thousands mark")
    value = float(found)
    if value and not SMALLEST <= abs(value) <= LARGEST:
        raise Unfit(f"a number between {SMALLEST:g} and {LARGEST:g}, or 0, would do")
    return value


def size(cell: str) -> float:
    """Return an exposure: units, hours or metres, at least 0 and at most a thousand million."""
    value = number(cell)
    if not 0 <= value <= MOST_EXPOSED:
        raise Unfit(f"an exposure from 0 to {MOST_EXPOSED} would do")
    return int(value) if value == int(value) else value


def positive(cell: str) -> float:
    """Return a number above 0."""
    value = number(cell)
    if value <= 0:
        raise Unfit("a number above 0 would do")
    return value


def share(cell: str) -> float:
    """Return a share or a probability from 0 to 1."""
    value = number(cell)
    if not 0 <= value <= 1:
        raise Unfit("a share from 0 to 1 would do, 0.05 for 5 percent")
    return value


def number_or_gap(cell: str) -> float | None:
    """Return a finite number, or None where the cell is empty: nothing was measured."""
    return number(cell) if cell.strip() else None


def yes_or_no(cell: str) -> bool:
    """Return whether the cell says yes (1, yes, true) or no (0, no, false)."""
    found = cell.strip().lower()
    if found not in YES + NO:
        raise Unfit("1, yes or true for yes, 0, no or false for no would do")
    return found in YES
