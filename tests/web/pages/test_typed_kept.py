"""What somebody typed into a form that was not taken: it stands in the form again, and in words where that is gone."""

import pytest

from tests.web.pages.acting_kit import send
from tests.web.pages.reading import read

ORIGIN = "/stations/S05/origin"
REASON = "the aperture was cut off square, the jig was measured on Monday"


def gap(lived, **changed):
    return {"defect": lived.ids["gap"], "unit": lived.ids["waiting"], "reason": REASON, **changed}


def chosen(form, name):
    return [one.attrs["value"] for one in form.one("select", name=name).all("option") if "selected" in one.attrs]


def form_of(page, ended):
    (form,) = [one for one in page.all("form") if one.attrs.get("action", "").endswith(ended)]
    return form


def test_a_lead_whose_word_was_not_taken_finds_the_reason_and_the_place_again(lived):
    answer = send(lived.server.page("station_lead"), ORIGIN, **gap(lived, answer="pass_on", station="X01"))
    page = read(answer)
    card = page.one("li", id=f"d-{lived.ids['gap']}")
    fold = next(one for one in card.all("details") if one.all("summary")[0].text == "Not made here")

    assert answer.status_code == 409
    assert "open" in fold.attrs
    assert fold.one("input", name="reason").attrs["value"] == REASON
    assert page.one("p", role="alert").one("a").attrs["href"] == f"#d-{lived.ids['gap']}"
    other = page.one("li", id=f"d-{lived.ids['scratch']}")
    assert [one.attrs["value"] for one in other.all("input", name="reason")] == [""]
    assert all("open" not in one.attrs for one in other.all("details"))


def test_a_place_that_is_possible_stays_chosen(lived):
    given = gap(lived, answer="pass_on", station="RP2", reason="ab")
    card = read(send(lived.server.page("station_lead"), ORIGIN, **given)).one("li", id=f"d-{lived.ids['gap']}")

    assert chosen(card, "station") == ["RP2"]
    assert card.one("input", name="reason").attrs["value"] == "ab"


def test_a_reason_whose_form_is_gone_is_given_back_in_words(lived):
    """The manager settled it meanwhile: the lead's page has no card of it any more."""
    lead, unit = lived.server.page("station_lead"), lived.ids["waiting"]
    send(lead, ORIGIN, **gap(lived, answer="dispute"))
    settle = {"defect": lived.ids["gap"], "station": "RP2", "reason": "seen at the unit"}
    assert send(lived.server.page("quality_manager"), f"/units/{unit}/settle", **settle).status_code == 303
    page = read(send(lead, ORIGIN, **gap(lived, answer="dispute", reason="a second word on it")))

    assert "You typed “a second word on it”; nothing of it is lost." in page.one("p", role="alert").text


def test_a_manager_who_settles_what_cannot_be_finds_the_reason_and_the_place_again(lived):
    send(lived.server.page("station_lead"), ORIGIN, **gap(lived, answer="dispute"))
    settle = {"defect": lived.ids["gap"], "station": "RP2", "reason": " x "}
    page = read(send(lived.server.page("quality_manager"), f"/units/{lived.ids['waiting']}/settle", **settle))
    form = form_of(page, "/settle")

    assert chosen(form, "station") == ["RP2"]
    assert form.one("input", name="reason").attrs["value"] == "x"
    assert page.one("p", role="alert").one("a").attrs["href"] == f"#d-{lived.ids['gap']}"


@pytest.mark.parametrize("what", ["cancel", "take-up"])
def test_a_planner_finds_the_reason_again(lived, what):
    page, unit = lived.server.page("planner"), lived.ids["planned"]
    if what == "take-up":
        send(page, f"/units/{unit}/cancel", reason="ordered twice")
    too_long = REASON * 10
    answer = send(page, f"/units/{unit}/{what}", reason=too_long)
    form = form_of(read(answer), what)

    assert answer.status_code == 400
    assert form.one("input", name="reason").attrs["value"] == too_long
