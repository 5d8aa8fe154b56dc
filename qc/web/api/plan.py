"""POST /plan: a machine hands in a build plan, CSV or XLSX; it is looked through, and taken where that is asked."""

from typing import Any

from flask import Response, request

from qc.domain.facts.people import Person
from qc.domain.handed.build_plan import PlanLine, UnusablePlan
from qc.domain.words.problems import Problem
from qc.reports.units.build_plan import PlanReport, build_plan_report
from qc.store.folder.sheets import UnreadableSheet
from qc.store.plan_intake import PlanOvertaken, take_plan
from qc.web.api.answers import json_answer
from qc.web.api.bodies import body_of
from qc.web.api.machine import machine_for
from qc.web.house import the_house
from qc.web.json_door import refuse

MEDIA_TYPES = ("text/csv", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
MOST_BYTES = 5_000_000
FLAGS = ("take", "leave_wrong")


def answer() -> Response:
    """Answer with what each row does, in the page's words; nothing is taken unless ``take=yes`` asks for it.

    A row that is wrong keeps all from being taken (409), unless ``leave_wrong=yes`` leaves it out. What is planned so
    already is left as it is, so the same plan again changes nothing.
    """
    machine = machine_for("plan")
    assert machine.in_name_of is not None, "a token that may plan names a planner"
    flags = {name: _flag(name) for name in FLAGS}
    if request.mimetype not in MEDIA_TYPES:
        refuse("wrong_media_type", f"The body must be {' or '.join(MEDIA_TYPES)}.", "Content-Type", 415)
    data = body_of(request.mimetype, MOST_BYTES)
    report = _report(data)
    if not flags["take"]:
        return _answer(report, taken=False, left_out=False)
    if report.of("wrong") and not flags["leave_wrong"]:
        return _not_taken(report)
    return _taken(data, report, machine.in_name_of, machine.session)


def _taken(data: bytes, report: PlanReport, person: Person, session: str) -> Response:
    house = the_house()
    try:
        take_plan(house.journal, report.lines, person.code, session, house.clock)
    except PlanOvertaken:  # something came in between: looked through anew, its row tells what is wrong now
        return _not_taken(_report(data))
    return _answer(report, taken=True, left_out=bool(report.of("wrong")))


def _not_taken(report: PlanReport) -> Response:
    words = "Nothing was taken. Mend the wrong rows and send the plan again, or leave them out with leave_wrong=yes."
    return _answer(report, taken=False, left_out=False, error=Problem("wrong_rows", words))


def _report(data: bytes) -> PlanReport:
    house = the_house()
    try:
        return build_plan_report(data, house.reads, house.plant, house.clock())
    except (UnreadableSheet, UnusablePlan) as why:
        refuse("unusable_plan", f"{why}. Nothing was taken.")


def _flag(name: str) -> bool:
    told = request.args.getlist(name)
    if told not in ([], ["yes"], ["no"]):
        refuse("malformed", f"{name} must be yes or no, once.", name)
    return told == ["yes"]


def _answer(report: PlanReport, *, taken: bool, left_out: bool, error: Problem | None = None) -> Response:
    told = {
        "taken": taken,
        "wrong_left_out": left_out,
        "summary": report.summary,
        "notes": list(report.notes),
        "rows": [_row(line) for line in report.lines],
    }
    return json_answer(told) if error is None else json_answer({"error": error.as_dict(), **told}, 409)


def _row(line: PlanLine) -> dict[str, Any]:
    return {"row": line.row, "unit": line.unit, "outcome": line.outcome, "words": line.words}
