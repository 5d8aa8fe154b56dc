"""Chassis numbers: what stands on the metal, the plant's short shop form, and what was probably meant.

How they are made the plant says (`number_form`); 17 characters without I, O and Q where it says nothing (ISO 3779; from
memory, common to its editions).
"""

from collections.abc import Iterable
from dataclasses import dataclass

from qc.domain.numbers.number_form import check_fault, length_of, made, names_model, sequence_in, sequence_piece
from qc.domain.plant.plant import Plant
from qc.domain.words.speaking import say

LOOKS_LIKE = {"I": "1", "O": "0", "Q": "0"}
# ISO 3779 year codes repeat every 30 years; A is 1980 and 2010; I, O, Q, U, Z and 0 stand for no year (from memory).
YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"
FIRST_YEAR = 1980


def cleaned(text: str) -> str:
    """Return a number as typed or scanned in capitals without spaces and dashes."""
    return "".join(text.upper().split()).replace("-", "")


def readable(plant: Plant, text: str) -> str:
    """Return a number with the letters that this plant never uses read as the figures they look like."""
    never = [letter for letter in LOOKS_LIKE if letter not in plant.numbers.letters]
    read = cleaned(text).translate({ord(letter): LOOKS_LIKE[letter] for letter in never})
    return read[: max(lengths_of(plant))]


def lengths_of(plant: Plant) -> tuple[int, ...]:
    """Return how many characters the chassis numbers of the plant's models have, each length once, ascending."""
    return tuple(sorted({length_of(plant.numbers.chassis, model) for model in plant.models}))


def lengths_words(plant: Plant) -> str:
    """Return how long a full chassis number is: "17", "9 or 10"."""
    return say(" or ").join(str(one) for one in lengths_of(plant))


def sign_fault(plant: Plant, text: str) -> str | None:
    """Return which sign of a text cannot stand in a chassis number, None where all can."""
    form = plant.numbers
    for character in cleaned(text):
        if character in form.allowed:
            continue
        if character in LOOKS_LIKE:
            if form.own:
                return say("a chassis number never holds {sign}; read 1 or 0 off the metal again", sign=character)
            return say(
                "a chassis number never holds {sign} (ISO 3779); read 1 or 0 off the metal again", sign=character
            )
        sign = repr(character)
        if form.own and form.letters:
            return say(
                "{sign} cannot stand in a chassis number; it has figures and {letters}", sign=sign, letters=form.letters
            )
        if form.own:
            return say("{sign} cannot stand in a chassis number; it has figures only", sign=sign)
        return say("{sign} cannot stand in a chassis number; it has capital letters and figures only", sign=sign)
    return None


def chassis_fault(plant: Plant, text: str) -> str | None:
    """Return what is wrong with a full chassis number and what would do, None when its form is right."""
    if fault := sign_fault(plant, text):
        return fault
    number, find = cleaned(text), plant.numbers.find
    if len(number) not in lengths_of(plant):
        return say(
            "a full chassis number has {lengths} characters, this has {has}; to look it up enter the last {last}",
            lengths=lengths_words(plant),
            has=len(number),
            last=find + 1,
        )
    return None


def year_code(year: int) -> str:
    """Return the character that stands for a model year in a chassis number. Raises ValueError before 1980."""
    if year < FIRST_YEAR:
        raise ValueError(f"year must be {FIRST_YEAR} or later, got {year}")
    return YEAR_CODES[(year - FIRST_YEAR) % len(YEAR_CODES)]


def full_number(plant: Plant, model: str, sequence: int) -> str:
    """Return the full chassis number of a unit.

    Raises KeyError for an unknown model, ValueError for a sequence that does not fit and where the plant's form holds
    signs that neither model nor sequence tell.
    """
    one = plant.models[model]
    form = plant.numbers
    return made(form.chassis, form, one.code, one.digit, year_code(plant.model_year), sequence)


def shop_number(plant: Plant, model: str, sequence: int) -> str:
    """Return the short form that the shop floor uses. Raises KeyError, and ValueError for one that does not fit."""
    one = plant.models[model]
    form = plant.numbers
    return made(form.shop, form, one.code, one.digit, year_code(plant.model_year), sequence)


def number_fault(plant: Plant, chassis: str, model: str, sequence: int, short: str) -> str | None:
    """Return why a plan's numbers do not belong together, None where they do; the model must be one of the plant's."""
    one, form = plant.models[model], plant.numbers
    try:
        shop = shop_number(plant, model, sequence)
        full = full_number(plant, model, sequence) if _is_told(plant) else ""
    except ValueError as error:
        return str(error)
    if sequence_in(form, chassis, one.code, one.digit) != sequence or short != shop:
        return f"model {model} and sequence {sequence} make {f'{full}, ' if full else ''}{shop}; check the plan"
    return check_fault(form, chassis, one.code)


def _is_told(plant: Plant) -> bool:
    """Return whether a model and a sequence tell the whole of a chassis number."""
    return all(part.kind != "any" for part in plant.numbers.chassis)


def model_of(plant: Plant, number: str, *, is_shop: bool = False) -> str | None:
    """Return the one model whose code or figure stands at its place in a number, None for none and for several."""
    parts = plant.numbers.shop if is_shop else plant.numbers.chassis
    fits = [one.code for one in plant.models.values() if names_model(parts, number, one.code, one.digit)]
    return fits[0] if len(fits) == 1 else None


def sequence_told(plant: Plant, number: str, model: str, *, is_shop: bool = False) -> str:
    """Return what stands at the place of the sequence in a number, "0" where it is too short."""
    piece = sequence_piece(plant.numbers.shop if is_shop else plant.numbers.chassis, number, model)
    return piece or "0"


def numbers_of(plant: Plant, chassis: str, model: str) -> tuple[int, str]:
    """Return the sequence and the shop number that a full chassis number of a model tells; the model must be known.

    Raises ValueError, in words, for one that is no number of this plant and model.
    """
    one, form = plant.models[model], plant.numbers
    if fault := chassis_fault(plant, chassis):
        raise ValueError(fault)
    sequence = sequence_in(form, chassis, one.code, one.digit)
    if sequence is None:
        ending = sequence_told(plant, chassis, model)
        if not ending.isdecimal():
            where = f"have {form.figures} figures where its sequence stands" if form.own else "end in five figures"
            raise ValueError(f"{chassis} does not {where}; read the number off the metal again")
        shop_number(plant, model, int(ending))
        told = number_fault(plant, chassis, model, int(ending), "") or ""
        raise ValueError(f"{chassis} is no number of a {model} of this plant: {told}")
    if fault := check_fault(form, chassis, one.code):
        raise ValueError(f"{fault}; read the number off the metal again")
    return sequence, shop_number(plant, model, sequence)


def distance(a: str, b: str, most: int) -> int:
    """Return how many slips turn a into b, at most ``most`` + 1.

    A slip is one character wrong, missing or too many, or two neighbours swapped (optimal string alignment
    distance: Damerau 1964, Commun. ACM 7, 171-176, for the kinds of slip).
    """
    if abs(len(a) - len(b)) > most:
        return most + 1
    before: list[int] = []
    above = list(range(len(b) + 1))
    for i, left in enumerate(a, start=1):
        row = [i]
        for j, right in enumerate(b, start=1):
            cost = min(above[j] + 1, row[j - 1] + 1, above[j - 1] + (left != right))
            if i > 1 and j > 1 and left == b[j - 2] and a[i - 2] == right:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        before, above = above, row
    return min(above[-1], most + 1)


@dataclass(frozen=True, slots=True)
class Near:
    """A known number near to what was entered. slips is 0 where its end is exactly what was entered."""

    number: str
    slips: int


def nearest_known(text: str, known: Iterable[str], limit: int) -> tuple[Near, ...]:
    """Return at most ``limit`` known numbers that the entry may mean, fewest slips first, then in number order.

    An entry shorter than a number is held against the number's end, as people speak the last 5 or 6. Entries of
    fewer than 4 characters must match exactly; longer ones may have up to 2 slips (1 up to 6 characters).
    An empty entry finds nothing.
    """
    entry = cleaned(text)
    if not entry:
        return ()
    most = 0 if len(entry) < 4 else 1 if len(entry) <= 6 else 2
    found = [Near(number, _slips(entry, number, most)) for number in known]
    near = sorted((one for one in found if one.slips <= most), key=lambda one: (one.slips, one.number))
    return tuple(near[:limit])


def _slips(entry: str, number: str, most: int) -> int:
    if number.endswith(entry):
        return 0
    # A character missing or too many shifts where the end begins, so three lengths of end are tried.
    lengths = range(max(1, len(entry) - most), len(entry) + most + 1)
    return min(max(1, distance(entry, number[-length:], most)) for length in lengths)
