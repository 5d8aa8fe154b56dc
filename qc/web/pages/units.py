"""Finding a unit: by the last figures of its number, by its state, or from the nearest numbers that are known."""

from flask import render_template, request

from qc.charts.drawing.words import whole
from qc.domain.plant.chassis import chassis_fault, cleaned, lengths_of, lengths_words, readable
from qc.domain.plant.naming import SaidNames
from qc.domain.plant.plant import Plant
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import say, say_many
from qc.reports.wording import listed
from qc.store.reading.reads import State, UnitLine
from qc.web.house import House, the_house
from qc.web.page_session import require_role

STATES: tuple[State, ...] = ("planned", "on_line", "at_end_points", "in_rework", "released", "cancelled")
IN_WORK: tuple[State, ...] = ("at_end_points", "in_rework", "on_line", "planned")  # nearest to dispatch first
LISTED = 500
LATEST = 100  # of the released, whose number only grows
FOUND = 50
NO_SUCH_LETTER = {"I": "1", "O": "0", "Q": "09"}  # the figures that each is taken for


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
        problems = problems or [_no_lot(lot, wanted)]
    elif text and not found:
        problems = problems or [_no_number(text[:40], wanted)]
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
        has_lines=len(house.shown.lines) > 1,
        line_words=lambda unit: line_words(house.shown, unit.model, unit.line),
    )
    if not problems:
        return page, 200
    return page, 400 if state_problems(wanted) or number_problems(house.shown, text) else 404


def line_words(plant: Plant, model: str, told: str) -> str:
    """Return on which line a unit counts, "" on none, and that it is taken for it where what was told says none."""
    counted_on = plant.line_of(model, told)
    name = SaidNames(plant).line(counted_on)
    if counted_on == told or len(plant.lines_of(model)) < 2:
        return name
    return say("taken for {line}", line=name) if name else ""


def never_letters(plant: Plant) -> str:
    """Return which letters are never used and what they are taken for, "" where the plant's numbers have them all."""
    never = [letter for letter in NO_SUCH_LETTER if letter not in plant.numbers.letters]
    if not never:
        return ""
    if len(never) == 1:
        return say("The letter {letter} is never used: what looks like it is 1 or 0.", letter=never[0])
    return say("The letters {letters} are never used: what looks like one is 1 or 0.", letters=listed(never))


def _of_lot(house: House, lot: str, text: str, wanted: str) -> list[UnitLine]:
    """Return the units whose defects name a lot, narrowed by the end of a number and a state where these are given."""
    typed = cleaned(text)
    return [
        line
        for line in house.reads.units_of_lot(lot, LISTED)
        if (not wanted or line.state == wanted) and (line.chassis.endswith(typed) or line.shop_number.endswith(typed))
    ]


def _lot_caption(lot: str, wanted: str, count: int) -> str:
    if wanted:
        told = say_many(
            "{number} unit {state} with a defect that names lot {lot}",
            "{number} units {state} with a defect that names lot {lot}",
            count,
            state=code_words(wanted),
            lot=lot,
        )
    else:
        told = say_many(
            "{number} unit with a defect that names lot {lot}",
            "{number} units with a defect that names lot {lot}",
            count,
            lot=lot,
        )
    return say("{said}; there may be more", said=told) if count == LISTED else told


def _no_lot(lot: str, wanted: str) -> str:
    if wanted:
        return say("No unit {state} has a defect that names the lot “{lot}”.", state=code_words(wanted), lot=lot)
    return say("No unit has a defect that names the lot “{lot}”.", lot=lot)


def _no_number(text: str, wanted: str) -> str:
    if wanted:
        return say("No unit {state} has a number ending in “{text}”.", state=code_words(wanted), text=text)
    return say("No unit has a number ending in “{text}”.", text=text)


def state_problems(wanted: str) -> list[str]:
    """Return what is wrong with the state asked for."""
    if not wanted or wanted in STATES:
        return []
    there = ", ".join(code_words(one) for one in STATES)
    return [say("There is no state “{asked}”; there are {there}.", asked=wanted[:40], there=there)]


def number_problems(plant: Plant, text: str) -> list[str]:
    """Return why a text cannot be the end of any unit's number, letters that are never used explained first."""
    typed, form = cleaned(text), plant.numbers
    for letter in dict.fromkeys(typed):
        if letter in NO_SUCH_LETTER and letter not in form.letters:
            read = say(" or ").join(NO_SUCH_LETTER[letter])
            return [
                say(
                    "The letter {letter} is never used in a chassis number: read {figures} off the metal.",
                    letter=letter,
                    figures=read,
                )
            ]
        if letter not in form.allowed and form.letters:
            return [
                say("“{sign}” cannot stand in a chassis number; it has capital letters and figures only.", sign=letter)
            ]
        if letter not in form.allowed:
            return [say("“{sign}” cannot stand in a chassis number; it has figures only.", sign=letter)]
    if len(typed) > max(lengths_of(plant)):
        lengths = lengths_words(plant)
        return [say("A chassis number has {lengths} characters, this has {has}.", lengths=lengths, has=len(typed))]
    return []


def why_unknown(plant: Plant, chassis: str) -> str:
    """Return the sentence for a full number that no unit has."""
    fault = chassis_fault(plant, chassis)
    if fault:
        return f"{fault[0].upper()}{fault[1:]}."
    return say("No unit {number} is on record.", number=cleaned(chassis))


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


def _caption(text: str, wanted: str, count: int) -> str:
    state = code_words(wanted)
    if text and wanted:
        return say_many(
            "{number} unit {state}, number ending in {text}",
            "{number} units {state}, number ending in {text}",
            count,
            state=state,
            text=cleaned(text),
        )
    if text:
        return say_many(
            "{number} unit, number ending in {text}",
            "{number} units, number ending in {text}",
            count,
            text=cleaned(text),
        )
    if not wanted:
        return say_many(
            "{n} unit: those with an alarm, then those in work, the nearest to dispatch first",
            "{n} units: those with an alarm, then those in work, the nearest to dispatch first",
            count,
            n=whole(count),
        )
    if wanted == "released":
        told = say_many(
            "{number} unit {state}, latest first", "{number} units {state}, latest first", count, state=state
        )
    else:
        told = say_many("{number} unit {state}, by sequence", "{number} units {state}, by sequence", count, state=state)
    return say("{said}; there may be more, find others by number", said=told) if count == _most(wanted) else told
