"""One entry with a day that cannot be must not end the reports: a field finding of 9999-12-31 once answered 500."""

import json

import pytest

from qc.store.checking.verify import verify
from qc.store.intake import door, settling
from qc.store.intake.rebuild import rebuild
from qc.store.people.persons import People
from tests.web.pages.lived_in import LivedIn, code
from tests.web.pages.reading import read
from tests.web.plant_server import PlantServer, invented_plant

PAGES = ("/review", "/signals", "/stations", "/stations/S07", "/stations/S05", "/inspectors", "/units", "/paper")
DAYS = ("0001-01-01", "1000-06-06", "9999-12-31")


def finding(day):
    return {"zone": "nearside.upper.mid", "type": "PAN-05", "severity": "major", "found_day": day}


def note(day):
    return {"station": "S07", "change": "criteria", "what": "Limit sample renewed", "from_day": day}


def answers(lived, *pages):
    manager = lived.server.page("quality_manager")
    return {page: manager.get(page).status_code for page in (*pages, f"/units/{lived.ids['released']}")}


@pytest.mark.parametrize("day", DAYS)
def test_an_impossible_day_is_refused_with_the_range_that_would_do(lived, day):
    test = next(test for test in lived.plant.tests_of("T36") if test.kind == "pass")
    result = {"test": test.id, "instrument": "IN-7", "passed": True, "calibrated_until": day}
    for kind, unit, body in (
        ("field_finding", lived.ids["released"], finding(day)),
        ("change_noted", None, note(day)),
        ("test_recorded", lived.ids["waiting"], result),
    ):
        _, verdict = lived.phone.do(kind, code("quality_manager"), unit, **body)

        assert (verdict.verdict, verdict.code) == ("refused", "day_out_of_range")
        assert day in verdict.reason


@pytest.mark.parametrize("day", DAYS)
def test_a_day_that_an_earlier_program_let_in_ends_no_page(lived, monkeypatch, day):
    monkeypatch.setattr(door, "RULES", 1)
    with monkeypatch.context() as earlier:
        earlier.setattr(settling, "DAYS_JUDGED", 99)
        lived.phone.must("field_finding", code("quality_manager"), lived.ids["released"], **finding(day))
        lived.phone.must("change_noted", code("quality_manager"), **note(day))

    assert set(answers(lived, *PAGES).values()) == {200}
    page = read(lived.server.page("quality_manager").get("/review"))
    told = [row.text for row in page.all("tr") if "defect of an impossible day" in row.text]
    assert len(told) == 1
    assert "PC7130001" in told[0]


def kept_as_before(people, person, secret):
    """Keep a person as a program did whose journal told of nobody."""
    kept = (person.code, person.name, person.role, json.dumps(person.stations))
    insert = "INSERT INTO person (code, name, role, stations) VALUES (?, ?, ?, ?)"
    people._record.write(lambda conn: conn.execute(insert, kept).rowcount)


def test_what_an_earlier_program_let_in_stays_in_effect_when_derived_anew(tmp_path, monkeypatch):
    monkeypatch.setattr(door, "RULES", 1)  # from the first row: none may claim older rules than one before it
    monkeypatch.setattr(People, "add", kept_as_before)
    lived = LivedIn(PlantServer(tmp_path / "plant", invented_plant())).live()  # all of it by the earlier program
    with monkeypatch.context() as earlier:
        earlier.setattr(settling, "DAYS_JUDGED", 99)
        lived.phone.must("field_finding", code("quality_manager"), lived.ids["released"], **finding("9999-12-31"))
    folder = lived.server.house.folder
    lived.server.house.close()

    assert [check for check in verify(folder).checks if check.faults] == []
    before = verify(folder)
    rebuild(folder, lived.plant)
    assert verify(folder).is_whole
    assert before.is_whole


@pytest.mark.parametrize("asked", ["0001-W01", "1999-W01", "9999-W52", "2026-W99", "-1", "W"])
@pytest.mark.parametrize("page", ["/review", "/signals", "/stations/S07", "/inspectors"])
def test_an_impossible_week_in_an_address_is_told(lived, page, asked):
    answer = lived.server.page("quality_manager").get(f"{page}?week={asked}")

    assert answer.status_code in (200, 400)  # where the page asks for a week it says that this is none
    assert read(answer).one("h1").text


@pytest.mark.parametrize("asked", ["baseline=0001-W01..0001-W30", "baseline=9999-W01..9999-W20", "left_out=0001-W01"])
def test_an_impossible_baseline_is_told(lived, asked):
    answer = lived.server.page("quality_manager").get(f"/review?{asked}&why=tried")

    assert answer.status_code == 400
    assert "usual baseline is shown" in answer.text
