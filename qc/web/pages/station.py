"""A station's own page: what waits for its lead's word, its trend, its photos, and what changed there."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from urllib.parse import urlencode

from flask import redirect, render_template, request
from werkzeug.wrappers import Response

from qc.charts.kinds.week_axis import on_one_axis
from qc.charts.pages.station import trend_picture, types_table
from qc.domain.facts.operations import CHANGE_KINDS
from qc.domain.facts.people import Person
from qc.domain.plant.line_map import line_map
from qc.domain.plant.plant import Plant, Station
from qc.domain.unit.origins import has_lead
from qc.domain.words.problems import Problem, Refused
from qc.domain.words.speaking import marked, say
from qc.reports.asking import Asking
from qc.reports.stations.standing import last_whole, standing
from qc.reports.stations.station import StationReport, station_report
from qc.reports.units.open_criticals import open_criticals, open_words
from qc.reports.watch.signals import Signal
from qc.store.reading.reads import Unsettled
from qc.web.house import House, the_house
from qc.web.page_session import current_person, require_role
from qc.web.pages.acting import act, typed_words
from qc.web.pages.changes import station_notes
from qc.web.pages.filters import last_whole_week, week_asked
from qc.web.pages.page_counts import counts_of, today, usual
from qc.web.pages.review_signals import week_signals
from qc.web.pages.station_cards import following, touched, trend_spark
from qc.web.pages.station_origins import station_origins

# "Not yet known" is nobody's; every other place can be an origin, the bays too (damage while testing or looking).
NO_PAGE = ("unknown",)
TYPED = ("defect", "station", "reason")  # what a lead fills in of a defect that was not made here
AT_ONCE = 6  # cards shown before the older ones are opened
DONE = {
    "confirm": marked("Confirmed: made here. It stands in your numbers as confirmed."),
    "pass_on": marked("Passed on with your reason. The other station is asked now."),
    "dispute": marked("Disputed with your reason. The quality manager settles it at the unit."),
    "change": marked("Noted. It stands beside your trend from that day on."),
}


@require_role("quality_manager", "station_lead")
def choose() -> str:
    """Return the list of stations that the person may open, with what waits at each."""
    house = the_house()
    unsettled = _unsettled(house)
    lines = [
        {"id": one.id, "name": one.name, "kind": one.kind, **_waits(unsettled.get(one.id))}
        for one in stations_of(_person(), house.shown)
    ]
    return render_template("station/stations.html", lines=lines, **_on_the_line(house, unsettled))


@dataclass(frozen=True, slots=True)
class Place:
    """A station on the map: way is "more" where a signal of more than usual lasts, else ""; words say it."""

    way: str
    words: str


def _on_the_line(house: House, unsettled: Mapping[str, Unsettled], here: str = "") -> dict[str, object]:
    """Return the map of the line with the standing of each station that the person may open."""
    signals = week_signals(house, last_whole_week(today(house)))
    own = [one.id for one in stations_of(_person(), house.shown)]
    return {
        "map": line_map(house.shown),
        "open_to": own,
        "here": here,
        "standings": {code: _standing(signals.at(code), unsettled.get(code)) for code in own},
    }


def _standing(signals: Sequence[Signal], waits: Unsettled | None) -> Place:
    lasting = [one for one in signals if not one.over]
    way = "more" if any(one.direction == "up" for one in lasting) else ""
    moved = say("more than usual") if way else say("fewer than usual") if lasting else ""
    return Place(way, ", ".join(filter(None, (moved, say("waits for a word") if waits and waits.waiting else ""))))


def _unsettled(house: House) -> dict[str, Unsettled]:
    return house.reads.unsettled(counts_of(house).confirm_before(house.clock()))


def _waits(at: Unsettled | None) -> dict[str, int]:
    return {"waiting": at.waiting if at else 0, "disputed": at.disputed if at else 0}


@require_role("quality_manager", "station_lead")
def show(station: str) -> tuple[str, int]:
    """Return a station's page for the week asked for, the last whole one by default."""
    allowed(station)
    return page(station, done=say(DONE.get(request.args.get("done", ""), "")))


@require_role("quality_manager", "station_lead")
def answer(station: str) -> Response | tuple[str, int]:
    """Take the lead's word on one defect: made here, passed on, or disputed."""
    allowed(station)
    given = request.form.get("answer", "")
    typed = {name: request.form.get(name, "").strip() for name in TYPED}
    body = {"defect": typed["defect"]}
    if given in ("pass_on", "dispute"):
        body["reason"] = typed["reason"]
    if given in ("confirm", "pass_on"):
        body["station"] = station if given == "confirm" else typed["station"]
    kind = {"confirm": "origin_confirmed", "pass_on": "origin_passed_on", "dispute": "origin_disputed"}.get(given)
    if kind is None:
        refused = say("Choose made here, passed on or disputed. Nothing was changed.")
        return page(station, refused=typed_words(refused, typed["reason"]), status=400, typed=typed)
    came = act(the_house(), _person(), kind, request.form.get("unit", ""), body)
    if came.done:
        return _done(station, given)
    return page(station, refused=typed_words(came.words, typed["reason"]), status=came.status, typed=typed)


@require_role("quality_manager", "station_lead")
def note_change(station: str) -> Response | tuple[str, int]:
    """Keep what changed at the station, from which day."""
    allowed(station)
    body = {name: request.form.get(name, "").strip() for name in ("change", "what", "from_day")}
    came = act(the_house(), _person(), "change_noted", None, {"station": station, **body})
    if came.done:
        return _done(station, "change")
    return page(station, refused=came.words, status=came.status, entered=body)


def _done(station: str, given: str) -> Response:
    week = request.args.get("week", "")
    query = urlencode({"done": given, **({"week": week} if week else {})})
    return redirect(f"/stations/{station}?{query}{_place()}", 303)


def _place() -> str:
    """Return where the page opens after an answer: at the card after the one that was answered, which now is gone."""
    card = request.form.get("next", "")
    return f"#d-{card}" if re.fullmatch(r"[0-9a-f-]{36}", card) else "#waiting-head" if "defect" in request.form else ""


def page(
    station: str,
    done: str = "",
    refused: str = "",
    status: int = 200,
    entered: dict[str, str] | None = None,
    typed: Mapping[str, str] = MappingProxyType({}),
) -> tuple[str, int]:
    """Return the page with what came of an act; what was refused is kept in its form.

    entered: of the form of changes; typed: of a defect's, by the names of `TYPED`.
    """
    house = the_house()
    monday, problems = week_asked(request.args.get("week", ""), today(house), usual(house))
    report = reported(house, station, monday)
    every = open_criticals(Asking(counts=counts_of(house), plant=house.shown, now_ms=house.clock()))
    own_criticals = tuple(one for one in every if station in one.origins)
    text = render_template(
        "station/station.html",
        open_criticals=own_criticals,
        open_words=open_words(own_criticals),
        report=report,
        stands=standing(report, today(house)),
        last_whole=last_whole(report.by_work.dots),
        trend_spark=trend_spark(report.by_work),
        spots=touched(house.shown, (*report.waiting, *report.disputed)),
        following=following(report.waiting),
        query=f"?week={report.week.code}" if request.args.get("week") and not problems else "",
        waiting_first=report.waiting[:AT_ONCE],
        waiting_more=report.waiting[AT_ONCE:],
        trends=on_one_axis(
            [
                trend_picture(station, trend, station_notes(report.change_notes))
                for trend in (report.by_work, report.by_found)
            ]
        ),
        types_table=types_table(report),
        **station_origins(house, report),
        own_stations=stations_of(_person(), house.shown),
        **_on_the_line(house, _unsettled(house), station),
        manages=_person().has("quality_manager"),
        may_answer=may_answer(_person(), station),
        may_confirm=may_confirm(_person(), house.shown, station),
        done=done,
        refused=refused,
        typed=typed,
        problems=problems,
        is_last_week=monday == last_whole_week(today(house)),
        change_kinds=CHANGE_KINDS,
        entered=entered or {"change": "", "what": "", "from_day": today(house).isoformat()},
    )
    return text, status if not problems else 400


def reported(house: House, station: str, monday: date) -> StationReport:
    """Return the report of a station."""
    signals = week_signals(house, monday)
    return station_report(counts_of(house), house.reads, house.shown, station, monday, house.clock(), signals)


def stations_of(person: Person, plant: Plant) -> list[Station]:
    """Return the stations whose page a person may open, in table order."""
    every = [one for one in plant.stations.values() if one.kind not in NO_PAGE]
    return every if person.has("quality_manager") else [one for one in every if one.id in person.stations]


def may_confirm(person: Person, plant: Plant, station: str) -> bool:
    """Whether the person can say "made here": the station's lead, or the quality manager where no lead answers."""
    return station in person.stations or (person.has("quality_manager") and not has_lead(plant, station))


def may_answer(person: Person, station: str) -> bool:
    """Whether the person's word counts for the station: its own lead, or the quality manager."""
    return person.has("quality_manager") or station in person.stations


def allowed(station: str) -> None:
    """Raise Refused: 404 for a station that has no page, 403 for a lead of another one."""
    house, person = the_house(), _person()
    if station not in {one.id for one in house.shown.stations.values() if one.kind not in NO_PAGE}:
        none = say("There is no station {station} with a page of its own.", station=repr(station[:40]))
        raise Refused(Problem("not_found", none), 404)
    if not may_answer(person, station):
        own = ", ".join(person.stations) or say("no station")
        told = say("{station} has its own lead. You answer for {own}.", station=station, own=own)
        raise Refused(Problem("not_allowed", told), 403)


def _person() -> Person:
    person = current_person()
    assert person is not None  # require_role has sent strangers away
    return person
