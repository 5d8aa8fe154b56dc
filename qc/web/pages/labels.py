"""Sheets of labels to print: for one unit, a range of shop numbers, or the units planned for some days."""

from dataclasses import dataclass, field
from datetime import date

from flask import render_template, request

from qc.domain.plant.chassis import cleaned
from qc.domain.words.speaking import say, say_many
from qc.reports.units.labels import MOST, SIZES, label_sheets
from qc.store.reading.numbered import NumberedUnit, units_numbered, units_planned
from qc.web.house import House, the_house
from qc.web.page_session import require_role

FIELDS = ("unit", "first", "last", "from_day", "to_day", "size", "used")


@dataclass(slots=True)
class _Asked:
    """What the address asks. problems: what is wrong with it, in words; notes: what was left out of the labels."""

    text: dict[str, str]
    units: list[NumberedUnit] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


@require_role()
def show() -> tuple[str, int]:
    """Return the labels of the units asked for as sheets to print, or the form that asks for them."""
    house = the_house()
    text = {name: request.args.get(name, "").strip()[:40] for name in FIELDS}
    asked = _Asked(text)
    size = SIZES.get(text["size"] or "a4-3x8")
    if size is None:
        asked.problems.append(
            say("There is no size “{asked}”; there are {there}.", asked=text["size"], there=", ".join(SIZES))
        )
    used = _used(asked, size.on_a_sheet if size else 1)
    if any(text[name] for name in FIELDS[:5]):
        _units(house, asked)
    sheets = label_sheets(asked.units, size, used) if size and asked.units and not asked.problems else []
    page = render_template(
        "labels/labels.html",
        text=text,
        size=size or SIZES["a4-3x8"],
        sizes=SIZES.values(),
        sheets=sheets,
        count=say_many("{number} label", "{number} labels", len(asked.units)),
        sheet_words=say_many("{number} sheet", "{number} sheets", len(sheets)),
        problems=asked.problems,
        notes=asked.notes,
    )
    return page, 400 if asked.problems else 200


def _used(asked: _Asked, on_a_sheet: int) -> int:
    told = asked.text["used"] or "0"
    if told.isascii() and told.isdigit() and len(told) < 4 and int(told) < on_a_sheet:
        return int(told)
    most = on_a_sheet - 1
    asked.problems.append(
        say(
            "“{told}” labels cannot be used already; this sheet has 0 to {most} before the last one.",
            told=told,
            most=most,
        )
    )
    return 0


def _units(house: House, asked: _Asked) -> None:
    """Find the units by whichever way was asked: one number, a range of shop numbers, or days."""
    text = asked.text
    ways = [bool(text["unit"]), bool(text["first"] or text["last"]), bool(text["from_day"] or text["to_day"])]
    if sum(ways) != 1:
        asked.problems.append(say("Ask in one way: one unit, a range of shop numbers, or planned days."))
        return
    found = (_one, _numbered, _planned)[ways.index(True)](house, asked)
    kept = [unit for unit in found if unit.state != "cancelled" or text["unit"]]
    if len(found) > MOST:
        asked.problems.append(say("That is more than {most} labels; ask for fewer at once.", most=MOST))
    elif not kept and not asked.problems:
        asked.problems.append(
            say("No unit is planned there. A label needs the unit's number, which the build plan brings.")
        )
    if len(kept) < len(found):
        left = len(found) - len(kept)
        asked.notes.append(
            say_many(
                "{number} cancelled unit left out; print one by its own number if you need it.",
                "{number} cancelled units left out; print one by its own number if you need it.",
                left,
            )
        )
    asked.units = kept


def _one(house: House, asked: _Asked) -> list[NumberedUnit]:
    number = asked.text["unit"]
    found = house.reads.find_units(number, 3)
    exact = [unit for unit in found if cleaned(number) in (unit.chassis, unit.shop_number)] or found
    if len(exact) > 1:
        asked.problems.append(
            say("More than one unit's number ends in “{number}”; give the whole of it.", number=number)
        )
    elif not exact:
        asked.problems.append(
            say("No unit has a number ending in “{number}”; read it off the metal or the build plan.", number=number)
        )
    return [NumberedUnit(unit.chassis, unit.shop_number, unit.model, unit.state) for unit in exact[:1]]


def _numbered(house: House, asked: _Asked) -> list[NumberedUnit]:
    first, last = cleaned(asked.text["first"]), cleaned(asked.text["last"])
    first, last = first or last, last or first
    if len(first) != len(last) or first > last:
        words = say(
            "From “{first}” to “{last}” is no range: both are whole shop numbers of one length, the smaller first.",
            first=first,
            last=last,
        )
        asked.problems.append(words)
        return []
    return units_numbered(house.reads.connection(), first, last, MOST + 1)


def _planned(house: House, asked: _Asked) -> list[NumberedUnit]:
    told = asked.text["from_day"] or asked.text["to_day"], asked.text["to_day"] or asked.text["from_day"]
    days = []
    for one in told:
        try:
            days.append(date.fromisoformat(one).isoformat())
        except ValueError:
            asked.problems.append(say("“{one}” is no day; write it as YYYY-MM-DD.", one=one))
            return []
    if days[0] > days[1]:
        asked.problems.append(say("{first} is after {last}; the earlier day comes first.", first=days[0], last=days[1]))
        return []
    return units_planned(house.reads.connection(), days[0], days[1], MOST + 1)
