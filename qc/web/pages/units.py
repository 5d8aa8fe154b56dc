"""Finding a unit: by the last figures of its number, by its state, or from the nearest numbers that are known."""

from flask import render_template, request

from qc.charts.drawing import words
from qc.domain.chassis import chassis_fault, cleaned, lengths_of, lengths_words, readable
from qc.domain.plant import Plant
from qc.reports.wording import listed
from qc.store.reading.reads import State, UnitLine
from qc.web.house import House, the_house
from qc.web.page_session import require_role

STATES: tuple[State, ...] = ("planned", "on_line", "at_end_points", "in_rework", "released", "cancelled")
IN_WORK: tuple[State, ...] = ("at_end_points", "in_rework", "on_line", "planned")  # nearest to dispatch first
LISTED = 500
LATEST = 100  # of the released, whose number only grows
FOUND = 50
NO_SUCH_LETTER = {"I": "1", "O": "0", "Q": "0 or 9"}


@require_role()
def show() -> tuple[str, int]:
    """Return the list of units, or those that a number ends in; a number that nobody knows gets its nearest."""
    house = the_house()
    text, wanted = request.args.get("q", "").strip(), request.args.get("state", "")
    lot = request.args.get("lot", "").strip()[:40]
    problems = [*state_problems(wanted), *number_problems(house.shown, text)]
    found = [] if problems else _of_lot(house, lot, text, wanted) if lot else _found(house, text, wanted)
    lots = house.reads.lots_like(lot) if lot and not found else []
    nearest: list[UnitLine] = []
    if lot and not found:
        problems = problems or [f"No unit{_in_state(wanted)} has a defect that names the lot “{lot}”."]
    elif text and not found:
        problems = problems or [f"No unit{_in_state(wanted)} has a number ending in “{text[:40]}”."]
        nearest = house.reads.nearest_units(readable(house.shown, text), 5)
    page = render_template(
        "units/units.html",
        text=text[:40],
        wanted=wanted,
        states=STATES,
        problems=problems,
        nearest=nearest,
        found=found,
        caption=_lot_caption(lot, wanted, len(found)) if lot else _caption(text, wanted, len(found)),
        lot=lot,
        lots=lots,
        find=house.shown.numbers.find,
        never_letters=never_letters(house.shown),
    )
    if not problems:
        return page, 200
    return page, 400 if state_problems(wanted) or number_problems(house.shown, text) else 404


def never_letters(plant: Plant) -> str:
    """Return which letters are never used and what they are taken for, "" where the plant's numbers have them all."""
    never = [letter for letter in NO_SUCH_LETTER if letter not in plant.numbers.letters]
    if not never:
        return ""
    many = len(never) > 1
    named = f"letters {listed(never)} are" if many else f"letter {never[0]} is"
    return f"The {named} never used: what looks like {'one' if many else 'it'} is 1 or 0."


def _of_lot(house: House, lot: str, text: str, wanted: str) -> list[UnitLine]:
    """Return the units whose defects name a lot, narrowed by the end of a number and a state where these are given."""
    typed = cleaned(text)
    return [
        line
        for line in house.reads.units_of_lot(lot, LISTED)
        if (not wanted or line.state == wanted) and (line.chassis.endswith(typed) or line.shop_number.endswith(typed))
    ]


def _lot_caption(lot: str, wanted: str, count: int) -> str:
    more = "; there may be more" if count == LISTED else ""
    return f"{words.counted(count, 'unit')}{_in_state(wanted)} with a defect that names lot {lot}{more}"


def state_problems(wanted: str) -> list[str]:
    """Return what is wrong with the state asked for."""
    if not wanted or wanted in STATES:
        return []
    return [f"There is no state “{wanted[:40]}”; there are {', '.join(_spoken(one) for one in STATES)}."]


def number_problems(plant: Plant, text: str) -> list[str]:
    """Return why a text cannot be the end of any unit's number, letters that are never used explained first."""
    typed, form = cleaned(text), plant.numbers
    for letter in dict.fromkeys(typed):
        if letter in NO_SUCH_LETTER and letter not in form.letters:
            return [
                f"The letter {letter} is never used in a chassis number: read {NO_SUCH_LETTER[letter]} off the metal."
            ]
        if letter not in form.allowed:
            has = "capital letters and figures" if form.letters else "figures"
            return [f"“{letter}” cannot stand in a chassis number; it has {has} only."]
    if len(typed) > max(lengths_of(plant)):
        return [f"A chassis number has {lengths_words(plant)} characters, this has {len(typed)}."]
    return []


def why_unknown(plant: Plant, chassis: str) -> str:
    """Return the sentence for a full number that no unit has."""
    fault = chassis_fault(plant, chassis)
    return f"{fault[0].upper()}{fault[1:]}." if fault else f"No unit {cleaned(chassis)} is on record."


def _found(house: House, text: str, wanted: str) -> list[UnitLine]:
    if not text:
        return _listed(house, wanted)
    return [line for line in house.reads.find_units(text, FOUND) if not wanted or line.state == wanted]


def _listed(house: House, wanted: str) -> list[UnitLine]:
    """Return the units of a state, or those in work with the alarmed ones first."""
    for state in STATES:
        if state == wanted:
            return house.reads.unit_list(state, _most(wanted))
    alarmed = house.reads.units_with_alarm()
    at_work = [line for state in IN_WORK for line in house.reads.unit_list(state, LISTED)]
    return [*alarmed, *(line for line in at_work if not line.alarm)]


def _most(wanted: str) -> int:
    return LATEST if wanted == "released" else LISTED


def _in_state(wanted: str) -> str:
    return f" {_spoken(wanted)}" if wanted else ""


def _spoken(state: str) -> str:
    return state.replace("_", " ")


def _caption(text: str, wanted: str, count: int) -> str:
    told = words.counted(count, "unit")
    if text:
        return f"{told}{_in_state(wanted)}, number ending in {cleaned(text)}"
    if not wanted:
        return f"{told}: those with an alarm, then those in work, the nearest to dispatch first"
    order = "latest first" if wanted == "released" else "by sequence"
    more = "; there may be more, find others by number" if count == _most(wanted) else ""
    return f"{told} {_spoken(wanted)}, {order}{more}"
