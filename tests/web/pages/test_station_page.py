"""A station's page and its acts: works, refuses the stranger, refuses nonsense with a reason, can be repeated."""

import pytest

from tests.web.pages.acting_kit import send
from tests.web.pages.reading import read, table_rows
from tests.web.plant_server import CAST

ORIGIN = "/stations/S05/origin"
CHANGES = "/stations/S05/changes"


def waiting(page):
    return read(page.get("/stations/S05")).all("li", class_="card")


def gap(lived, **changed):
    return {"defect": lived.ids["gap"], "unit": lived.ids["waiting"], **changed}


def journal_size(lived):
    return lived.server.house.reads.chain()[0]


def test_what_waits_stands_first_with_its_words(lived):
    page = read(lived.server.page("station_lead").get("/stations/S05"))
    headings = [one.text for one in page.all("h2")]

    assert headings[0] == "2 waiting for your word"
    card = page.one("li", id=f"d-{lived.ids['gap']}")
    assert "major" in card.text
    assert "PC7130002" in card.text
    assert "“gap <7> mm & more”" in card.text
    photo = card.one("img").attrs
    assert photo["alt"].startswith("Photo 1 of 1:")
    assert "No photo was attached." in page.one("li", id=f"d-{lived.ids['scratch']}").text


def test_a_photo_that_has_not_arrived_is_said_and_not_a_broken_picture(lived):
    unit, scratch = lived.ids["waiting"], lived.ids["scratch"]
    lived.phone.must("photo_attached", CAST["inspector"].code, unit, defect=scratch, sha256="a" * 64, bytes=9)
    card = read(lived.server.page("station_lead").get("/stations/S05")).one("li", id=f"d-{scratch}")

    assert not card.all("img")
    assert "Photo 1 of 1 is not here yet: its phone sends it with the next signal." in card.text


def test_the_photos_address_gives_the_photo_to_who_is_signed_in(lived):
    page = lived.server.page("station_lead")
    card = read(page.get("/stations/S05")).one("li", id=f"d-{lived.ids['gap']}")
    address = card.one("img").attrs["src"]

    assert page.get(address).mimetype == "image/jpeg"
    assert lived.server.page().get(address).status_code == 303


def test_a_lead_confirms_in_two_taps(lived):
    page = lived.server.page("station_lead")
    card = read(page.get("/stations/S05")).one("li", id=f"d-{lived.ids['gap']}")
    first, second = card.all("summary")[0], card.all("form")[0].one("button")

    assert first.text == "Made here"
    assert second.text == "Yes, confirm: made at S05"
    answer = send(page, ORIGIN, **gap(lived, answer="confirm"))
    assert answer.headers["Location"] == "/stations/S05?done=confirm#waiting-head"
    after = read(page.get("/stations/S05?done=confirm"))
    assert "Confirmed: made here." in after.one("p", role="status").text
    assert len(waiting(page)) == 1
    story = lived.server.house.reads.unit_story(lived.ids["waiting"])
    assert story.defect(lived.ids["gap"]).origin.confirmed == "S05"


def test_confirming_again_changes_nothing_more(lived):
    page = lived.server.page("station_lead")

    assert send(page, ORIGIN, **gap(lived, answer="confirm")).status_code == 303
    assert send(page, ORIGIN, **gap(lived, answer="confirm")).status_code == 303
    story = lived.server.house.reads.unit_story(lived.ids["waiting"])
    assert story.defect(lived.ids["gap"]).origin.confirmed == "S05"
    assert [one.id for one in story.defects].count(lived.ids["gap"]) == 1


def test_a_lead_passes_on_with_a_reason(lived):
    page = lived.server.page("station_lead")
    answer = send(page, ORIGIN, **gap(lived, answer="pass_on", station="RP2", reason="aperture cut off square"))

    assert answer.headers["Location"] == "/stations/S05?done=pass_on#waiting-head"
    assert [one.id for one in lived.server.house.reads.defects_waiting("RP2")] == [lived.ids["gap"]]


def test_only_possible_origins_are_offered_and_never_the_own_station(lived):
    page = read(lived.server.page("station_lead").get("/stations/S05"))
    passed_to = page.one("select", id=f"to-{lived.ids['gap']}")
    offered = [one.attrs["value"] for one in passed_to.all("option")]

    # Nobody is chosen beforehand: a tap too few would ask whoever comes first in the build order.
    assert offered[0] == ""
    assert "required" in passed_to.attrs
    assert "S05" not in offered
    assert "D01" not in offered
    assert {"RP2", "SUP", "HND", "UNK"} <= set(offered)


def test_a_manager_is_offered_no_word_that_only_the_lead_can_give(lived):
    manager = lived.server.page("quality_manager")
    page = read(manager.get("/stations/S05"))
    card = page.one("li", id=f"d-{lived.ids['gap']}")

    assert "2 waiting for its lead's word" in page.text
    assert "Only the lead of S05 says that it was made here." in card.text
    assert [one.text for one in card.all("summary")] == ["Not made here"]
    refused = send(manager, ORIGIN, **gap(lived, answer="confirm"))
    assert "only the lead of S05 Wiring first fix confirms it" in read(refused).text


def test_a_disputed_defect_goes_to_the_manager_and_keeps_no_buttons(lived):
    page = lived.server.page("station_lead")
    send(page, ORIGIN, **gap(lived, answer="dispute", reason="jig checked, it was square"))
    card = read(page.get("/stations/S05")).one("li", id=f"d-{lived.ids['gap']}")

    assert not card.all("form")
    assert "the quality manager settles it" in card.text


def test_what_a_lead_has_disputed_waits_for_the_manager_and_no_more_for_the_lead(lived):
    page = lived.server.page("station_lead")
    assert read(page.get("/stations/S05")).one("h2", id="waiting-head").text == "2 waiting for your word"
    send(page, ORIGIN, **gap(lived, answer="dispute", reason="jig checked, it was square"))
    shown = read(page.get("/stations/S05"))

    assert shown.one("h2", id="waiting-head").text == "1 waiting for your word"
    assert "1 disputed here: answered, and waiting for the quality manager" in shown.text
    (row,) = [
        row for row in table_rows(read(page.get("/stations")), "Stations, the defects") if row[0].startswith("S05")
    ]
    assert row[1:] == ["1", "1"]


def test_types_say_the_weeks_that_they_are_counted_by(lived):
    page = read(lived.server.page("station_lead").get("/stations/S05?week=2026-W10"))
    caption = next(one.text for one in page.all("caption") if one.text.startswith("Types made at S05"))

    assert "on units presented in 2026-W10" in caption
    assert "the last end point of their build presented them" in caption
    assert "work" not in caption


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"answer": "pass_on", "station": "RP2", "reason": "ab"}, "The reason must have 3 to 500 characters, has 2."),
        ({"answer": "pass_on", "station": "", "reason": "cut off square"}, "The station must be a code"),
        ({"answer": "confirm", "defect": "x"}, "The defect must be a version 7 UUID"),
        ({"answer": "maybe"}, "Choose made here, passed on or disputed."),
    ],
)
def test_an_answer_that_cannot_be_is_refused_with_its_reason(lived, changed, said):
    answer = send(lived.server.page("station_lead"), ORIGIN, **gap(lived, **changed))

    assert answer.status_code == 400
    assert said in read(answer).one("p", role="alert").text
    assert lived.ids["gap"] in [one.id for one in lived.server.house.reads.defects_waiting("S05")]


def test_a_station_that_cannot_have_made_it_is_refused(lived):
    changed = {"answer": "pass_on", "station": "X01", "reason": "seen at dispatch"}
    answer = send(lived.server.page("station_lead"), ORIGIN, **gap(lived, **changed))

    assert answer.status_code == 409
    assert "Nothing was changed." in read(answer).one("p", role="alert").text


@pytest.mark.parametrize("address", ["/stations/S07", "/stations/S07/origin", "/stations/S07/changes"])
def test_a_lead_sees_and_answers_for_own_stations_only(lived, address):
    page = lived.server.page("station_lead")
    before = journal_size(lived)
    answer = page.get(address) if address == "/stations/S07" else send(page, address, **gap(lived, answer="confirm"))

    assert answer.status_code == 403
    assert "You answer for S05." in read(answer).text
    assert journal_size(lived) == before


@pytest.mark.parametrize("role", ["inspector", "tester", "repairer", "dispatch", "planner", "administrator"])
@pytest.mark.parametrize("address", [ORIGIN, CHANGES])
def test_nobody_else_answers_for_a_station(lived, role, address):
    before = journal_size(lived)
    answer = send(lived.server.page(role), address, **gap(lived, answer="confirm"))

    assert answer.status_code == 403
    assert journal_size(lived) == before


@pytest.mark.parametrize("address", [ORIGIN, CHANGES])
def test_a_stranger_and_a_form_without_its_token_change_nothing(lived, address):
    before = journal_size(lived)

    assert lived.server.page().post(address, **gap(lived, answer="confirm")).status_code in (401, 403)
    lead = lived.server.page("station_lead")
    assert lead.post(address, csrf_token="made up", **gap(lived, answer="confirm")).status_code == 403
    elsewhere = {"Sec-Fetch-Site": "cross-site"}
    token = lead.form_token("/units")
    answer = lead.post(address, headers=elsewhere, csrf_token=token, **gap(lived, answer="confirm"))
    assert answer.status_code == 403
    assert journal_size(lived) == before


@pytest.mark.parametrize("address", [ORIGIN, CHANGES])
def test_acts_are_not_read(lived, address):
    assert lived.server.page("station_lead").get(address).status_code == 405


def test_a_change_is_noted_and_stands_on_the_page(lived):
    page = lived.server.page("station_lead")
    answer = send(page, CHANGES, change="tool", what="New locating jig", from_day="2026-03-20")

    assert answer.headers["Location"] == "/stations/S05?done=change"
    after = read(page.get("/stations/S05"))
    assert "Fri 20 Mar 2026 Tool or jig changed: New locating jig (L-S05)" in [one.text for one in after.all("li")]


def test_a_change_is_drawn_on_the_trend_in_its_week(lived):
    page = lived.server.page("station_lead")
    send(page, CHANGES, change="tool", what="New locating jig", from_day="2026-03-05")
    trend = read(page.get("/stations/S05?week=2026-W11")).one("article", data_picture="trend-found")

    assert "A 2026-W10: Tool or jig changed: New locating jig" in [one.text for one in trend.all("li")]
    assert "2026-W10, A" in [one.text for one in trend.all("th")]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"what": "x"}, "What changed must have 3 to 300 characters, has 1."),
        ({"from_day": "2026-02-30"}, "The day is not a day of the calendar."),
        ({"from_day": "20.3.2026"}, "The day must be a date as YYYY-MM-DD."),
        ({"change": "mood"}, "The kind of change must be one of person, tool"),
    ],
)
def test_a_note_that_cannot_be_keeps_what_was_entered(lived, changed, said):
    given = {"change": "tool", "what": "New locating jig", "from_day": "2026-03-20", **changed}
    answer = send(lived.server.page("station_lead"), CHANGES, **given)
    page = read(answer)

    assert answer.status_code == 400
    assert said in page.one("p", role="alert").text
    assert page.one("input", id="what").attrs["value"] == given["what"]
    assert page.one("input", id="from_day").attrs["value"] == given["from_day"]


@pytest.mark.parametrize("station", ["UNK", "FIELD", "S99", "<b>"])
def test_a_place_that_is_nobodys_has_no_page(lived, station):
    answer = lived.server.page("quality_manager").get(f"/stations/{station}")

    assert answer.status_code == 404
    assert "There is no station" in read(answer).text


def test_the_manager_sees_every_station_with_what_waits_there(lived):
    page = read(lived.server.page("quality_manager").get("/stations"))
    rows = {row[0].split()[0]: tuple(row[1:]) for row in table_rows(page, "Stations")}

    assert rows["S05"] == ("2", "0")  # wait for the lead; disputed, wait for the manager
    assert rows["S07"] == ("0", "0")
    assert "UNK" not in rows


def test_an_open_critical_stands_above_the_trend_of_its_station(lived):
    manager = lived.server.page("quality_manager")

    assert "1 critical is open. Suspected or confirmed here" in read(manager.get("/stations/S06")).text
    assert "critical is open" not in read(manager.get("/stations/S05")).text


def test_a_week_that_is_none_is_answered_in_words(lived):
    answer = lived.server.page("station_lead").get("/stations/S05?week=2026-W99")

    assert answer.status_code == 400
    assert "“2026-W99” is no week; write it like 2026-W12." in read(answer).text


def test_the_trend_stands_on_both_days_with_its_denominator(lived):
    page = read(lived.server.page("station_lead").get("/stations/S05?week=2026-W10"))
    titles = [one.text for one in page.all("h3")]

    assert "Defects made at S05, by the day the work was done" in titles
    assert "Defects made at S05, by the day the unit was presented" in titles
    trends = page.one("section", aria_labelledby="trend-head")
    assert len(trends.all("svg", class_="figure")) == 2


def test_the_page_tells_confirmed_and_suspected_apart(lived):
    lead = lived.server.page("station_lead")
    send(lead, ORIGIN, **gap(lived, answer="confirm"))
    page = read(lead.get("/stations/S05?week=2026-W10"))
    trend = page.one("article", data_picture="trend-found")
    rows = [row for body in trend.all("tbody") for row in body.all("tr")]
    found = {row.all("th")[0].text: [cell.text for cell in row.all("td")] for row in rows}

    defects, _, _, units = found["2026-W10"]
    assert (defects, units) == ("2 (1 + 1)", "2")


def test_what_was_found_after_dispatch_stands_with_the_day_it_was_found(lived):
    """It once stood with the instant of its entry, days later, beside an age that counts from the finding."""
    finding = {"zone": "nearside.upper.mid", "type": "PAN-05", "severity": "major", "found_day": "2026-03-12"}
    found = lived.phone.must("field_finding", CAST["quality_manager"].code, lived.ids["released"], **finding)
    lived.phone.must(
        "origin_suspected", CAST["quality_manager"].code, lived.ids["released"], defect=found, station="S05"
    )

    card = read(lived.server.page("station_lead").get("/stations/S05")).one("li", id=f"d-{found}").text

    assert "Found Thu 12 Mar 2026 after dispatch" in card
