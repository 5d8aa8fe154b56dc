"""Units that passed stations, from a file: looked through first, then taken whole, in one act."""

from flask import Response, render_template

from qc.domain.facts.people import Person
from qc.domain.handed.passed_list import UnusableList
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.units.passed_list import ORDER, PassedReport, passed_report
from qc.store.folder.sheets import UnreadableSheet
from qc.store.passed_intake import ListOvertaken, take_passed
from qc.web.house import House, the_house
from qc.web.page_session import acting_person, acting_session, require_role
from qc.web.pages.handed_files import LIST, FilesOfPages, NotTaken, as_shown, handed_in, left_out, looked_through

SHOWN = 200  # rows of one outcome; wrong rows are shown all
HEADS = {"wrong": marked("Not taken"), "new": marked("Passings not told yet"), "same": marked("Told before")}

_files = FilesOfPages()


@require_role("station_lead", "planner", "quality_manager")
def show() -> Response:
    """Return the page that asks for a file."""
    return _page()


@require_role("station_lead", "planner", "quality_manager")
def look() -> Response:
    """Look a file through and show what taking it would do; nothing is taken."""
    house = the_house()
    try:
        name, data = handed_in(LIST)
        report = _report(house, data)
    except NotTaken as why:
        return _page(problem=why.words, status=why.status)
    except (UnreadableSheet, UnusableList) as why:
        return _page(problem=say("{why}. Nothing was taken.", why=why), status=400)
    return _page(name=name, report=report, digest=_files.of(house).keep(acting_person(), name, data))


@require_role("station_lead", "planner", "quality_manager")
def take() -> Response:
    """Take a file that was looked through, if it still does what was shown."""
    house, person = the_house(), acting_person()
    try:
        name, data, digest = looked_through(_files.of(house), person)
    except NotTaken as why:
        return _page(problem=why.words, status=why.status)
    with _files.of(house).taking:
        return _taken(house, person, digest, name, data)


def _taken(house: House, person: Person, digest: str, name: str, data: bytes) -> Response:
    report = _report(house, data)
    if not report.doing:
        return _page(name=name, report=report, digest=digest, done=say("Nothing is left to take."))
    try:
        as_shown(report)
        take_passed(house.journal, report.lines, person.code, acting_session(), house.clock)
    except NotTaken as why:
        return _page(name=name, report=report, digest=digest, problem=why.words, status=why.status)
    except ListOvertaken as why:
        words = say("Nothing was taken: {why}", why=why)
        return _page(name=name, report=_report(house, data), digest=digest, problem=words, status=409)
    taken = say_many(
        "Taken from {name}: {number} passing.", "Taken from {name}: {number} passings.", len(report.doing), name=name
    )
    return _page(name=name, done=f"{taken} {left_out(len(report.of('wrong')))}".rstrip())


def _page(
    *,
    name: str = "",
    report: PassedReport | None = None,
    digest: str = "",
    problem: str = "",
    done: str = "",
    status: int = 200,
) -> Response:
    page = render_template(
        "passed/passed.html",
        name=name,
        report=report,
        digest=digest,
        problem=problem,
        done=done,
        order=ORDER,
        heads=HEADS,
        shown=SHOWN,
        zone=the_house().plant.time_zone,
    )
    return Response(page, status, mimetype="text/html")


def _report(house: House, data: bytes) -> PassedReport:
    return passed_report(data, house.reads, house.plant, house.clock())
