"""Check signs of numbers: what the rest of a number says that its check must be.

weighted-mod-11: the ninth of 17 signs, as of the common vehicle number (49 CFR 565.15, from memory: letters as figures,
weights by place, the remainder of 11, ten written X). mod-97-10: two figures at the end (ISO/IEC 7064, MOD 97-10, from
memory: the whole, letters as 10 to 35, leaves 1 when divided by 97).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_ALIKE = ("AJ", "BKS", "CLT", "DMU", "ENV", "FW", "GPX", "HY", "RZ")  # letters that stand for 1, 2, … 9
_FIGURES = {letter: str(value) for value, letters in enumerate(_ALIKE, start=1) for letter in letters}


@dataclass(frozen=True, slots=True)
class CheckSign:
    """One way of checking. length: signs that it takes; letters: those that a number may hold, beside figures.

    made: the letters that a check sign can be. of: its signs from those before and those after it.
    whole: the length that the number must have, 0 for any; place:
    where it stands, from 0 at the front or -1 for the end.
    """

    length: int
    letters: frozenset[str]
    made: str
    of: Callable[[str, str], str]
    whole: int = 0
    place: int = -1


def weighted_mod_11(before: str, after: str) -> str:
    """Return the check sign that stands between the eight signs before and the eight after it, a figure or X.

    Raises KeyError for I, O and Q, which have no figure.
    """
    number = f"{before}0{after}"
    figures = [int(sign if sign.isdecimal() else _FIGURES[sign]) for sign in number]
    left = sum(figure * weight for figure, weight in zip(figures, _WEIGHTS, strict=True)) % 11
    return "X" if left == 10 else str(left)


def mod_97_10(before: str, after: str) -> str:
    """Return the two figures that follow a number of capital letters and figures; nothing may stand after them."""
    if after:
        raise ValueError("nothing follows the two figures of mod-97-10")
    value = int("".join(str(int(sign, 36)) for sign in before)) * 100
    return f"{98 - value % 97:02d}"


CHECKS: Mapping[str, CheckSign] = {
    "weighted-mod-11": CheckSign(1, frozenset(_FIGURES), "X", weighted_mod_11, 17, 8),
    "mod-97-10": CheckSign(2, frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZ"), "", mod_97_10),
}
