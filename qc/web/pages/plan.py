"""The build plan: a file is looked through first, and what it says is shown; then it is taken, whole, in one act."""

from collections.abc import Mapping

from flask import Response, render_template

from qc.domain.facts.people import SERVER
from qc.domain.handed.build_plan import UnusablePlan
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.units.build_plan import ORDER, PlanReport, build_plan_report
from qc.store.drops import latest_drops
from qc.store.folder.sheets import UnreadableSheet
from qc.store.intake.awaited import awaited
from qc.store.plan_intake import PlanOvertaken, take_plan
from qc.web.house import House, the_house
from qc.web.page_session import acting_person, acting_session, require_role
from qc.web.pages.handed_files import PLAN, FilesOfPages, NotTaken, as_shown, handed_in, left_out, looked_through

SHOWN = 200  # rows of one outcome; a plan's wrong rows are shown all
DROPS = 10  # of the latest files of the drop folder
CANCELLED = 100  # of the cancelled units, whose number only grows
AWAITED = 200  # of the units that work waits for, which a phone can make as many as it likes
HEADS = {
    "wrong": marked("Not taken"),
    "changed": marked("Changes of what is planned"),
    "new": marked("New units"),
    "same": marked("Planned so already"),
}


_files = FilesOfPages()


@require_role("planner", "quality_manager")
def show() -> Response:
    """Return the page that asks for a file."""
    return _page()


@require_role("planner", "quality_manager")
def look() -> Response:
    """Look a file through and show what taking it would do; nothing is taken."""
    house, person = the_house(), acting_person()
    try:
        name, data = handed_in(PLAN)
    except NotTaken as why:
        return _page(problem=why.words, status=why.status)
    try:
        report = _report(house, data)
    except (UnreadableSheet, UnusablePlan) as why:
        return _page(problem=say("{name}: {why}. Nothing was taken.", name=name, why=why), status=400)
    return _page(name=name, report=report, digest=_files.of(house).keep(person, name, data))


@require_role("planner", "quality_manager")
def take() -> Response:
    """Take a file that was looked through, if it still does what was shown."""
    house, person = the_house(), acting_person()
    try:
        name, data, digest = looked_through(_files.of(house), person)
    except NotTaken as why:
        return _page(problem=why.words, status=why.status)
    try:
        report = _report(house, data)
    except UnusablePlan as why:  # the plant's names for its columns were changed meanwhile
        return _page(problem=say("{name}: {why}. Nothing was taken.", name=name, why=why), status=409)
    if not report.doing:
        return _page(name=name, report=report, digest=digest, done=_nothing_words(report))
    try:
        as_shown(report)
        take_plan(house.journal, report.lines, person.code, acting_session(), house.clock)
    except NotTaken as why:
        return _page(name=name, report=report, digest=digest, problem=why.words, status=why.status)
    except PlanOvertaken as why:
        words = say("Nothing was taken: {why}", why=why)
        return _page(name=name, report=_report(house, data), digest=digest, problem=words, status=409)
    return _page(name=name, done=_taken_words(report, name))


def _own_names(names: Mapping[str, str]) -> str:
    """Return what the plant calls a plan's columns in its files, in words; "" where it has no names of its own."""
    columns = [
        say("“{name}” for {column}", name=name, column=column.replace("_", " ")) for column, name in names.items()
    ]
    return ", ".join(columns)


def _nothing_words(report: PlanReport) -> str:
    told = [say("Nothing is left to take: what can be taken is planned so already.")]
    if wrong := len(report.of("wrong")):
        told.append(say_many("{number} wrong row is not taken.", "{number} wrong rows are not taken.", wrong))
    return " ".join(told)


def _taken_words(report: PlanReport, name: str) -> str:
    new, changed, wrong = (len(report.of(outcome)) for outcome in ("new", "changed", "wrong"))
    taken = say("Taken from {name}: {new} planned, {changed} changed.", name=name, new=new, changed=changed)
    return f"{taken} {left_out(wrong)}".rstrip()


def _page(
    *,
    name: str = "",
    report: PlanReport | None = None,
    digest: str = "",
    problem: str = "",
    done: str = "",
    status: int = 200,
) -> Response:
    house = the_house()
    page = render_template(
        "plan/plan.html",
        name=name,
        report=report,
        digest=digest,
        problem=problem,
        done=done,
        order=ORDER,
        heads=HEADS,
        shown=SHOWN,
        form=house.plant.plan,
        own_names=_own_names(house.plant.plan.names),
        machines=[one for one in house.machines.all() if one.in_name_of == acting_person().code and not one.ended],
        server=SERVER,
        drop=house.plant.drop,
        drops=latest_drops(house.reads.connection(), DROPS) if house.plant.drop else [],
        awaited=awaited(house.reads.connection(), AWAITED),
        most_awaited=AWAITED,
        cancelled=house.reads.unit_list("cancelled", CANCELLED),
        most_cancelled=CANCELLED,
    )
    return Response(page, status, mimetype="text/html")


def _report(house: House, data: bytes) -> PlanReport:
    return build_plan_report(data, house.reads, house.plant, house.clock())
