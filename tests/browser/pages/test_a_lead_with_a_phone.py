"""A station lead at the line: two taps to confirm, the photo in view, the reason kept, with and without scripts."""

import pytest
from playwright.sync_api import expect

from tests.browser.pages.conftest import PHONE

pytestmark = pytest.mark.browser
STATION = "/stations/S05?week=2026-W10"


@pytest.fixture
def defect(site):
    """A fresh defect on the waiting unit that S05 is suspected of."""
    lived = site.lived
    unit = lived.ids["waiting"]
    inspection = lived.begin(unit, purpose="relook")
    found = lived.defect(unit, inspection, "offside.lower.mid", "PAN-03", "minor")
    lived.suspect(unit, found, "S05")
    return found


def card_of(visitor, defect):
    """Return the defect's card, opening the older ones where it stands among them."""
    visitor.page.evaluate("for (const one of document.querySelectorAll('details.more')) one.open = true")
    return visitor.page.locator(f"#d-{defect}")


def origin_of(site, defect):
    return site.lived.server.house.reads.unit_story(site.lived.ids["waiting"]).defect(defect).origin


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_two_taps_confirm(open_as, site, defect, scripts):
    visitor = open_as("station_lead", PHONE, has_touch=True, java_script_enabled=scripts)
    visitor.go(STATION)
    card = visitor.page.locator(f"#d-{defect}")
    card.get_by_text("Made here", exact=True).tap()
    card.get_by_role("button", name="Yes, confirm: made at S05").tap()

    expect(visitor.page.get_by_role("status")).to_contain_text("Confirmed: made here.")
    assert origin_of(site, defect).confirmed == "S05"


def test_passing_on_asks_for_the_station_and_the_reason(open_as, site, defect):
    visitor = open_as("station_lead", PHONE, has_touch=True)
    visitor.go(STATION)
    card = card_of(visitor, defect)
    card.get_by_text("Not made here", exact=True).tap()
    card.get_by_label("Passed on to").select_option("RP2")
    card.get_by_role("button", name="Pass on").tap()
    assert origin_of(site, defect).suspected == "S05"  # the browser asks for the reason first
    card.get_by_label("Why (kept with the defect)").fill("scratch under the film")
    card.get_by_role("button", name="Pass on").tap()

    expect(visitor.page.get_by_role("status")).to_contain_text("Passed on with your reason.")
    assert origin_of(site, defect).suspected == "RP2"


def test_what_a_lead_presses_is_64_pixels_high(open_as, site, defect):
    visitor = open_as("station_lead", PHONE)
    visitor.go(STATION)
    card = card_of(visitor, defect)

    for words in ("Made here", "Not made here"):
        assert card.get_by_text(words, exact=True).bounding_box()["height"] >= 64
    card.get_by_text("Made here", exact=True).click()
    assert card.get_by_role("button", name="Yes, confirm").bounding_box()["height"] >= 64


def test_the_photo_is_in_the_card(open_as, site):
    visitor = open_as("station_lead", PHONE)
    visitor.go(STATION)
    card = card_of(visitor, site.lived.ids["gap"])
    photo = card.get_by_role("img", name="Photo 1 of 1")
    photo.scroll_into_view_if_needed()

    visitor.page.wait_for_function("photo => photo.complete && photo.naturalWidth > 0", arg=photo.element_handle())


def test_the_trend_is_a_drawing_with_its_usual_range_in_words(open_as, site):
    visitor = open_as("station_lead", PHONE)
    visitor.go(STATION)

    expect(visitor.page.locator("[data-picture=trend-work] svg.figure")).to_be_visible()
    expect(visitor.page.locator("p.reading")).not_to_be_empty()
    assert not [address for address in visitor.asked if "plotly" in address]
