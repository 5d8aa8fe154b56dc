"""Chassis numbers: the 17 characters on the metal, the plant's short shop form, and what was probably meant.

Letters I, O and Q are not used and the number has 17 characters (ISO 3779; from memory, common to its editions).
"""

from collections.abc import Iterable
from dataclasses import dataclass

from qc.domain.plant import Plant

LENGTH = 17
ALLOWED = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
# ISO 3779 year codes repeat every 30 years; A is 1980 and 2010; I, O, Q, U, Z and 0 stand for no year (from memory).
YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"
FIRST_YEAR = 1980


def cleaned(text: str) -> str:
    """Return a number as typed or scanned in capitals without spaces and dashes."""
    return "".join(text.upper().split()).replace("-", "")


def chassis_fault(text: str) -> str | None:
    """Return what is wrong with a full chassis number and what would do, None when its form is right."""
    number = cleaned(text)
    for character in number:
        if character in "IOQ":
            return f"a chassis number never holds {character} (ISO 3779); read 1 or 0 off the metal again"
        if character not in ALLOWED:
            return f"{character!r} cannot stand in a chassis number; it has capital letters and figures only"
    if len(number) != LENGTH:
        return f"a full chassis number has {LENGTH} characters, this has {len(number)}; to look it up enter the last 6"
    return None


def year_code(year: int) -> str:
    """Return the character that stands for a model year in a chassis number. Raises ValueError before 1980."""
    if year < FIRST_YEAR:
        raise ValueError(f"year must be {FIRST_YEAR} or later, got {year}")
    return YEAR_CODES[(year - FIRST_YEAR) % len(YEAR_CODES)]


def full_number(plant: Plant, model: str, sequence: int) -> str:
    """Return the full chassis number of a unit: 17 characters.

    World code, series, model code, "00", year's code, works, "0", five figures of sequence.
    Raises KeyError for an unknown model and ValueError for a sequence outside 1..99 999.
    """
    code = plant.models[model].code
    return f"{plant.world_code}{plant.series}{code}00{year_code(plant.model_year)}{plant.works}0{_five(sequence)}"


def shop_number(plant: Plant, model: str, sequence: int) -> str:
    """Return the short form that the shop floor uses: prefix, model's digit, five figures of sequence."""
    return f"{plant.world_code[1:]}{plant.series}{plant.models[model].digit}{_five(sequence)}"


def number_fault(plant: Plant, chassis: str, model: str, sequence: int, short: str) -> str | None:
    """Return why a plan's numbers do not belong together, None where they do; the model must be one of the plant's."""
    try:
        full, shop = full_number(plant, model, sequence), shop_number(plant, model, sequence)
    except ValueError as error:
        return str(error)
    if (chassis[:9], chassis[-5:]) != (full[:9], full[-5:]) or short != shop:
        return f"model {model} and sequence {sequence} make {full}, {shop}; check the plan"
    return None


def numbers_of(plant: Plant, chassis: str, model: str) -> tuple[int, str]:
    """Return the sequence and the shop number that a full chassis number of a model tells; the model must be known.

    Raises ValueError, in words, for one that is no number of this plant and model.
    """
    figures = chassis[-5:]
    if fault := chassis_fault(chassis):
        raise ValueError(fault)
    if not figures.isdecimal():
        raise ValueError(f"{chassis} does not end in five figures; read the number off the metal again")
    sequence = int(figures)
    shop = shop_number(plant, model, sequence)
    if fault := number_fault(plant, chassis, model, sequence, shop):
        raise ValueError(f"{chassis} is no number of a {model} of this plant: {fault}")
    return sequence, shop


def _five(sequence: int) -> str:
    if not 1 <= sequence <= 99_999:
        raise ValueError(f"sequence must be 1 to 99999, got {sequence}")
    return f"{sequence:05d}"


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
