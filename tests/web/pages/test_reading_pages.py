"""The pages that only read: each works for its people, sends the stranger to the sign-in, answers nonsense in words."""

import pytest

from qc.web.pages import units
from tests.web.pages.reading import read, table_rows
from tests.web.plant_server import CAST

EVERYBODY = ("/units", "/paper", "/paper?model=T36")


@pytest.mark.parametrize("address", [*EVERYBODY, "/review", "/stations", "/stations/S07"])
def test_a_stranger_is_sent_to_the_sign_in_and_back(server, address):
    answer = server.page().get(address)

    assert answer.status_code == 303
    assert answer.headers["Location"].startswith("/sign-in?next=")


@pytest.mark.parametrize("address", EVERYBODY)
@pytest.mark.parametrize("role", ["inspector", "station_lead", "quality_manager", "dispatch", "administrator"])
def test_everybody_signed_in_may_look_units_up_and_print_sheets(server, role, address):
    assert server.page(role).get(address).status_code == 200


@pytest.mark.parametrize("role", sorted(set(CAST) - {"quality_manager"}))
def test_the_review_is_the_managers_alone(server, role):
    answer = server.page(role).get("/review")

    assert answer.status_code == 403
    assert "quality manager" in read(answer).text


@pytest.mark.parametrize("address", ["/", "/review", "/units", "/paper", "/stations"])
def test_reading_pages_take_no_other_method(server, address):
    page = server.page("quality_manager")

    assert page.post(address, csrf_token=page.form_token("/units")).status_code == 405


@pytest.mark.parametrize(
    ("role", "first"),
    [("quality_manager", "/review"), ("station_lead", "/stations/S05"), ("inspector", "/app/"), ("dispatch", "/units")],
)
def test_the_front_page_leads_each_to_their_own(server, role, first):
    assert server.page(role).get("/").headers["Location"] == first


def test_the_front_page_leads_a_stranger_to_the_sign_in(server):
    assert server.page().get("/").headers["Location"] == "/sign-in"


@pytest.mark.parametrize("address", ["/review", "/units", "/paper?model=T36", "/stations", "/sign-in"])
def test_every_page_of_the_invented_plant_says_that_its_limits_are_not_for_use(server, address):
    page = read(server.page("quality_manager").get(address) if address != "/sign-in" else server.page().get(address))

    assert page.one("p", class_="demo").text == "Demo data: limits not for use."


@pytest.mark.parametrize("address", ["/review", "/units", "/paper?model=T36"])
def test_pages_twice_are_the_same_page(lived, address):
    page = lived.server.page("quality_manager")

    assert page.get(address).text == page.get(address).text


def test_the_sheet_has_every_zone_and_every_type_of_the_model(server):
    page = read(server.page("inspector").get("/paper?model=T36"))
    plant = server.house.plant
    keys = {zone.key for zone in plant.zones_of("T36")}

    cells = {cell.text for cell in page.all("td")}
    assert keys <= cells
    types = {one.code for one in plant.types.values() if not one.models or "T36" in one.models}
    assert types <= {strong.text for strong in page.all("strong")}


def test_a_sheet_of_a_model_that_is_not_built_lists_those_that_are(server):
    answer = server.page("inspector").get("/paper?model=<b>X9")

    assert answer.status_code == 404
    assert "There is no model “<b>X9”; there are T36, M50, H62." in read(answer).text


def test_units_are_listed_with_their_states(lived):
    page = read(lived.server.page("dispatch").get("/units"))
    rows = {row[0]: row for row in table_rows(page, "3 units: those with an alarm")}

    assert list(rows) == ["PC7130003", "PC7130002", "PC7230004"]
    assert rows["PC7130002"][2:5] == ["in rework", "2", "0"]
    assert rows["PC7130003"][2] == "at end points 1 critical"
    assert rows["PC7130003"][5] == CAST["inspector"].code
    assert rows["PC7230004"][2] == "planned"


def test_units_can_be_narrowed_to_a_state(lived):
    page = read(lived.server.page("dispatch").get("/units?state=released"))

    assert [row[0] for row in table_rows(page, "1 unit released, latest first")] == ["PC7130001"]


def test_a_list_that_is_full_says_that_there_may_be_more(lived, monkeypatch):
    monkeypatch.setattr(units, "LATEST", 1)
    page = read(lived.server.page("dispatch").get("/units?state=released"))

    assert table_rows(page, "1 unit released, latest first; there may be more, find others by number")


def test_a_unit_is_found_by_the_last_figures(lived):
    page = read(lived.server.page("dispatch").get("/units?q=30002"))

    assert [row[0] for row in table_rows(page, "1 unit, number ending in 30002")] == ["PC7130002"]


def test_a_number_one_slip_away_offers_the_nearest_known(lived):
    answer = lived.server.page("dispatch").get("/units?q=30092")
    page = read(answer)

    assert answer.status_code == 404
    assert "No unit has a number ending in “30092”." in page.text
    assert "PC7130002" in [link.text for link in page.all("a", class_="button")]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("3OOO2", "The letter O is never used in a chassis number: read 0 off the metal."),
        ("I0002", "The letter I is never used in a chassis number: read 1 off the metal."),
        ("30Q02", "The letter Q is never used in a chassis number: read 0 or 9 off the metal."),
        ("30%02", "“%” cannot stand in a chassis number; it has capital letters and figures only."),
        ("0" * 18, "A chassis number has 17 characters, this has 18."),
    ],
)
def test_what_cannot_be_a_number_is_explained(lived, typed, said):
    answer = lived.server.page("dispatch").client.get("/units", query_string={"q": typed})

    assert answer.status_code == 400
    assert said in read(answer).text


def test_the_letter_o_still_finds_the_nearest_number(lived):
    page = read(lived.server.page("dispatch").get("/units?q=3OOO2"))

    assert page.one("main").all("a", class_="button")[0].text == "PC7130002"


def test_a_state_that_is_none_is_answered_with_those_that_are(lived):
    answer = lived.server.page("dispatch").get("/units?state=scrapped")

    assert answer.status_code == 400
    assert "There is no state “scrapped”; there are planned, on line" in read(answer).text
