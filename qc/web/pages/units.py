"""Finding a unit: by the last figures of its number, by its state, or from the nearest numbers that are known."""

from flask import render_template, request

from qc.charts.drawing import words
from qc.domain.chassis import ALLOWED, chassis_fault, cleaned
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
    problems = [*state_problems(wanted), *number_problems(text)]
    found = [] if problems else _found(house, text, wanted)
    nearest: list[UnitLine] = []
    if text and not found:
        problems = problems or [f"No unit{_in_state(wanted)} has a number ending in “{text[:40]}”."]
        nearest = house.reads.nearest_units(readable(text), 5)
    page = render_template(
        "units/units.html",
        text=text[:40],
        wanted=wanted,
        states=STATES,
        problems=problems,
        nearest=nearest,
        found=found,
        caption=_caption(text, wanted, len(found)),
    )
    return page, 200 if not problems else 404 if not state_problems(wanted) and not number_problems(text) else 400


def state_problems(wanted: str) -> list[str]:
    """Return what is wrong with the state asked for."""
    if not wanted or wanted in STATES:
        return []
    return [f"There is no state “{wanted[:40]}”; there are {', '.join(_spoken(one) for one in STATES)}."]


def number_problems(text: str) -> list[str]:
    """Return why a text cannot be the end of any unit's number, the three letters explained first."""
    typed = cleaned(text)
    for letter in dict.fromkeys(typed):
        if letter in NO_SUCH_LETTER:
            return [
                f"The letter {letter} is never used in a chassis number: read {NO_SUCH_LETTER[letter]} off the metal."
            ]
        if letter not in ALLOWED:
            return [f"“{letter}” cannot stand in a chassis number; it has capital letters and figures only."]
    return [f"A chassis number has 17 characters, this has {len(typed)}."] if len(typed) > 17 else []


def readable(text: str) -> str:
    """Return a number with the letters that are never used read as the figures they look like."""
    return cleaned(text).translate(str.maketrans("IOQ", "100"))[:17]


def why_unknown(chassis: str) -> str:
    """Return the sentence for a full number that no unit has."""
    fault = chassis_fault(chassis)
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
