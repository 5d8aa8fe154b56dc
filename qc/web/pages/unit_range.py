"""A range of units by their shop numbers: what an act would do is shown first, then it is done, whole, in one act."""

from flask import Response, render_template, request

from qc.domain.handed.unit_range import UnusableRange
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.units.build_plan import ORDER, PlanReport
from qc.reports.units.unit_range import unit_range_report
from qc.store.plan_intake import PlanOvertaken, take_plan
from qc.web.house import the_house
from qc.web.page_session import current_person, current_sign_in, require_role
from qc.web.pages.page_counts import count_anew

FIELDS = ("first", "last", "act", "reason", "day", "line")
WORDS = {
    "cancel": marked("Cancel"),
    "take_up": marked("Take up again"),
    "day": marked("Plan for another day"),
    "line": marked("Say on which line they are built"),
}
HEADS = {
    "wrong": marked("Not touched, and why"),
    "changed": marked("What would change"),
    "same": marked("So already"),
    "new": "",
}


@require_role("planner", "quality_manager")
def show() -> Response:
    """Return the form that asks for a range."""
    return _page(_asked())


@require_role("planner", "quality_manager")
def look() -> Response:
    """Show what the act would do to each unit; nothing is done."""
    asked = _asked()
    try:
        return _page(asked, report=_report(asked))
    except UnusableRange as why:
        return _page(asked, problem=say("{why} Nothing was changed.", why=_sentence(why)), status=400)


@require_role("planner", "quality_manager")
def take() -> Response:
    """Do it, if it still does what was shown."""
    house, person, signed_in, asked = the_house(), current_person(), current_sign_in(), _asked()
    assert person is not None, "require_role lets nobody else through"
    assert signed_in is not None, "require_role lets nobody else through"
    try:
        report = _report(asked)
    except UnusableRange as why:
        return _page(asked, problem=say("{why} Nothing was changed.", why=_sentence(why)), status=400)
    if not report.doing:
        return _page(asked, report=report, done=say("Nothing is left to do: all that can be is so already."))
    if report.mark != request.form.get("seen"):
        words = say("The record changed since this was shown. Nothing was changed; this is what it would do now.")
        return _page(asked, report=report, problem=words, status=409)
    if report.of("wrong") and request.form.get("leave_wrong") != "yes":
        words = say("Some units cannot be changed so. Take a smaller range, or tick that they are left as they are.")
        return _page(asked, report=report, problem=words, status=409)
    try:
        take_plan(house.journal, report.lines, person.code, signed_in.session, house.clock)
    except PlanOvertaken as why:
        return _page(asked, report=_report(asked), problem=say("Nothing was changed: {why}.", why=why), status=409)
    count_anew()
    return _page(asked, done=_done(asked["act"], len(report.doing)))


def _done(act: str, units: int) -> str:
    if act == "cancel":
        return say_many("{number} unit cancelled.", "{number} units cancelled.", units)
    if act == "take_up":
        return say_many("{number} unit taken up again.", "{number} units taken up again.", units)
    if act == "line":
        return say_many("{number} unit put on its line.", "{number} units put on their line.", units)
    return say_many("{number} unit planned anew.", "{number} units planned anew.", units)


def _asked() -> dict[str, str]:
    return {name: request.values.get(name, "").strip()[:600] for name in FIELDS}


def _report(asked: dict[str, str]) -> PlanReport:
    house = the_house()
    return unit_range_report(house.reads, house.plant, house.clock(), **asked)


def _sentence(why: UnusableRange) -> str:
    words = str(why)
    return f"{words[:1].upper()}{words[1:]}."


def _acts() -> dict[str, str]:
    """Return what may be done, the line where the plant has several."""
    several = len(the_house().plant.lines) > 1
    return {act: words for act, words in WORDS.items() if act != "line" or several}


def _page(
    asked: dict[str, str], *, report: PlanReport | None = None, problem: str = "", done: str = "", status: int = 200
) -> Response:
    told = {"asked": asked, "report": report, "problem": problem, "done": done}
    page = render_template("plan/range.html", **told, acts=_acts(), order=ORDER, heads=HEADS)
    return Response(page, status, mimetype="text/html")
