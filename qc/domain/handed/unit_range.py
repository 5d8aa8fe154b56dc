"""What an act on a range of units would do to each: cancel, take up again, plan for another day, say on which line."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, get_args

from qc.domain.acts.kinds import KINDS, body_fault
from qc.domain.facts.days import day_fault
from qc.domain.handed.build_plan import NO_LINE, PlanLine
from qc.domain.plant.naming import Names
from qc.domain.plant.plant import Plant
from qc.domain.words.speaking import marked, say, told

RangeAct = Literal["cancel", "take_up", "day", "line"]
ACTS: tuple[RangeAct, ...] = get_args(RangeAct)
KIND_OF: Mapping[RangeAct, str] = {
    "cancel": "unit_cancelled",
    "take_up": "unit_taken_up",
    "day": "plan_changed",
    "line": "plan_changed",
}

_DOING: Mapping[RangeAct, str] = {
    "cancel": marked("{unit} cancelled, planned for {day}: {reason}"),
    "take_up": marked("{unit} taken up again, planned for {day}: {reason}"),
    "day": marked("{unit} planned day {day} → {then}"),
    "line": marked("{unit} line {line} → {then}"),
}


class UnusableRange(Exception):
    """The act cannot be done to any unit; the words say why and what would do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeUnit:
    """A unit as the record has it. released_by: who released it last, "" where it never was."""

    chassis: str
    shop_number: str
    planned_day: str
    is_cancelled: bool
    is_released: bool
    released_by: str
    model: str
    line: str
    met_by: str


def range_lines(
    units: Sequence[RangeUnit], act: RangeAct, reason: str, day: str, line: str, plant: Plant, today: date
) -> tuple[PlanLine, ...]:
    """Return what the act would do to each unit, in order; ``row`` counts them from 1.

    reason: of cancelling and taking up, kept with each; day: for which they are planned anew, ISO; line: on which they
    are built, one of the plant's. Raises UnusableRange for a reason, a day or a line that will not do.
    """
    if act == "line" and not line and plant.lines:
        raise UnusableRange(say("no line is chosen; the plant has {known}", known=Names(plant).lines(plant.lines)))
    if act == "line" and line not in plant.lines:
        raise UnusableRange(say(NO_LINE, line=line[:40], known=Names(plant).lines(plant.lines)))
    changes = {"day": {"planned_day": day}, "line": {"line": line}}
    body: dict[str, Any] = {"changes": changes[act]} if act in changes else {"reason": reason}
    kind = KIND_OF[act]
    if fault := body_fault(KINDS[kind], "0" * 17, body) or day_fault(kind, body, today):
        why = told(fault.message.removeprefix("planned_day "))
        raise UnusableRange(say("the day {why}", why=why) if act == "day" else say("the reason {why}", why=why))
    return tuple(_line(row, unit, act, kind, body, plant) for row, unit in enumerate(units, start=1))


def _line(row: int, unit: RangeUnit, act: RangeAct, kind: str, body: Mapping[str, Any], plant: Plant) -> PlanLine:
    line, names = body.get("changes", {}).get("line", ""), Names(plant)
    if wrong := _wrong(unit, act) or _not_built(unit, line, plant):
        words = say(wrong, unit=unit.shop_number, by=unit.released_by, model=unit.model, line=names.line(line))
        return PlanLine(row=row, unit=unit.chassis, outcome="wrong", words=words)
    if same := _same(unit, act, body):
        return PlanLine(row=row, unit=unit.chassis, outcome="same", words=say(same, unit=unit.shop_number))
    then = names.line(line) if line else body.get("changes", {}).get("planned_day")
    before = names.line(unit.line) if unit.line else say("not told")
    values = {"day": unit.planned_day, "line": before, "then": then, "reason": body.get("reason")}
    words = say(_DOING[act], unit=unit.shop_number, **values)
    return PlanLine(row=row, unit=unit.chassis, outcome="changed", words=words, kind=kind, body=body)


def _wrong(unit: RangeUnit, act: RangeAct) -> str:
    if act == "cancel" and unit.released_by and not unit.is_cancelled:
        return marked("{unit} was released by {by}; what was released is not cancelled")
    if act in ("day", "line") and unit.met_by:
        return marked("{unit} is not planned yet; plan it first")
    if act in ("day", "line") and unit.is_released:
        return marked("{unit} is released; its plan changes no more")
    if act in ("day", "line") and unit.is_cancelled:
        return marked("{unit} is cancelled; take it up again first")
    return ""


def _not_built(unit: RangeUnit, line: str, plant: Plant) -> str:
    if line and line not in plant.lines_of(unit.model):
        return marked("{unit} is a {model}, which {line} does not build")
    return ""


def _same(unit: RangeUnit, act: RangeAct, body: Mapping[str, Any]) -> str:
    if act == "cancel" and unit.is_cancelled:
        return marked("{unit} is cancelled already")
    if act == "take_up" and not unit.is_cancelled:
        return marked("{unit} is not cancelled")
    if act == "day" and unit.planned_day == body["changes"]["planned_day"]:
        return marked("{unit} is planned so already")
    if act == "line" and unit.line == body["changes"]["line"]:
        return marked("{unit} is built there already")
    return ""
