"""The build plan's page: looked through first, taken whole or not at all, and again without harm."""

import re
from dataclasses import replace

import pytest

from qc.store import plan_intake
from qc.store.checking.verify import verify
from qc.web.pages import plan
from qc.web.pages.handed_files import FILE_BYTES
from tests.web.pages.reading import read
from tests.web.plant_server import OWN_PAGE, UNIT
from tests.web.test_sync import inspected

HEADING = "chassis,planned day,options\n"
SECOND = "0PC7M5000TW030002"
TWO = f"{HEADING}{UNIT},2026-03-02,awning\n{SECOND},2026-03-03,\n"


@pytest.fixture
def page(server):
    return server.page("planner")


def look(page, text, name="plan.csv"):
    """Hand a file in as a browser does: the form in parts, each after a line of dashes."""
    data = text.encode() if isinstance(text, str) else text
    field = f'--cut\r\nContent-Disposition: form-data; name="csrf_token"\r\n\r\n{page.form_token("/plan")}\r\n'
    head = f'--cut\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'
    body = field.encode() + head.encode() + data + b"\r\n--cut--\r\n"
    return page.client.post("/plan/look", data=body, headers=OWN_PAGE, content_type="multipart/form-data; boundary=cut")


def take(page, looked, **more):
    shown = read(looked)
    form = {name: shown.one("input", name=name).attrs["value"] for name in ("digest", "seen")}
    return page.post("/plan/take", csrf_token=page.form_token("/plan"), **form, **more)


def units(server):
    return {line.chassis: line for line in server.house.reads.unit_list("planned", 100)}


def test_a_plan_is_shown_before_anything_is_taken(server, page):
    shown = look(page, TWO)

    assert "2 rows: 2 new." in shown.text
    assert "Take 2 rows into the record" in shown.text
    assert units(server) == {}


def test_taken_it_is_on_record_under_the_planners_name(server, page):
    answer = take(page, look(page, TWO))

    assert "Taken from plan.csv: 2 planned, 0 changed." in answer.text
    assert set(units(server)) == {UNIT, SECOND}
    assert "PL1" in server.page("quality_manager").get(f"/units/{UNIT}").text
    assert verify(server.house.folder).is_whole


def test_work_that_waits_for_a_unit_is_told_until_its_plan_is_taken(server, page):
    """As after a restore: the phone knows the unit, the record does not."""
    ivo = server.phone()
    operations = inspected(ivo)
    assert {one["verdict"] for one in ivo.send(operations).json["verdicts"]} == {"parked"}

    shown = read(page.get("/plan"))
    section = shown.one("section", **{"aria-labelledby": "awaited-head"}).text
    assert re.search(rf"{UNIT} , since Mon 2 Feb 2026 \d\d:\d\d : 4 entries by IV1", section)
    assert "Build plan: look" in page.get("/units").text
    assert "Build plan: look" in server.page("quality_manager").get("/units").text
    take(page, look(page, TWO))

    assert "Work waits for units" not in page.get("/plan").text
    assert "Build plan: look" not in page.get("/units").text
    assert ivo.send(operations).json["verdicts"][0]["code"] == "applied"
    assert len(server.house.reads.unit_story(UNIT).inspections) == 1


def test_the_head_calls_for_a_unit_that_does_not_come_for_thirty_days(server):
    ivo = server.phone()
    ivo.send(inspected(ivo))

    for days, calls in ((29, True), (2, False)):
        server.now += days * 24 * 3_600_000
        page = server.page("planner")
        assert ("Build plan: look" in page.get("/units").text) == calls
        assert UNIT in page.get("/plan").text


def test_again_is_harmless_and_a_change_is_told_in_the_units_story(server, page):
    looked = look(page, TWO)
    take(page, looked)

    assert "planned so already" in take(page, looked).text  # a second tap on the same form
    assert "There is nothing to take." in look(page, TWO).text
    changed = look(page, TWO.replace("2026-03-03", "2026-03-09"))
    assert "planned day 2026-03-03 → 2026-03-09" in changed.text
    take(page, changed)

    assert units(server)[SECOND].planned_day == "2026-03-09"
    assert "plan changed: day now 2026-03-09" in page.get(f"/units/{SECOND}").text


def test_a_wrong_row_is_shown_and_stops_the_rest_until_it_is_left_out(server, page):
    looked = look(page, f"{TWO}0PC7T3600TW03000I,2026-03-02,\n")

    assert "2 new and 1 wrong" in looked.text
    assert "never holds I" in looked.text
    assert take(page, looked).status_code == 409
    assert units(server) == {}
    assert "1 wrong row was left out" in take(page, looked, leave_wrong="yes").text
    assert len(units(server)) == 2
    again = take(page, looked, leave_wrong="yes").text
    assert "Nothing is left to take" in again
    assert "1 wrong row is not taken" in again


def test_what_changed_since_it_was_shown_is_shown_again_and_not_taken(server, page):
    looked = look(page, TWO)
    take(page, look(page, f"{HEADING}{UNIT},2026-03-05,\n"))
    answer = take(page, looked)

    assert answer.status_code == 409
    assert "The record changed since" in answer.text
    assert "planned day 2026-03-05 → 2026-03-02" in answer.text
    assert SECOND not in units(server)


def test_columns_that_are_called_otherwise_since_it_was_shown_are_told(server, page):
    plant = server.house.plant
    own = replace(plant, plan=replace(plant.plan, names={"chassis": "Fahrgestell"}))
    server.house.plant = server.house.reads.plant = own
    looked = look(page, TWO.replace("chassis", "Fahrgestell"))
    server.house.plant = server.house.reads.plant = plant

    answer = take(page, looked)

    assert answer.status_code == 409
    assert "Nothing was taken." in answer.text
    assert units(server) == {}


def test_a_row_that_the_record_refuses_leaves_nothing_taken(server, page, monkeypatch):
    """Between the look and the entry somebody else plans the unit: the first row must not stay without the second."""
    looked = look(page, TWO)
    lines = plan.build_plan_report(TWO.encode(), server.house.reads, server.house.plant, server.now).lines
    take(page, look(page, f"{HEADING}{SECOND},2026-03-03,\n"))

    with pytest.raises(plan_intake.PlanOvertaken, match=SECOND):
        plan_intake.take_plan(server.house.journal, lines, "PL1", "s", server.house.clock)
    assert set(units(server)) == {SECOND}
    assert looked.status_code == 200
    assert take(page, look(page, TWO)).status_code == 200  # the record goes on
    assert verify(server.house.folder).is_whole


def test_the_stranger_and_other_roles_are_refused(server):
    assert server.client().get("/plan").status_code == 303
    for role in ("inspector", "tester", "repairer", "station_lead", "dispatch", "administrator"):
        assert server.page(role).get("/plan").status_code == 403, role


def test_a_plan_of_thousands_of_units_is_looked_through_and_taken(server, page):
    rows = "".join(f"0PC7T3600TW0{30001 + n},2026-03-02,{'awning; ' * 20}\n" for n in range(3000))
    answer = take(page, look(page, HEADING + rows))

    assert "3000 planned, 0 changed" in answer.text
    assert len(server.house.reads.unit_list("planned", 5000)) == 3000


@pytest.mark.parametrize(
    ("data", "status", "words"),
    [
        (b"", 400, "is empty"),
        (b"a,b\n1,2\n", 400, "no column tells a chassis number"),
        (b"PK\x03\x04", 400, "damaged workbook"),
        (b"x" * (FILE_BYTES + 1), 413, "more than 5 MB"),
        (b"x" * (FILE_BYTES + 200_000), 413, "larger"),
    ],
    ids=["empty", "no columns", "no workbook", "too large", "far too large"],
)
def test_nonsense_is_refused_with_a_reason(page, data, status, words):
    answer = look(page, data)

    assert answer.status_code == status
    assert words in answer.text


def test_no_file_and_a_forgotten_file_are_told(page):
    none = page.client.post(
        "/plan/look",
        data={"csrf_token": page.form_token("/plan")},
        headers=OWN_PAGE,
        content_type="multipart/form-data",
    )
    gone = page.post("/plan/take", csrf_token=page.form_token("/plan"), digest="0" * 64, seen="x")

    assert (none.status_code, "No file was chosen" in none.text) == (400, True)
    assert (gone.status_code, "Choose it again" in gone.text) == (410, True)


def test_another_persons_file_is_not_taken(server, page):
    looked = look(page, TWO)

    assert take(server.page("quality_manager"), looked).status_code == 410


def test_a_name_and_cells_are_text_and_nothing_else(page):
    answer = look(page, f"{HEADING}<script>alert(1)</script>,2026-03-02,\n", name="<b>plan</b>.csv")

    assert "<script>alert" not in answer.text
    assert "<b>plan" not in answer.text


def test_a_planner_begins_at_the_plan(page):
    assert page.get("/").headers["Location"] == "/plan"
