"""Muting on the page of signals: works, refuses the stranger, refuses nonsense with a reason, can be ended."""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from tests.web.pages.acting_kit import send
from tests.web.pages.reading import read

MONDAY = date(2026, 3, 2)
NOW = "2026-05-26"  # the Tuesday after the week of the rise
SIGNAL = {"station": "S07", "type": "PAN-06", "direction": "up"}
MUTE = {**SIGNAL, "reason": "the new <jig> comes in week 25", "until": "2026-06-22"}


@pytest.fixture
def moved(server):
    """A server whose record holds eleven quiet weeks of twenty units, and one with three times the defects of S07."""

    def fill(conn):
        rows = RowRecord.__new__(RowRecord)
        rows.plant, rows.connection, rows._numbers = server.house.plant, conn, 0
        for week in range(12):
            day = (MONDAY + timedelta(weeks=week, days=2)).isoformat()
            for n in range(20):
                rows.seen_through(f"U{week}-{n}", day)
                if n < (6 if week < 11 else 18):
                    where = {"inspection": f"U{week}-{n}-D01", "confirmed": "S07", "type_": "PAN-06"}
                    rows.defect(f"U{week}-{n}-d", f"U{week}-{n}", day, **where)

    server.house.journal.write(fill)
    server.now = noon(NOW)
    return server


def listed(page):
    """Return the headings of the signals on the list, and of the muted ones."""
    shown = read(page.get("/signals"))
    return tuple([one.text.replace(" :", ":") for one in shown.all(tag) if one.all("a")] for tag in ("h2", "h3"))


def journal_size(server):
    return server.house.reads.chain()[0]


RISE = "S07 Wall panels bond: Panel joint step out of limit, more"


def test_a_signal_offers_to_be_muted_for_four_weeks_and_at_most_26(moved):
    form = read(moved.page("quality_manager").get("/signals")).one("form", class_="mute")
    until = form.one("input", name="until").attrs

    assert (until["value"], until["min"], until["max"]) == ("2026-06-23", "2026-05-27", "2026-11-24")
    assert {name: form.one("input", name=name).attrs["value"] for name in SIGNAL} == SIGNAL
    assert form.one("input", name="reason").attrs["minlength"] == "3"


def test_who_leads_the_station_is_offered_no_mute_and_told_who_does(moved):
    roles = {"role": "quality_manager", "also": "station_lead", "stations": "S07"}
    assert send(moved.page("administrator"), "/people/role", person="MI1", **roles).status_code == 303
    page = moved.page("quality_manager")
    shown = read(page.get("/signals"))

    assert not shown.all("form", class_="mute")
    assert "You lead S07 Wall panels bond: another quality manager mutes its signals." in shown.text
    assert "MI1 leads S07 Wall panels bond" in read(send(page, "/signals/mute", **MUTE)).one("p", role="alert").text


def test_a_muted_signal_stands_apart_with_who_why_and_until_when(moved):
    page = moved.page("quality_manager")
    assert listed(page) == ([RISE], [])
    answer = send(page, "/signals/mute", **MUTE)
    shown = read(page.get(answer.headers["Location"]))

    assert (answer.status_code, answer.headers["Location"]) == (303, "/signals?done=mute")
    assert "Muted. It stands below" in shown.one("p", role="status").text
    assert listed(page) == ([], [RISE])
    assert "Muted until Mon 22 Jun 2026 by MI1 on Tue 26 May 2026: “the new <jig> comes in week 25”" in shown.text
    assert "Nothing else moved beyond chance up to 2026-W21. 1 muted until 2026-06-22." in shown.text


def test_an_unmuted_signal_is_on_the_list_again(moved):
    page = moved.page("quality_manager")
    send(page, "/signals/mute", **MUTE)
    form = next(one for one in read(page.get("/signals")).all("form") if one.attrs.get("action") == "/signals/unmute")
    mute = form.one("input", name="mute").attrs["value"]
    answer = send(page, "/signals/unmute", mute=mute)

    assert answer.headers["Location"] == "/signals?done=unmute"
    assert listed(page) == ([RISE], [])
    again = send(page, "/signals/unmute", mute=mute)
    assert again.status_code == 409
    assert "MI1 ended this mute on 2026-05-26 already" in read(again).one("p", role="alert").text


def test_a_mute_ends_by_itself_after_its_day(moved):
    page = moved.page("quality_manager")
    send(page, "/signals/mute", **{**MUTE, "until": "2026-05-28"})
    moved.now = noon("2026-05-28")
    assert listed(moved.page("quality_manager")) == ([], [RISE])

    moved.now = noon("2026-05-29")
    assert listed(moved.page("quality_manager")) == ([RISE], [])


def test_a_mute_elsewhere_hides_nothing_and_is_listed_as_standing(moved):
    page = moved.page("quality_manager")
    send(page, "/signals/mute", **{**MUTE, "station": "S06"})

    assert listed(page) == ([RISE], ["S06 Gas and heating fit: Panel joint step out of limit, more"])
    assert "keeps nothing off the list" in read(page.get("/signals")).text


@pytest.mark.parametrize(
    ("changed", "status", "said"),
    [
        ({"reason": " "}, 400, "say in 3 characters or more why this signal is muted"),
        ({"reason": "x" * 501}, 400, "The reason must have 0 to 500 characters, has 501."),
        ({"until": NOW}, 400, "a mute until 2026-05-26 is not after the day it is made"),
        ({"until": "2027-05-26"}, 400, "is more than 26 weeks after the day it is made, 2026-05-26; give a day from"),
        ({"until": "26.5.2026"}, 400, "The last day must be a date as YYYY-MM-DD."),
        ({"station": "S99"}, 409, "The station S99 is no station of this plant."),
        ({"type": "PAN-99"}, 409, "The type PAN-99 is no defect type or type group of this plant"),
        ({"direction": "sideways"}, 400, "The direction must be one of up, down."),
    ],
)
def test_a_mute_that_cannot_be_keeps_what_was_typed(moved, changed, status, said):
    given = {**MUTE, **changed}
    answer = send(moved.page("quality_manager"), "/signals/mute", **given)
    shown = read(answer)

    assert answer.status_code == status
    words = shown.one("p", role="alert").text
    assert said in words
    assert "Nothing was changed." in words
    assert f"“{given['until']}”; nothing of it is lost" in words
    if changed.keys() & {"reason", "until"}:
        form = shown.one("form", class_="mute")
        assert form.one("input", name="until").attrs["value"] == given["until"]
        assert form.one("input", name="reason").attrs["value"] == given["reason"].strip()
        assert "open" in next(one for one in shown.all("details") if one.all("form", class_="mute")).attrs
    assert moved.house.reads.standing_mutes(NOW) == []


def test_a_second_mute_of_the_same_is_refused_with_the_first(moved):
    page = moved.page("quality_manager")
    send(page, "/signals/mute", **MUTE)
    answer = send(page, "/signals/mute", **MUTE)

    assert answer.status_code == 409
    assert "MI1 has muted it until 2026-06-22; unmute it first." in read(answer).one("p", role="alert").text


def test_the_week_looked_at_is_kept(moved):
    page = moved.page("quality_manager")
    answer = send(page, "/signals/mute?week=2026-W21", **MUTE)

    assert answer.headers["Location"] == "/signals?done=mute&week=2026-W21"
    forms = read(page.get(answer.headers["Location"])).all("form")
    assert "/signals/unmute?week=2026-W21" in [one.attrs.get("action") for one in forms]


@pytest.mark.parametrize("role", ["station_lead", "inspector", "tester", "repairer", "dispatch", "planner"])
@pytest.mark.parametrize("address", ["/signals/mute", "/signals/unmute"])
def test_nobody_else_mutes(server, role, address):
    before = journal_size(server)

    assert send(server.page(role), address, **MUTE).status_code == 403
    assert journal_size(server) == before


@pytest.mark.parametrize("address", ["/signals/mute", "/signals/unmute"])
def test_a_stranger_and_a_form_without_its_token_change_nothing(server, address):
    before = journal_size(server)
    manager = server.page("quality_manager")

    assert server.page().post(address, **MUTE).status_code in (401, 403)
    assert manager.post(address, csrf_token="made up", **MUTE).status_code == 403
    assert journal_size(server) == before


@pytest.mark.parametrize("address", ["/signals/mute", "/signals/unmute"])
def test_acts_are_not_read(server, address):
    assert server.page("quality_manager").get(address).status_code == 405
