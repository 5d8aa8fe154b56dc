"""One unit's page: its release record or why there is none, its defects, tests, inspections and whole story."""

import threading
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import orjson
from flask import redirect, render_template, request
from werkzeug.wrappers import Response

from qc.charts.kinds.zone_map import Look, ZoneMark, view_drawing
from qc.domain.plant.chassis import cleaned, readable
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import Plant, ViewPicture
from qc.domain.tables.pictures_table import pictures_of
from qc.domain.unit.unit_record import UnitRecord
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.units.unit import UnitDefect, UnitTest, unit_report
from qc.web.house import House, the_house
from qc.web.page_session import current_person, require_role
from qc.web.pages.acting import act, typed_words
from qc.web.pages.page_counts import today
from qc.web.pages.unit_after import FIELDS, ROLES, after_form, finding_of, form_fault
from qc.web.pages.units import why_unknown

DONE = {
    "settled": marked("Settled. Both reasons stay with the defect."),
    "cancelled": marked("Cancelled. It stands in no list of work and is not released; what was recorded on it stays."),
    "taken_up": marked("Taken up again. It stands where what was recorded on it leaves it."),
    "found": marked("Entered. It stands in the unit's story and counts as found after dispatch."),
    "suspected": marked("Named. The place stands as suspected, and whoever answers for it is asked now."),
}


_ENTERING = threading.Lock()  # the same form sent twice at once must not find twice that it was not entered yet
CARDS_AT_ONCE = 6  # of what waits; the rest opens
MOMENTS_AT_ONCE = 4  # a longer life is folded on a phone
SETTLED = ("closed", "withdrawn")
TEST_WORDS = {
    "failed": marked("failed"),
    "missing": marked("not tested"),
    "voided": marked("voided by a later repair"),
    "passed": marked("passed"),
}
_TEST_STATES = {**TEST_WORDS, "voided": marked("voided")}
_ORIGIN_STATES = {
    "none": marked("none"),
    "suspected": marked("suspected"),
    "confirmed": marked("confirmed"),
    "disputed": marked("disputed"),
    "settled": marked("settled"),
}


@dataclass(frozen=True, slots=True)
class Drawing:
    """One view of the unit, drawn, with what lies at its edges.

    marked: whether a defect is on it; waits: whether one that is not settled is.
    """

    id: str
    name: str
    marked: bool
    waits: bool
    left: str
    right: str
    svg: str


@dataclass(frozen=True, slots=True)
class Drawings:
    """The views in the order of what they show: first what waits; settled: marked with settled defects alone."""

    first: tuple[Drawing, ...]
    settled: tuple[Drawing, ...]
    others: tuple[Drawing, ...]


@dataclass(frozen=True, slots=True)
class Defects:
    """The defects with their numbers: those that wait for somebody, and those that are settled, with their words."""

    waiting: tuple[tuple[int, UnitDefect], ...]
    settled: tuple[tuple[int, UnitDefect], ...]

    @property
    def settled_words(self) -> str:
        """Return how many settled ones stand how: "14 closed, 8 withdrawn"."""
        sums = {state: sum(one.state == state for _, one in self.settled) for state in SETTLED}
        return ", ".join(f"{number} {code_words(state)}" for state, number in sums.items() if number)


@require_role()
def show(chassis: str) -> Response | tuple[str, int]:
    """Return the unit's page; a short number that means one unit leads to it, another gets its nearest."""
    house = the_house()
    record = house.reads.unit_story(cleaned(chassis))
    if record is None:
        return unknown(house, chassis)
    return page(house, record, done=_done(request.args.get("done", "")))


@require_role("quality_manager")
def settle(chassis: str) -> Response | tuple[str, int]:
    """Take the manager's word on a disputed origin."""
    return _said(chassis, "origin_settled", ("defect", "station", "reason"), "settled")


@require_role("quality_manager")
def suspect(chassis: str) -> Response | tuple[str, int]:
    """Take the place that the manager names for a defect that nobody has named one for; its lead is asked then."""
    return _said(chassis, "origin_suspected", ("defect", "station"), "suspected")


@require_role("planner", "quality_manager")
def cancel(chassis: str) -> Response | tuple[str, int]:
    """Cancel the unit: it stands in no list of work any more and is not released; what was recorded stays."""
    return _said(chassis, "unit_cancelled", ("reason",), "cancelled")


@require_role("planner", "quality_manager")
def take_up(chassis: str) -> Response | tuple[str, int]:
    """Take the cancelled unit up again."""
    return _said(chassis, "unit_taken_up", ("reason",), "taken_up")


@require_role(*ROLES)
def found(chassis: str) -> Response | tuple[str, int]:
    """Take what was found after dispatch, under the name of who enters it."""
    with _ENTERING:
        return _found(chassis)


def _found(chassis: str) -> Response | tuple[str, int]:
    house, person = the_house(), current_person()
    assert person is not None  # require_role has sent strangers away
    record = house.reads.unit_story(cleaned(chassis))
    if record is None:
        return unknown(house, chassis)
    entered = {name: request.form.get(name, "").strip() for name in FIELDS}
    if fault := form_fault(house.shown, record, entered, today(house)):
        refused = say("Not done: {why} Nothing was changed.", why=fault)
        return page(house, record, refused=refused, status=400, entered=entered)
    came = act(house, person, "field_finding", record.chassis, finding_of(house.shown, entered))
    if came.done:
        return redirect(f"/units/{record.chassis}?done=found", 303)
    return page(house, record, refused=came.words, status=came.status, entered=entered)


def _done(code: str) -> str:
    return say(DONE[code]) if code in DONE else ""


def _said(chassis: str, kind: str, fields: tuple[str, ...], done: str) -> Response | tuple[str, int]:
    house, person = the_house(), current_person()
    assert person is not None  # require_role has sent strangers away
    record = house.reads.unit_story(cleaned(chassis))
    if record is None:
        return unknown(house, chassis)
    body = {name: request.form.get(name, "").strip() for name in fields}
    came = act(house, person, kind, record.chassis, body)
    if came.done:
        return redirect(f"/units/{record.chassis}?done={done}", 303)
    refused = typed_words(came.words, body.get("reason", ""))
    return page(house, record, refused=refused, status=came.status, typed={"kind": kind, **body})


def page(
    house: House,
    record: UnitRecord,
    done: str = "",
    refused: str = "",
    status: int = 200,
    entered: Mapping[str, str] = MappingProxyType({}),
    typed: Mapping[str, str] = MappingProxyType({}),
) -> tuple[str, int]:
    """Return the unit's page with what came of an act; what was not taken is kept in its form.

    entered: of the form of findings; typed: of another one, with its kind of operation.
    """
    report = unit_report(house.reads, house.shown, record.chassis)
    defects = in_order(report.defects)
    views = drawings(
        house.shown,
        record,
        [one.id for one in report.defects],
        {one.id for _, one in defects.waiting},
        own_pictures(house, record.chassis),
    )
    person = current_person()
    graph = BuildGraph(house.shown)
    text = render_template(
        "unit/unit.html",
        report=report,
        release_number=record.releases[-1].number if report.release and record.releases else None,
        drawings=views_in_order(views),
        defects=defects,
        cards_at_once=CARDS_AT_ONCE,
        moments_at_once=MOMENTS_AT_ONCE,
        drawings_basis=drawings_basis(record),
        tests_words=tests_words(report.tests),
        test_states={result: say(words) for result, words in _TEST_STATES.items()},
        origin_states={state: say(words) for state, words in _ORIGIN_STATES.items()},
        may_settle=person is not None and person.has("quality_manager"),
        leads=person.stations if person is not None else (),
        planning=_planning(record) if person is not None and person.has("planner", "quality_manager") else "",
        possible_origins=lambda point: graph.possible_origins(point, record.model, record.line),
        after=after_form(house.shown, record, person, today(house), entered),
        typed=typed,
        done=done,
        refused=refused,
    )
    return text, status


def _planning(record: UnitRecord) -> str:
    """Return what a planner may do to the unit's place in the plan: "cancel", "take_up", or "" once it was released."""
    if record.cancelled is not None:
        return "take_up"
    return "" if record.releases else "cancel"


def looks_of(record: UnitRecord) -> dict[str, Look]:
    """Return the state of each marked zone over all inspections: looked at in any of them, else not looked at."""
    marks = sorted((look for one in record.inspections for look in one.looks), key=lambda look: look.number)
    looks: dict[str, Look] = {}
    for mark in marks:
        if mark.looked:
            looks[mark.zone] = "looked"
        else:
            looks.setdefault(mark.zone, "not_looked")
    return looks


def in_order(defects: Sequence[UnitDefect]) -> Defects:
    """Return the defects with their places in the list; a settled one whose origin is disputed waits for a word."""
    numbered = tuple(enumerate(defects, start=1))

    def waits(one: UnitDefect) -> bool:
        return one.state not in SETTLED or (one.state == "closed" and one.origin_state == "disputed")

    return Defects(tuple(one for one in numbered if waits(one[1])), tuple(one for one in numbered if not waits(one[1])))


def views_in_order(views: Sequence[Drawing]) -> Drawings:
    """Return the views: those on which something waits, else the first with a defect, else the first."""
    faulty = [one for one in views if one.marked]
    first = [one for one in views if one.waits] or faulty[:1] or list(views[:1])
    return Drawings(
        tuple(first),
        tuple(one for one in faulty if one not in first),
        tuple(one for one in views if not one.marked and one not in first),
    )


def drawings(
    plant: Plant,
    record: UnitRecord,
    order: list[str],
    waiting: Collection[str] = (),
    pictures: Mapping[tuple[str, str], ViewPicture] = MappingProxyType({}),
) -> list[Drawing]:
    """Return the views of the unit's model; defects carry their number in the page's list (order: their ids).

    waiting: the ids of those that are not settled. pictures: what lies under the zones, by model and view.
    """
    found = {one.zone for one in record.defects}
    asked = set(plant.zones_of(record.model, options=record.options))
    seen = {look.zone for one in record.inspections for look in one.looks}
    zones = tuple(
        one
        for one in plant.zones_of(record.model, ended=True)
        if one in asked or one.key in found or (one.key in seen and not one.ended)
    )
    looks, lines = looks_of(record), plant.outlines_of(record.model)
    numbers = {id_: place for place, id_ in enumerate(order, start=1)}
    marks = [ZoneMark(numbers[one.id], one.zone, one.mark) for one in record.defects if one.id in numbers]
    on = {zone.view for zone in zones if any(mark.zone == zone.key for mark in marks)}
    held = {one.zone for one in record.defects if one.id in waiting}
    waits = {zone.view for zone in zones if zone.key in held}
    return [
        Drawing(view.id, view.name, view.id in on, view.id in waits, view.left, view.right, drawn)
        for view in plant.views.values()
        if (
            drawn := view_drawing(
                f"view-{view.id}", view, zones, looks, marks, lines, pictures.get((record.model, view.id))
            )
        )
    ]


def own_pictures(house: House, chassis: str) -> Mapping[tuple[str, str], ViewPicture]:
    """Return the pictures of the tables under which the unit was last looked at, else those in force.

    What people looked at and touched stays on the picture that they had before them.
    """
    revision = house.reads.looked_at_under(chassis)
    if revision is None or revision == house.plant.revision:
        return house.shown.pictures
    kept = house.reads.tables_of(revision)
    return house.shown.pictures if kept is None else pictures_of(orjson.loads(kept), house.shown)


def tests_words(tests: Sequence[UnitTest]) -> str:
    """Return how many of the model's tests stand how: "27 tests: 24 passed, 2 voided, 1 not tested."."""
    sums = {words: sum(one.result == result for one in tests) for result, words in TEST_WORDS.items()}
    told = ", ".join(f"{number} {say(words)}" for words, number in sums.items() if number)
    return say_many("{number} test: {told}.", "{number} tests: {told}.", len(tests), told=told)


def drawings_basis(record: UnitRecord) -> str:
    """Return in words which inspections the drawings put together."""
    if not record.inspections:
        return say("No inspection yet.")
    return say_many("One inspection.", "All {number} inspections together.", len(record.inspections))


def unknown(house: House, chassis: str) -> Response | tuple[str, int]:
    """Return the answer to a number that is no unit here: its only likely one, or the nearest."""
    found = house.reads.find_units(chassis, 2)
    if len(found) == 1:
        return redirect(f"/units/{found[0].chassis}", 302)
    nearest = house.reads.nearest_units(readable(house.shown, chassis), 5)
    problems = [why_unknown(house.shown, chassis)]
    return render_template("unit/unknown.html", text=chassis[:40], problems=problems, nearest=nearest), 404
