"""The app's frame: that nothing under a finger moves, and that the measure of it finds what is planted.

Every screen is measured so on its journey through the app, in `test_screens.py`.
"""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.app.frame import HEAD, MEASURE, wrong_at_each_size

pytestmark = pytest.mark.browser

PLACES = """() => {
  const parts = [...document.querySelectorAll("footer .walk-row > *, .zone polygon, svg.drawing")];
  return Object.fromEntries(parts.map((each, place) => {
    const { left, top, width, height } = each.getBoundingClientRect();
    return [place, [left, top, width, height].map(Math.round)];
  }));
}"""


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
@pytest.mark.parametrize("taps_before", [0, 1])
def test_a_sign_of_the_head_is_not_drawn_anew_under_a_finger(phone, server, taps_before):
    """A sync begins by itself, as 300 ms after each save, and the head says so."""
    phone.expect_all_sent()
    server.stop()
    phone.open("#/find")
    expect(phone.heading("Find a unit")).to_be_visible()
    mouse = phone.page.mouse  # which may be held: a finger that stays is another gesture
    for _ in range(taps_before):
        mouse.click(200, 20)
    mouse.move(*phone.page.evaluate(MIDST))
    mouse.down()
    phone.page.evaluate("() => { window.sign = document.querySelector('header a.standing'); }")
    with phone.page.expect_request("**/api/v1/ping"):
        phone.page.evaluate("dispatchEvent(new Event('online'))")
    assert phone.page.evaluate("window.sign.isConnected")
    mouse.up()

    expect(phone.heading("Outbox")).to_be_visible()
    phone.page.wait_for_function("() => !window.sign.isConnected")  # what it had to say is told now


MIDST = """() => {
  const { left, top } = document.querySelector("header a.standing").getBoundingClientRect();
  return [left + 20, top + 20];
}"""


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
      Object.assign(document.querySelector("footer").style, { height: "40px", alignContent: "end" });
    }""")

    found = phone.page.evaluate(MEASURE, {"share": 0.6, "head": HEAD})

    assert any("drawing 0." in each for each in found), found
    assert any("name cut" in each for each in found), found
    assert any("sideways" in each for each in found), found
    assert any("out of reach" in each for each in found), found
