"""A station's own screen: units due in order, several passed with one key, taken back, with no signal, each once."""

import re
import time

import pytest
from playwright.sync_api import expect

from qc.domain.facts.people import Person
from qc.domain.plant.chassis import full_number
from qc.store.reading.reads import Reads
from qc.web.house import open_house
from tests.browser.app.frame import wrong_at_each_size
from tests.browser.app.test_saving import kill
from tests.browser.plant_server import PIN, fill, plan

pytestmark = pytest.mark.browser

FIRST, SECOND, THIRD, PLANNED = "PC7130001", "PC7130004", "PC7130007", "PC7130009"
PLACES = """() => Object.fromEntries([
  ...document.querySelectorAll("main .list > li, footer button")
].map((each, place) => {
  const { left, top } = each.getBoundingClientRect();
  return [place, [left, top].map(Math.round)];
}))"""


@pytest.fixture(scope="module")
def filled_folder(tmp_path_factory):
    """A plant with a lead of S07, three units that came as far as S06, one that is planned only."""
    folder = tmp_path_factory.mktemp("line") / "data"
    fill(folder, units=[("T36", 30007), ("T36", 30001), ("T36", 30004)], passed=("S01", "S06"))
    house = open_house(folder)
    plan(house, "T36", 30009, passed=())
    house.people.add(Person("L-S07", "Lead Seven", "station_lead", ("S07",)), PIN)
    house.close()
    return folder


@pytest.fixture
def lead(phone):
    """The phone, with the lead of S07 signed in and on their own screen at once."""
    phone.tap(re.compile("Lead Seven"))
    for figure in PIN:
        phone.tap(figure, exact=True)
    phone.tap("Sign in", exact=True)
    expect(phone.heading("S07 Wall panels bond")).to_be_visible()
    due(phone).first.wait_for()
    return phone


def due(phone):
    return phone.page.get_by_role("list", name="Due at S07").get_by_role("listitem")


def numbers(phone):
    return [re.search(r"PC7\d+", text)[0] for text in due(phone).all_inner_texts()]


def passings(server):
    """Return (unit, taken back) of each passing of S07 in the record, in order."""
    house = open_house(server.folder)
    plant = house.plant
    house.close()
    reads = Reads(server.folder, plant)
    try:
        units = [full_number(plant, "T36", sequence) for sequence in (30001, 30004, 30007, 30009)]
        stories = [reads.unit_story(unit) for unit in units]
    finally:
        reads.close()
    return [(one.shop_number, each.withdrawn) for one in stories for each in one.passings if each.station == "S07"]


def test_a_lead_opens_on_their_station_and_passes_several_with_no_signal(lead, server):
    assert numbers(lead) == [FIRST, SECOND, THIRD, PLANNED]  # on the line first, in the order of the line
    lead.expect_all_sent()
    server.stop()
    lead.tap(re.compile(SECOND))
    lead.tap(re.compile(FIRST))
    expect(lead.page.get_by_role("button", name="Passed here: 2", exact=True)).to_be_visible()
    before = lead.page.evaluate(PLACES)
    lead.tap("Passed here: 2", exact=True)
    lead.expect_status("Saved on phone: 2 passed S07")

    assert [row["kind"] for row in lead.stored("operations")] == ["station_passed"] * 2
    assert numbers(lead) == [FIRST, SECOND, THIRD, PLANNED]  # each keeps its place
    assert lead.page.evaluate(PLACES) == before
    expect(due(lead).nth(0)).to_contain_text(re.compile(r"Passed \d\d:\d\d"))
    expect(due(lead).nth(0)).to_contain_text("Saved on phone")
    server.start()
    lead.sync()
    lead.expect_all_sent()
    server.stop()
    assert passings(server) == [(FIRST, False), (SECOND, False)]


def test_a_key_tapped_twice_passes_once_and_undo_takes_back_what_was_saved(lead, server):
    lead.tap(re.compile(FIRST))
    key = lead.page.get_by_role("button", name="Passed here: 1", exact=True)
    box = key.bounding_box()
    for _ in range(3):
        lead.page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    lead.expect_status("Saved on phone: 1 passed S07")
    expect(lead.page.get_by_role("button", name="Tap the units that passed", exact=True)).to_be_disabled()
    assert len(lead.stored("operations")) == 1
    lead.tap(f"Undo: {FIRST} has not passed")
    lead.expect_status(f"Saved on phone: {FIRST} has not passed S07")
    expect(due(lead).nth(0).get_by_role("button", name=re.compile(FIRST))).to_have_attribute("aria-pressed", "false")
    lead.expect_all_sent()
    expect(lead.page.locator(".standing")).not_to_contain_text("refused")
    server.stop()

    assert passings(server) == [(FIRST, True)]


def test_killed_between_the_write_and_the_answer_it_has_passed_once(lead, server):
    lead.expect_all_sent()
    server.stop()
    lead.tap(re.compile(FIRST))
    lead.tap(re.compile(THIRD))
    lead.page.get_by_role("button", name="Passed here: 2", exact=True).tap(no_wait_after=True)
    time.sleep(0.02)
    kill(lead)
    lead.restart()
    lead.open()
    expect(lead.heading("S07 Wall panels bond")).to_be_visible()
    kept = [row["unit"][-5:] for row in lead.stored("operations")]
    assert kept in ([], ["30001", "30007"])  # all of one key, or none
    if not kept:
        lead.tap(re.compile(FIRST))
        lead.tap(re.compile(THIRD))
        lead.tap("Passed here: 2", exact=True)
        lead.expect_status("Saved on phone: 2 passed S07")
    lead.page.reload()
    due(lead).first.wait_for()
    assert numbers(lead) == [SECOND, PLANNED]
    expect(lead.page.get_by_role("heading", name="Passed here before: 2")).to_be_visible()
    server.start()
    lead.sync()
    lead.expect_all_sent()
    server.stop()

    assert passings(server) == [(FIRST, False), (THIRD, False)]


def test_last_figures_find_a_unit_and_another_station_stays_chosen(lead):
    lead.page.get_by_label("Last figures").fill("0007")
    expect(due(lead)).to_have_count(1)
    lead.tap(re.compile(THIRD))
    lead.page.get_by_label("Last figures").fill("999")
    expect(due(lead)).to_have_count(1)  # what is chosen stays in sight
    lead.page.get_by_label("Last figures").fill("")
    lead.tap("Another station")
    first = lead.page.get_by_role("main").get_by_role("button").first
    expect(first).to_contain_text("S07")  # their own before the others
    lead.tap(re.compile("^S08"))
    expect(lead.heading("S08 Roof fit and seal")).to_be_visible()
    lead.open("#/menu")
    lead.tap("At a station: units that pass", "link")
    expect(lead.heading("S08 Roof fit and seal")).to_be_visible()
    lead.page.get_by_role("list", name="Due at S08").wait_for()


def test_it_keeps_its_frame_at_every_size(lead):
    told = wrong_at_each_size(lead, "station")
    lead.tap(re.compile(FIRST))
    lead.tap("Passed here: 1", exact=True)
    lead.expect_status("Saved on phone: 1 passed S07")
    told += wrong_at_each_size(lead, "station, passed")
    lead.tap("Another station")
    told += wrong_at_each_size(lead, "station, which")

    assert "\n".join(told) == ""


def test_where_a_unit_stands_is_told_with_no_signal_and_shown(lead, server):
    lead.expect_all_sent()
    server.stop()
    units = []
    for number, place in ((FIRST, "Bay 4"), (SECOND, "Bay 4")):
        lead.open("#/units")
        lead.tap(re.compile(number), "link")
        lead.tap("Tell where it stands", "link")
        if units:
            lead.tap("Bay 4", exact=True)  # told of late: no typing
        else:
            lead.tap("Save where it stands")
            lead.expect_status("Choose the place, or write it")
            lead.page.get_by_label("Another place").fill(place)
        lead.tap("Save where it stands")
        lead.expect_status(f"Saved on phone: stands at {place}")
        expect(lead.page.get_by_role("main")).to_contain_text("Stands at Bay 4, told by L-S07")
        units.append(number)
    server.start()
    lead.sync()
    lead.expect_all_sent()

    assert [row["kind"] for row in lead.stored("operations")] == ["unit_moved"] * 2
