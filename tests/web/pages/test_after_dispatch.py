"""What is found after dispatch is entered on the unit's page by dispatch or the manager, and counts as got through."""

import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress

import pytest

from qc.web.pages import unit as pages
from tests.web.pages.reading import read
from tests.web.plant_server import CAST, OWN_PAGE

FORM = {
    "zone": "nearside.upper.mid",
    "type": "PAN-01",
    "severity": "usual",
    "found_day": "2026-03-20",
    "note": "<b>gap",
}


@pytest.fixture
def page(lived):
    return lived.server.page("dispatch")


def send(page, unit, **form):
    return page.post(f"/units/{unit}/found", csrf_token=page.form_token(f"/units/{unit}"), **{**FORM, **form})


def found_of(lived, unit):
    record = lived.server.house.reads.unit_story(unit)
    return [(one.zone, one.type, one.severity, one.point, one.note, one.finder) for one in record.defects]


def test_it_stands_in_the_story_under_the_name_of_who_entered_it(lived, page):
    unit, code = lived.ids["released"], CAST["dispatch"].code
    usual = lived.plant.types["PAN-01"].default_severity
    before = found_of(lived, unit)
    answer = send(page, unit)
    told = read(page.get(answer.headers["Location"])).text

    assert answer.status_code == 303
    assert found_of(lived, unit)[len(before) :] == [("nearside.upper.mid", "PAN-01", usual, "FIELD", "<b>gap", code)]
    assert "Entered. It stands in the unit's story and counts as found after dispatch." in told
    assert "after dispatch by" in read(page.get(f"/units/{unit}")).text
    assert "<b>gap" not in page.get(f"/units/{unit}").text
    assert lived.server.house.reads.unit_story(unit).alarm == ""


def test_a_critical_one_raises_an_alarm_whoever_says_that_it_is(lived, page):
    unit = lived.ids["released"]

    assert send(page, unit, severity="critical").status_code == 303
    assert "whoever has the unit must be told" in lived.server.house.reads.unit_story(unit).alarm


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"zone": ""}, "choose the place on the unit."),
        ({"zone": "nowhere"}, "choose the place on the unit."),
        ({"type": ""}, "choose what it is."),
        ({"type": "ZZZ-99"}, "choose what it is."),
        ({"zone": "front.gas"}, "is not recorded in Gas locker."),
        ({"severity": "awful"}, "“awful” is no severity"),
        ({"found_day": ""}, "is no day; write it as 2026-"),
        ({"found_day": "yesterday"}, "“yesterday” is no day"),
        ({"found_day": "9999-12-31"}, "9999-12-31 has not come yet"),
        ({"found_day": "0001-01-01"}, "0001-01-01"),
        ({"note": "x" * 1001}, "1000"),
        ({"severity": "minor"}, "is usually major: enter it so."),
    ],
)
def test_what_is_wrong_is_told_and_what_was_entered_is_kept(lived, page, form, words):
    unit = lived.ids["released"]
    before = found_of(lived, unit)
    answer = send(page, unit, **form)

    assert answer.status_code in (400, 409)
    assert words in read(answer).text
    assert "Nothing was changed" in read(answer).text
    assert found_of(lived, unit) == before
    kept = {**FORM, **form}
    assert (kept["note"][:900].replace("<", "&lt;").replace(">", "&gt;")) in answer.text


def test_the_same_sent_twice_is_one_and_told(lived, page):
    unit = lived.ids["released"]
    before = len(found_of(lived, unit))
    assert send(page, unit).status_code == 303
    again = send(page, unit)

    assert again.status_code == 400
    assert f"{CAST['dispatch'].code} has entered this already." in read(again).text
    assert len(found_of(lived, unit)) == before + 1
    assert send(page, unit, note="another gap, behind the door").status_code == 303


def test_the_same_sent_twice_at_once_is_one(lived, page, monkeypatch):
    unit, both, acted = lived.ids["released"], threading.Barrier(2), pages.act
    before = len(found_of(lived, unit))

    def met(*args):
        with suppress(threading.BrokenBarrierError):
            both.wait(0.5)  # both have looked whether it is entered already
        return acted(*args)

    monkeypatch.setattr(pages, "act", met)
    second = lived.server.client()
    second._cookies = page.client._cookies  # the same browser
    form = {"csrf_token": page.form_token(f"/units/{unit}"), **FORM}
    with ThreadPoolExecutor(2) as taps:
        sent = [page.client, second]
        codes = list(
            taps.map(lambda one: one.post(f"/units/{unit}/found", data=form, headers=OWN_PAGE).status_code, sent)
        )

    assert sorted(codes) == [303, 400]
    assert len(found_of(lived, unit)) == before + 1


def test_a_unit_that_has_not_left_has_no_such_form_and_takes_none(lived, page):
    unit = lived.ids["waiting"]

    assert f"/units/{unit}/found" not in page.get(f"/units/{unit}").text
    answer = send(page, unit)
    assert answer.status_code == 400
    assert "was never released" in read(answer).text


def test_only_dispatch_and_the_manager_are_shown_the_form(lived):
    unit = lived.ids["released"]
    shown = {role: f"/units/{unit}/found" in lived.server.page(role).get(f"/units/{unit}").text for role in CAST}

    assert {role for role, is_shown in shown.items() if is_shown} == {"dispatch", "quality_manager"}
