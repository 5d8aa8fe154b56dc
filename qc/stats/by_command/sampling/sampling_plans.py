"""Single sampling plans for normal inspection by attributes, for parts from a supplier; units are all inspected.

The plans are those of ISO 2859-1 (Tables 1 and 2-A), which took them over from MIL-STD-105E (1989, public domain),
Tables I and II-A. The code letters, sample sizes and acceptance numbers here come from memory of the public tables;
they agree with the printed extracts that the tests name. Check against the edition in force before using a plan.
"""

from dataclasses import dataclass
from typing import Literal

from qc.stats.refusals import demand_count

InspectionLevel = Literal["S-1", "S-2", "S-3", "S-4", "I", "II", "III"]
INSPECTION_LEVELS = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")

# Table I: largest lot of the row (None: any larger), and the code letters by inspection level.
CODE_LETTERS: tuple[tuple[int | None, str], ...] = (
    (8, "AAAAAAB"),
    (15, "AAAAABC"),
    (25, "AABBBCD"),
    (50, "ABBCCDE"),
    (90, "BBCCCEF"),
    (150, "BBCDDFG"),
    (280, "BCDEEGH"),
    (500, "BCDEFHJ"),
    (1_200, "CCEFGJK"),
    (3_200, "CDEGHKL"),
    (10_000, "CDFGJLM"),
    (35_000, "CDFHKMN"),
    (150_000, "DEGJLNP"),
    (500_000, "DEGJMPQ"),
    (None, "DEHKNQR"),
)
LETTERS = "ABCDEFGHJKLMNPQR"
SAMPLES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000)
AQLS = (
    0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5,
    10, 15, 25, 40, 65, 100, 150, 250, 400, 650, 1000,
)  # fmt: skip
# Table II-A has one acceptance number along each diagonal: letter place plus AQL place, both counted from 0.
ACCEPT = {14: 0, 17: 1, 18: 2, 19: 3, 20: 5, 21: 7, 22: 10, 23: 14, 24: 21, 25: 30, 26: 44}
ARROW_UP, ARROW_DOWN = 15, 16
LARGEST = 24  # the diagonal of Ac 21: from code letter F on nothing larger is printed
LAST_LETTER_WITH_ALL = LETTERS.index("E")


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplingPlan:
    """One single normal plan. sample units are looked at; accept: at most so many nonconforming, reject: from so many.

    letter: of the lot and level; letter_used: after following arrows, which change the sample as well as the
    acceptance number. inspect_all: the sample would be the whole lot or more, so every unit is looked at (sample
    is the lot then). per_100: above AQL 10 the plan is for nonconformities per 100 items only, not for units.
    """

    letter: str
    letter_used: str
    sample: int
    accept: int
    reject: int
    inspect_all: bool
    per_100: bool
    lot: int
    inspection_level: InspectionLevel
    aql: float
    method: str


def code_letter(lot: int, inspection_level: InspectionLevel) -> str:
    """Return the sample size code letter of a lot of at least 2 units. Source: MIL-STD-105E Table I."""
    if inspection_level not in INSPECTION_LEVELS:
        known = ", ".join(INSPECTION_LEVELS)
        raise ValueError(f"inspection_level must be one of {known}, got {inspection_level!r}")
    lot, column = demand_count(lot, "lot", 2), INSPECTION_LEVELS.index(inspection_level)
    return next(letters[column] for largest, letters in CODE_LETTERS if largest is None or lot <= largest)


def single_normal_plan(lot: int, inspection_level: InspectionLevel, aql: float) -> SamplingPlan:
    """Return the single sampling plan for normal inspection of a lot.

    lot: at least 2 units; aql: acceptance quality limit, one of the preferred values from 0.010 to 1000 (per cent
    nonconforming up to 10, nonconformities per 100 items throughout). Normal inspection only: the tables of
    tightened and reduced inspection could not be held against a printed copy, and a wrong plan accepts bad lots, so
    take them, and the switching rules, from the edition in force.
    Source: MIL-STD-105E Table II-A; ISO 2859-1 Table 2-A.
    """
    letter, lot = code_letter(lot, inspection_level), demand_count(lot, "lot", 2)
    if isinstance(aql, bool) or aql not in AQLS:
        nearest = min(AQLS, key=lambda value: abs(value - aql)) if isinstance(aql, int | float) else AQLS[10]
        raise ValueError(f"aql must be one of the preferred values, say {nearest}, got {aql!r}")
    aql = float(aql)
    place = _followed(LETTERS.index(letter), AQLS.index(aql))
    accept, sample = ACCEPT[place + AQLS.index(aql)], SAMPLES[place]
    return SamplingPlan(
        letter=letter,
        letter_used=LETTERS[place],
        sample=min(sample, lot),
        accept=accept,
        reject=accept + 1,
        inspect_all=sample >= lot,
        per_100=aql > 10,
        lot=lot,
        inspection_level=inspection_level,
        aql=aql,
        method="single sampling, normal inspection",
    )


def _followed(letter: int, aql: int) -> int:
    """Return the letter's place after following the table's arrows."""
    while True:
        step = _arrow(letter, letter + aql)
        if step == 0:
            return letter
        letter += step


def _arrow(letter: int, diagonal: int) -> int:
    """Return -1 for an arrow up, 1 for an arrow down, 0 where the table prints a plan."""
    if diagonal > LARGEST:
        return 0 if letter <= LAST_LETTER_WITH_ALL and diagonal in ACCEPT else -1
    if diagonal == ARROW_UP:
        return -1 if letter > 0 else 1  # above A there is nothing: the plan below is used
    if diagonal == ARROW_DOWN:
        return 1 if letter < len(LETTERS) - 1 else -1  # below R there is nothing: the plan above is used
    return 0 if diagonal in ACCEPT else 1
