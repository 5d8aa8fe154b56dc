"""What was set aside: read, taken in under the manager's own name or left, with a reason; never forgotten."""

import sqlite3
from contextlib import closing

import pytest

from qc.store.checking.verify import verify
from qc.store.intake.rebuild import rebuild
from qc.store.people.languages import keep_language
from tests.authors import unproved
from tests.web.pages.acting_kit import send
from tests.web.pages.reading import read
from tests.web.plant_server import UNIT, invented_plant
from tests.web.test_sync import inspected

DAY = 24 * 3_600_000


@pytest.fixture
def aside(server):
    """A server that set aside a short look of an inspector, with its phone and the operations."""
    planner = server.phone("planner")
    planner.push(planner.plan())
    ivo = server.phone()
    operations = inspected(ivo)
    told = ivo.send(operations, runs=[unproved(4)]).json["verdicts"]
    assert {one["verdict"] for one in told} == {"quarantined"}
    server.now += 3 * DAY
    return server, ivo, operations


def take(page, operation, reason="I stood beside him", where="take"):
    return send(page, f"/set-aside/{where}", operation=operation["id"], reason=reason)


def cards(page):
    return read(page.get("/set-aside")).all("li", class_="card")


def test_each_entry_stands_with_what_it_says_who_why_and_its_age(aside):
    server, _, _ = aside
    shown = cards(server.page("quality_manager"))

    assert len(shown) == 4
    for words in ("found at", "in the name of IV1", "from device P2", "here for 3 days", "nothing proves"):
        assert words in shown[1].text.lower() or words in shown[1].text, (words, shown[1].text)


def test_the_head_says_that_something_waits_until_nothing_does(aside):
    server, _, operations = aside
    page = server.page("quality_manager")
    assert "Set aside: look" in page.get("/units").text

    for operation in operations:
        assert take(page, operation, "nobody knows it", "leave").status_code == 303

    shown = page.get("/set-aside").text
    assert "Nothing waits for your word" in shown
    assert shown.count("Left by MI1:") == 4
    assert "Set aside: look" not in shown


def test_what_is_taken_in_comes_into_effect_under_the_managers_name_and_tells_the_phone(aside):
    server, ivo, operations = aside
    page = server.page("quality_manager")

    for operation in operations:
        assert take(page, operation).status_code == 303

    (unit,) = server.phone("tester").get("pull?after=0").json["units"]
    assert [(one["finder"], one["type"]) for one in unit["defects"]] == [("MI1", "PAN-03")]
    assert unit["inspections"][0]["inspector"] == "MI1"
    again = server.phone(device=ivo.signed["device"]).push(*operations)
    assert {(one["verdict"], one["code"]) for one in again} == {("duplicate", "applied")}
    story = page.get(f"/units/{UNIT}").text
    assert "MI1" in story


def test_it_is_derived_and_verified_the_same_and_read_the_same_from_cold(aside):
    server, _, operations = aside
    page = server.page("quality_manager")
    for operation in operations[:3]:
        take(page, operation)
    take(page, operations[3], "it ended by itself", "leave")
    server.house.close()
    folder = server.house.folder

    report = verify(folder)
    assert report.is_whole, report
    rebuild(folder, invented_plant()[1])
    with closing(sqlite3.connect(folder / "record.sqlite")) as record:
        assert record.execute("SELECT finder FROM defect").fetchall() == [("MI1",)]
        record.execute("UPDATE quarantine_word SET author = 'IV1'")
        record.commit()
    assert "table quarantine_word" in {check.name for check in verify(folder).checks if check.faults}


def test_what_rests_on_something_set_aside_is_refused_with_the_reason_and_stays(aside):
    server, _, operations = aside
    answer = take(server.page("quality_manager"), operations[1])

    assert answer.status_code == 409
    assert "it does not come into effect" in answer.text
    assert "I stood beside him" in answer.text
    assert len(cards(server.page("quality_manager"))) == 4


def test_a_release_is_not_taken_in_and_can_be_left(server):
    planner = server.phone("planner")
    planner.push(planner.plan())
    ivo = server.phone()
    release = ivo.operation("unit_released", UNIT, {"open_digest": "0" * 64, "against": "x"})
    assert ivo.push(release)[0]["code"] == "unproved_signature"
    page = server.page("quality_manager")

    assert "Take in under my name" not in page.get("/set-aside").text
    answer = take(page, release)
    assert (answer.status_code, "do it anew" in answer.text) == (409, True)
    assert take(page, release, "signed by nobody", "leave").status_code == 303


@pytest.mark.parametrize("where", ["take", "leave"])
def test_nonsense_is_refused_with_a_reason(aside, where):
    server, _, operations = aside
    page = server.page("quality_manager")

    assert take(page, operations[0], "", where).status_code == 400
    assert take(page, operations[0], "  ", where).status_code == 400
    assert take(page, {"id": "x"}, "why not", where).status_code == 400
    assert take(page, {"id": "01890000-0000-7000-8000-000000000000"}, "why not", where).status_code == 404
    assert len(cards(page)) == 4


def test_taken_twice_is_told(aside):
    server, _, operations = aside
    page = server.page("quality_manager")
    take(page, operations[0])

    answer = take(page, operations[0])

    assert (answer.status_code, "taken in already" in answer.text) == (404, True)


@pytest.mark.parametrize("role", ["inspector", "station_lead", "administrator"])
def test_nobody_but_the_quality_manager_sees_or_settles_it(aside, role):
    server, _, operations = aside
    page = server.page(role)

    assert page.get("/set-aside").status_code == 403
    assert take(page, operations[0]).status_code == 403
    assert server.page().get("/set-aside").status_code == 303


def test_each_entry_is_told_in_the_language_of_who_reads_it(aside):
    server, _, operations = aside
    page = server.page("quality_manager")
    take(page, operations[3], "nobody knows it", "leave")
    server.house.journal.write(lambda conn: keep_language(conn, "MI1", "de"))

    shown = page.get("/set-aside").text
    assert "3 warten auf ein Wort, das älteste davon seit 3 Tagen." in shown
    assert "im Namen von IV1, vom Gerät P2" in shown
    assert shown.count("Beiseitegelegt, denn: nichts weist nach") == 4
    assert "<strong>Liegen gelassen von MI1:</strong> „nobody knows it“" in shown
    refused = take(page, operations[0], "x").text
    assert "den Grund in 3 Zeichen oder mehr sagen" in refused
