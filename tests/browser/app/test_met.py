"""A unit that no plan holds, begun on two phones without signal: one unit, marked, walked, then planned."""

import re

import pytest
from playwright.sync_api import expect

from qc.web.house import open_house
from tests.browser.plant_server import PEOPLE, record

pytestmark = pytest.mark.browser

UNIT, SHOP = "0PC7T3600TW030077", "PC7130077"


def met(phone, name, number=UNIT):
    phone.open("#/find")
    for figure in "30077":
        phone.tap(figure, exact=True)
    phone.tap("Find", exact=True)
    phone.tap("Begin it: not planned here", "link")
    phone.page.get_by_label("The whole chassis number").fill(number)
    phone.tap(name)
    phone.tap("Begin this unit")


@pytest.mark.signed_in
def test_two_begin_it_without_signal_and_it_is_one_unit_until_the_plan_comes(phone, server, new_phone):
    other = new_phone()
    other.open_first()
    other.sign_in("Inspector Two")
    phone.expect_all_sent()
    other.expect_all_sent()
    server.stop()
    met(phone, "Mossgill 50")
    phone.expect_status(f"{UNIT} is no number of a Mossgill 50")
    met(phone, "Tarrow 36", UNIT[:-1])
    phone.expect_status("has 17 characters, this has 16")
    met(phone, "Tarrow 36")
    expect(phone.heading(f"Unit {SHOP}")).to_be_visible()
    expect(phone.page.get_by_role("main")).to_contain_text("Not planned: no release before a plan")
    phone.tap("Start inspection", "link")
    phone.tap("Overcast")
    phone.tap(re.compile("begin$"))
    phone.record(re.compile("^Front panel"), "Panel ripple or print-through")
    phone.open("#/units")
    expect(phone.page.get_by_role("link", name=re.compile(SHOP)).last).to_contain_text("Not planned")
    phone.page.reload()
    phone.page.get_by_role("link", name=re.compile(SHOP)).last.wait_for()
    met(other, "Tarrow 36")
    expect(other.heading(f"Unit {SHOP}")).to_be_visible()

    server.start()
    for each in (phone, other):
        each.sync()
        each.expect_all_sent()
    assert {row["verdict"] for row in phone.stored("verdicts") + other.stored("verdicts")} == {"applied"}
    server.stop()
    house = open_house(server.folder)
    try:
        story = house.reads.unit_story(UNIT)
        assert (story.met.by in ("I1", "I2"), story.is_unplanned, len(story.defects)) == (True, True, 1)
        planner = next(one for one in PEOPLE if one.role == "planner")
        plan = {
            "model": "T36",
            "shop_number": SHOP,
            "sequence": 30077,
            "planned_day": "2026-03-04",
            "options": ["awning"],
        }
        record(house, planner, UNIT, [("unit_planned", plan)])
    finally:
        house.close()
    server.start()
    phone.sync()
    phone.expect_all_sent()
    phone.open(f"#/unit/{UNIT}")
    expect(phone.page.get_by_role("main")).to_contain_text("Options: awning")
    expect(phone.page.get_by_role("main")).not_to_contain_text("Not planned")
