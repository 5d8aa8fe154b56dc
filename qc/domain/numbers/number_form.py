"""How a plant's chassis and shop numbers are made and read: a row of parts, the letters that they use, their check.

A plant says them in small words, as "KF{model}{sequence:4}{check}", not as a regular expression: from words a number
can also be made of a model and a sequence, its length is known before it is read, and reading one is cutting it at
known places, so that no text takes long. 17 characters without I, O and Q are the usual form (ISO 3779, from memory).
"""

import re
from dataclasses import dataclass
from typing import Literal

from qc.domain.numbers.check_signs import CHECKS
from qc.domain.words.speaking import say

PartKind = Literal["text", "model", "digit", "year", "any", "sequence", "check"]
FIGURES = "0123456789"
ISO_LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
LEAST, MOST = 4, 24  # signs of a chassis number; of a shop number 20 at most
MOST_SHOP = 20
_PIECE = re.compile(r"\{([a-z]+)(?::([1-9]))?\}|([^{}]+)|(.)", re.DOTALL)
_COUNTED: dict[str, PartKind] = {"sequence": "sequence", "any": "any"}  # words that say how many signs they take
_SINGLE: dict[str, PartKind] = {"model": "model", "digit": "digit", "year": "year"}


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a number. text: of a text its signs. length: its signs, 0 for a model's code, whose length counts.

    loose: made so, and not asked of a number that is told: the year, and what the usual form has behind it.
    """

    kind: PartKind
    text: str = ""
    length: int = 0
    loose: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberForm:
    """chassis, shop: the parts of either. letters: the capital letters that may stand in one, beside figures.

    check: a name of `CHECKS`, "" for none. find: how many signs at the end people find a unit by. own: whether the
    plant says it itself.
    """

    chassis: tuple[Part, ...]
    shop: tuple[Part, ...]
    letters: str = ISO_LETTERS
    check: str = ""
    find: int = 5
    own: bool = False

    @property
    def allowed(self) -> str:
        """Every sign that may stand in a number."""
        return FIGURES + self.letters

    @property
    def figures(self) -> int:
        """How many figures a chassis number's sequence has."""
        return next(part.length for part in self.chassis if part.kind == "sequence")


def usual_form(world_code: str, series: str, works: str) -> NumberForm:
    """Return the form of 17 characters: world code, series, model, "00", year, works, "0", five figures of sequence."""
    head = Part("text", world_code + series, 4)
    tail = (Part("year", "", 1, True), Part("text", f"{works}0", 2, True), Part("sequence", "", 5))
    shop = (Part("text", world_code[1:] + series, 3), Part("digit", "", 1), Part("sequence", "", 5))
    return NumberForm(chassis=(head, Part("model"), Part("text", "00", 2), *tail), shop=shop)


def parts_of(pattern: str, check: str) -> tuple[Part, ...]:
    """Return the parts that a pattern tells. Raises ValueError in words for one that is none."""
    parts: list[Part] = []
    for found in _PIECE.finditer(pattern):
        word, count, text, odd = found.groups()
        if odd:
            raise ValueError(say("has {odd!r} that belongs to no word; write words as {{sequence:5}}", odd=odd))
        if text:
            parts.append(Part("text", text, len(text)))
        elif word in _COUNTED and count:
            parts.append(Part(_COUNTED[word], "", int(count)))
        elif word in _SINGLE and not count:
            parts.append(Part(_SINGLE[word], "", 0 if word == "model" else 1, word == "year"))
        elif word == "check" and not count:
            if not check:
                raise ValueError(
                    say("holds {{check}}, and no check is named; name one of {checks}", checks=", ".join(CHECKS))
                )
            parts.append(Part("check", "", CHECKS[check].length))
        else:
            words = "{model}, {digit}, {year}, {any:3}, {sequence:5}, {check}"
            raise ValueError(
                say(
                    "holds {group}, which is no word of a number; the words are {words}",
                    group=found.group(),
                    words=words,
                )
            )
    return tuple(parts)


def length_of(parts: tuple[Part, ...], model: str) -> int:
    """Return how many signs a number of these parts has for a model's code."""
    return sum(part.length or len(model) for part in parts)


def made(parts: tuple[Part, ...], form: NumberForm, code: str, digit: str, year: str, sequence: int) -> str:
    """Return the number that these tell. Raises ValueError where a sign is not told, or the sequence does not fit."""
    told, gap = "", -1
    for part in parts:
        if part.kind == "check":
            gap = len(told)
            continue
        if part.kind == "any":
            raise ValueError("the number holds signs that no model and no sequence tell; give the number itself")
        told += _made(part, code, digit, year, sequence)
    if gap < 0:
        return told
    return told[:gap] + CHECKS[form.check].of(told[:gap], told[gap:]) + told[gap:]


def _made(part: Part, code: str, digit: str, year: str, sequence: int) -> str:
    if part.kind == "sequence":
        most = 10**part.length - 1
        if not 1 <= sequence <= most:
            raise ValueError(f"sequence must be 1 to {most}, got {sequence}")
        return f"{sequence:0{part.length}d}"
    return {"text": part.text, "model": code, "digit": digit, "year": year}[part.kind]


def sequence_in(form: NumberForm, number: str, code: str, digit: str) -> int | None:
    """Return the sequence that a chassis number of a model holds, None where it is none of this form and model's.

    Its check is not looked at; see `check_fault`.
    """
    at, sequence = 0, None
    if len(number) != length_of(form.chassis, code):
        return None
    for part in form.chassis:
        piece = number[at : at + (part.length or len(code))]
        at += len(piece)
        if part.kind == "sequence":
            if not (piece.isascii() and piece.isdecimal() and int(piece)):
                return None
            sequence = int(piece)
        elif not part.loose and piece != {"text": part.text, "model": code, "digit": digit}.get(part.kind, piece):
            return None
    return sequence


def names_model(parts: tuple[Part, ...], number: str, code: str, digit: str) -> bool:
    """Return whether a number bears a model's code or figure at its place; one that has no such place is of any."""
    at = 0
    for part in parts:
        size = part.length or len(code)
        if part.kind in ("model", "digit") and number[at : at + size] != {"model": code, "digit": digit}[part.kind]:
            return False
        at += size
    return True


def sequence_piece(parts: tuple[Part, ...], number: str, code: str) -> str:
    """Return what stands at the place of the sequence, counted from the end where it is last."""
    at = 0
    for part in parts:
        if part.kind == "sequence":
            return number[-part.length :] if part is parts[-1] else number[at : at + part.length]
        at += part.length or len(code)
    return ""


def check_fault(form: NumberForm, number: str, code: str) -> str | None:
    """Return that a number's check does not fit its other signs, None where it does or there is none."""
    at = 0
    for part in form.chassis:
        size = part.length or len(code)
        if part.kind == "check":
            before, told, after = number[:at], number[at : at + size], number[at + size :]
            should = CHECKS[form.check].of(before, after)
            if told != should:
                return f"{number} does not check ({form.check}): {told} stands where {should} would"
        at += size
    return None
