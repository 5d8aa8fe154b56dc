"""The app's frame at each size it is held in: what the drawing gets, what a thumb finds, that nothing moves."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.app.test_taps import PICTURE

pytestmark = pytest.mark.browser

SIZES = ((320, 568), (360, 740), (390, 844), (568, 320), (844, 390), (768, 1024))
TALL = {(390, 844): 0.60, (360, 740): 0.50}  # of the height at least for the drawing, a notice included
HEAD = 48

MEASURE = Path(__file__).with_name("frame.js").read_text(encoding="utf-8").partition("*/")[2].strip()
PLACES = """() => {
  const parts = [...document.querySelectorAll("footer .walk-row > *, .zone polygon, svg.drawing")];
  return Object.fromEntries(parts.map((each, place) => {
    const { left, top, width, height } = each.getBoundingClientRect();
    return [place, [left, top, width, height].map(Math.round)];
  }));
}"""


def resize(phone, size):
    phone.page.set_viewport_size({"width": size[0], "height": size[1]})
    phone.page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def wrong_at_each_size(phone, screen, head=HEAD):
    """Return what is wrong with the screen that shows, at each size, and leave it at the first phone's size."""
    told = []
    for size in SIZES:
        resize(phone, size)
        limits = {"share": TALL.get(size, 0), "head": head if size[0] >= 360 else 0}
        told += [f"{screen} at {size}: {each}" for each in phone.page.evaluate(MEASURE, limits)]
    resize(phone, (390, 844))
    return told


@pytest.mark.signed_in
def test_every_screen_keeps_its_frame_at_every_size(phone):
    told = wrong_at_each_size(phone, "units")
    phone.begin("PC7330003")
    phone.page.locator(".drawing").wait_for()
    walk = phone.page.url.rpartition("/")[0]
    for view in ("front", "nearside", "rear", "offside", "roof", "underside", "interior", "unit"):
        phone.page.goto(f"{walk}/{view}")
        phone.page.locator(".drawing, .caution").first.wait_for()
        if phone.page.get_by_role("button", name="Read: to the drawing").count():
            told += wrong_at_each_size(phone, f"caution of {view}")
            phone.tap("Read: to the drawing")
        told += wrong_at_each_size(phone, f"walk {view}")
    unit = walk.rpartition("/")[0]
    screens = ("", "/views/front", "/rest/front", "/zone/front.panel", "/search/front.panel", "/end", "/release")
    for screen in screens:
        phone.page.goto(unit + screen)
        expect(phone.page.locator("h1")).not_to_have_text("Daybay")
        told += wrong_at_each_size(phone, screen or "unit")
    phone.page.goto(f"{unit}/zone/front.panel")
    phone.tap(re.compile("^Panel hollow"))
    phone.page.locator("input[data-view=far]").set_input_files(PICTURE)
    told += wrong_at_each_size(phone, "draft")
    phone.tap("far photo", "link")
    phone.tap("Larger")
    phone.expect_status("Saved on phone: the flaw is circled")
    told += wrong_at_each_size(phone, "photo, circled")
    for screen in ("find", "menu", "outbox", "settings", "secret", "help"):
        phone.open(f"#/{screen}")
        told += wrong_at_each_size(phone, screen)

    assert "\n".join(told) == ""


@pytest.mark.signed_in
def test_nothing_under_a_finger_moves_when_something_is_saved(phone):
    phone.begin("PC7330003")
    phone.page.locator(".drawing").wait_for()
    before = phone.page.evaluate(PLACES)

    phone.tap(re.compile("looked at$"))
    phone.expect_status("looked at")
    looked = phone.page.evaluate(PLACES)
    phone.record(re.compile("^Front panel"), "Trim loose")
    saved = phone.page.evaluate(PLACES)

    assert looked == before
    assert saved == before
    assert "\n".join(wrong_at_each_size(phone, "walk, saved")) == ""


@pytest.mark.signed_in
def test_for_the_left_hand_the_keys_lie_the_other_way_and_the_help_is_there(phone):
    phone.open("#/settings")
    phone.tap("Left hand")
    phone.open("#/help")
    expect(phone.page.get_by_role("main")).to_contain_text("For a critical finding: go to the lead.")
    expect(phone.page.get_by_role("main")).to_contain_text("Follow your site's rules and the law where you are.")
    phone.open("#/units")
    phone.begin("PC7130001")

    keys = [phone.page.locator(".walk-row > *").nth(place).bounding_box() for place in range(3)]
    assert keys[0]["x"] > keys[1]["x"] > keys[2]["x"]


@pytest.mark.signed_in
def test_a_planted_narrow_drawing_and_a_planted_cut_name_are_found(phone):
    phone.begin("PC7330003")
    phone.page.locator(".drawing").wait_for()
    phone.page.evaluate("""() => {
      document.querySelector("svg.drawing").style.height = "300px";
      document.querySelector(".zone-name").textContent = "Front…";
      document.querySelector("footer .main").style.minWidth = "600px";
    }""")

    found = phone.page.evaluate(MEASURE, {"share": 0.6, "head": HEAD})

    assert any("drawing 0." in each for each in found), found
    assert any("name cut" in each for each in found), found
    assert any("sideways" in each for each in found), found
