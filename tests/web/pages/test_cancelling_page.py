"""A unit is cancelled and taken up again on its page, with a reason, by who plans."""

import pytest

from tests.web.pages.reading import read
from tests.web.pages.test_plan_page import HEADING, look
from tests.web.plant_server import CAST


@pytest.fixture
def page(lived):
    return lived.server.page("planner")


def send(page, unit, what, **form):
    return page.post(f"/units/{unit}/{what}", csrf_token=page.form_token(f"/units/{unit}"), **form)


def release_words(page, unit):
    return read(page.get(f"/units/{unit}")).one("section", aria_labelledby="release-head").text


def test_it_says_so_wherever_it_is_shown(lived, page):
    unit = lived.ids["waiting"]
    assert unit in page.get("/units").text
    answer = send(page, unit, "cancel", reason="the order was withdrawn")

    assert answer.status_code == 303
    told = page.get(answer.headers["Location"]).text
    assert "Cancelled. It stands in no list of work" in told
    assert "cancelled (the order was withdrawn)" in told
    assert f"Cancelled by {CAST['planner'].code}" in release_words(page, unit)
    assert unit not in page.get("/units").text
    assert unit in page.get("/units?state=cancelled").text
    assert unit in page.get("/plan").text


def test_it_is_taken_up_again_and_another_tap_is_told(lived, page):
    unit = lived.ids["planned"]
    send(page, unit, "cancel", reason="a slip")
    twice = send(page, unit, "cancel", reason="a slip")

    assert twice.status_code == 409
    assert f"is cancelled by {CAST['planner'].code} (a slip) already" in twice.text
    assert send(page, unit, "take-up", reason="ordered anew").status_code == 303
    assert "Cancelled" not in release_words(page, unit).replace("Cancel this unit", "")
    assert send(page, unit, "take-up", reason="ordered anew").status_code == 409


def test_a_released_one_is_not_and_is_not_offered(lived, page):
    unit = lived.ids["released"]

    assert f"/units/{unit}/cancel" not in page.get(f"/units/{unit}").text
    answer = send(page, unit, "cancel", reason="returned")
    assert answer.status_code == 409
    assert "what was released is not cancelled" in answer.text


@pytest.mark.parametrize(("form", "words"), [({}, "The reason"), ({"reason": "x"}, "The reason")])
def test_without_a_reason_it_is_told_what_is_missing(lived, page, form, words):
    answer = send(page, lived.ids["planned"], "cancel", **form)

    assert answer.status_code == 400
    assert words in answer.text
    assert "Nothing was changed." in answer.text


def test_strangers_other_roles_unknown_units_and_get_are_refused(lived, page):
    unit = lived.ids["planned"]
    for what in ("cancel", "take-up"):
        assert lived.server.page("planner").get(f"/units/{unit}/{what}").status_code == 405
        assert lived.server.client().post(f"/units/{unit}/{what}", data={"reason": "why"}).status_code in (303, 403)
        for role in ("inspector", "tester", "repairer", "station_lead", "dispatch", "administrator"):
            other = lived.server.page(role)
            answer = other.post(f"/units/{unit}/{what}", csrf_token=other.form_token("/units"), reason="why")
            assert answer.status_code == 403, role
            assert f"/units/{unit}/{what}" not in other.get(f"/units/{unit}").text
    assert (
        page.post("/units/0PC7T3600TW039999/cancel", csrf_token=page.form_token("/plan"), reason="why").status_code
        == 404
    )
    assert "planned" in release_words(page, unit) or "stand" in release_words(page, unit)


def test_a_plan_that_names_it_says_so_and_does_not_take_it_up(lived, page):
    unit = lived.ids["planned"]
    send(page, unit, "cancel", reason="the order was withdrawn")
    # A planning system hands its whole plan in by night: a row that changes nothing holds up none of the others.
    looked = look(page, f"{HEADING}{unit},2026-03-02,\n")
    assert "is cancelled, and stays so until it is taken up again on its page" in looked.text
    assert " wrong" not in looked.text

    looked = look(page, f"{HEADING}{unit},2026-03-03,\n")
    assert "1 row: 1 wrong" in looked.text
    assert "is cancelled; take it up again on its page (planned day 2026-03-02 → 2026-03-03)" in looked.text


def test_an_open_critical_on_it_stays_with_the_quality_manager(lived, page):
    unit = lived.ids["critical"]
    send(page, unit, "cancel", reason="the order was withdrawn")

    assert "The unit is cancelled, which mends nothing" in lived.server.page("quality_manager").get("/backlog").text
