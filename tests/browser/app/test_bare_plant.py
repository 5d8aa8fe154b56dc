"""The app on the least that is a plant, without tests and cautions: a look is begun and ended, the unit released."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.plant_server import PIN

pytestmark = pytest.mark.browser

BARE = Path(__file__).parents[2] / "plants" / "bare"
UNIT = "KF2100101"


@pytest.fixture(scope="module")
def filled_folder(tmp_path_factory):
    from tests.browser.plant_server import fill

    folder = tmp_path_factory.mktemp("bare") / "data"
    fill(folder, BARE, (("HUT", 101),), ("MAKE",))
    return folder


@pytest.fixture
def server(server):
    server.shows = "KF2"
    return server


def test_a_unit_is_walked_and_released_without_a_word_of_tests_or_cautions(phone):
    phone.sign_in("Inspector One")
    main = phone.page.get_by_role("main")
    phone.tap(re.compile(UNIT), "link")
    expect(phone.page.get_by_role("link", name="Prepare release")).to_be_visible()
    expect(phone.page.get_by_role("link", name="Tests", exact=True)).to_have_count(0)
    expect(phone.page.locator(".caution")).to_have_count(0)

    phone.tap("Start inspection", "link")
    expect(phone.page.locator(".caution")).to_have_count(0)
    phone.tap("Overcast")
    phone.tap(re.compile("begin$"))
    phone.page.locator(".drawing").wait_for()
    phone.rest()
    phone.end()
    phone.tap("End inspection", exact=True)
    phone.expect_status("ended")
    phone.sync()
    phone.expect_all_sent()

    phone.open("#/units")
    phone.tap(re.compile(UNIT), "link")
    phone.tap("Prepare release", "link")
    expect(main).to_contain_text("What blocks it: 0")
    phone.tap("I have read this list: sign")
    phone.page.get_by_label("Your PIN, to sign").fill(PIN)
    phone.tap("Sign: release this unit")
    expect(main).to_contain_text("Released by I1, against the release rule and checks")


def test_an_address_of_its_tests_says_that_there_are_none(phone):
    phone.sign_in("Tester One")
    phone.tap(re.compile(UNIT), "link")
    expect(phone.heading(f"Unit {UNIT}")).to_be_visible()
    phone.open(phone.page.url.partition("#")[2].join(["#", "/tests"]))

    expect(phone.page.get_by_role("main")).to_contain_text("No test is asked of this unit.")
    expect(phone.page.get_by_role("link", name="Start inspection")).to_be_visible()
