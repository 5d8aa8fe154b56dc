"""A new version of the app waits for the person, and never takes an open draft away."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.plant_server import another_version

pytestmark = pytest.mark.browser


def hash_of(phone) -> str:
    return phone.page.locator("script[type=module]").get_attribute("src").split("/")[2]


def look_for_update(phone) -> None:
    phone.open("#/settings")
    phone.tap("Sync now")


@pytest.mark.signed_in
def test_a_new_version_waits_for_the_press_and_for_the_open_draft(phone, server, tmp_path):
    phone.begin("PC7130001")
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    first = hash_of(phone)
    server.stop()
    server.program = another_version(tmp_path / "program")
    server.start()

    look_for_update(phone)
    expect(phone.page.get_by_role("button", name="New version: save the open draft first")).to_be_visible()
    phone.page.reload()
    assert hash_of(phone) == first
    phone.tap("New version: save the open draft first")
    phone.expect_status("A defect is not saved yet")
    assert hash_of(phone) == first

    phone.open("#/units")
    phone.tap(re.compile("^Not saved yet: Panel ripple"), "link")
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone")
    phone.open("#/settings")
    phone.tap("Take the new version")

    # The page is loaded anew, at times twice (see `activate` in pwa/lib/platform.js).
    expect(phone.page.locator(f'script[type=module][src*="{first}"]')).to_have_count(0, timeout=60_000)
    expect(phone.page.locator("script[type=module]")).to_have_count(1)
    expect(phone.heading(re.compile("Settings"))).to_be_visible()
    assert hash_of(phone) != first
    assert [row["kind"] for row in phone.stored("operations")] == ["inspection_begun", "defect_recorded"]


@pytest.mark.signed_in
def test_the_old_version_starts_without_signal_while_a_new_one_waits(phone, server, tmp_path):
    first = hash_of(phone)
    server.stop()
    server.program = another_version(tmp_path / "program")
    server.start()
    look_for_update(phone)
    expect(phone.page.get_by_role("button", name="Take the new version")).to_be_visible()
    server.stop()

    phone.page.reload()

    expect(phone.heading("Settings")).to_be_visible()
    assert hash_of(phone) == first


@pytest.mark.signed_in
def test_a_new_version_that_is_not_let_in_at_the_press_is_taken_after_the_next_start(phone, server, tmp_path):
    """A browser that loses the word to take over: the page starts once more by itself and says it again."""
    first = hash_of(phone)
    server.stop()
    server.program = another_version(tmp_path / "program")
    server.start()
    look_for_update(phone)
    expect(phone.page.get_by_role("button", name="Take the new version")).to_be_visible()
    phone.page.evaluate("ServiceWorker.prototype.postMessage = () => {}")

    phone.tap("Take the new version")

    expect(phone.page.locator(f'script[type=module][src*="{first}"]')).to_have_count(0, timeout=60_000)
    expect(phone.heading(re.compile("Settings"))).to_be_visible()
