"""What an act on a range of units would do to each: cancel them, take them up again, plan them for another day."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, get_args

from qc.domain.build_plan import PlanLine
from qc.domain.days import day_fault
from qc.domain.kinds import KINDS, body_fault
from qc.domain.speaking import marked, say, told

RangeAct = Literal["cancel", "take_up", "day"]
ACTS: tuple[RangeAct, ...] = get_args(RangeAct)
KIND_OF: Mapping[RangeAct, str] = {"cancel": "unit_cancelled", "take_up": "unit_taken_up", "day": "plan_changed"}

_DOING: Mapping[RangeAct, str] = {
    "cancel": marked("{unit} cancelled, planned for {day}: {reason}"),
    "take_up": marked("{unit} taken up again, planned for {day}: {reason}"),
    "day": marked("{unit} planned day {day} → {then}"),
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


def range_lines(units: Sequence[RangeUnit], act: RangeAct, reason: str, day: str, today: date) -> tuple[PlanLine, ...]:
    """Return what the act would do to each unit, in order; ``row`` counts them from 1.

    reason: of cancelling and taking up, kept with each; day: for which they are planned anew, ISO. Raises UnusableRange
    for a reason or a day that will not do.
    """
    body: dict[str, Any] = {"changes": {"planned_day": day}} if act == "day" else {"reason": reason}
    kind = KIND_OF[act]
    if fault := body_fault(KINDS[kind], "0" * 17, body) or day_fault(kind, body, today):
        why = told(fault.message.removeprefix("planned_day "))
        raise UnusableRange(say("the day {why}", why=why) if act == "day" else say("the reason {why}", why=why))
    return tuple(_line(row, unit, act, kind, body) for row, unit in enumerate(units, start=1))


def _line(row: int, unit: RangeUnit, act: RangeAct, kind: str, body: Mapping[str, Any]) -> PlanLine:
    if wrong := _wrong(unit, act):
        return PlanLine(
            row=row, unit=unit.chassis, outcome="wrong", words=say(wrong, unit=unit.shop_number, by=unit.released_by)
        )
    if same := _same(unit, act, body):
        return PlanLine(row=row, unit=unit.chassis, outcome="same", words=say(same, unit=unit.shop_number))
    then = body.get("changes", {}).get("planned_day")
    words = say(_DOING[act], unit=unit.shop_number, day=unit.planned_day, then=then, reason=body.get("reason"))
    return PlanLine(row=row, unit=unit.chassis, outcome="changed", words=words, kind=kind, body=body)


def _wrong(unit: RangeUnit, act: RangeAct) -> str:
    if act == "cancel" and unit.released_by and not unit.is_cancelled:
        return marked("{unit} was released by {by}; what was released is not cancelled")
    if act == "day" and unit.is_released:
        return marked("{unit} is released; its plan changes no more")
    if act == "day" and unit.is_cancelled:
        return marked("{unit} is cancelled; take it up again first")
    return ""


def _same(unit: RangeUnit, act: RangeAct, body: Mapping[str, Any]) -> str:
    if act == "cancel" and unit.is_cancelled:
        return marked("{unit} is cancelled already")
    if act == "take_up" and not unit.is_cancelled:
        return marked("{unit} is not cancelled")
    if act == "day" and unit.planned_day == body["changes"]["planned_day"]:
        return marked("{unit} is planned so already")
    return ""
