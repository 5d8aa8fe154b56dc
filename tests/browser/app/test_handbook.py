"""The handbook in the app: from each screen to its paragraph, with its pictures, without signal too."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

SHOWN = "image => image.complete && image.naturalWidth > 0"


@pytest.mark.signed_in
def test_a_screen_leads_to_its_paragraph_without_signal(phone, server):
    phone.begin("PC7130001")
    phone.page.locator(".drawing").wait_for()  # the beginning is saved: a reload before that would open before it
    server.stop()
    phone.page.reload()
    phone.page.locator(".drawing").wait_for()
    main = phone.page.get_by_role("main")

    phone.tap(re.compile("^Menu"), "link")
    phone.tap("Help with that screen", "link")

    expect(phone.heading("Inspector")).to_be_visible()
    expect(main.locator("h2").first).to_have_text("The walk round")
    picture = main.get_by_role("img").first
    expect(picture).to_be_in_viewport()
    phone.page.wait_for_function(SHOWN, arg=picture.element_handle())
    phone.tap("Back")
    phone.tap("Help with that screen", "link")
    expect(main.locator("h2").first).to_have_text("The walk round")

    phone.tap("All help", "link")
    phone.tap("Your day: Inspector", "link")
    expect(main.locator("h2").first).to_have_text("The day")
    phone.open("#/help/repairer/found")
    phone.touch(main.get_by_role("link", name="A defect"))
    expect(main.locator("h2").first).to_have_text("A defect")


@pytest.mark.signed_in
def test_a_page_that_is_not_there_says_so_and_comes_at_the_next_try(phone, server):
    lose = """async () => {
      for (const key of await caches.keys()) {
        const cache = await caches.open(key);
        for (const one of await cache.keys()) if (one.url.endsWith("/en/tester.html")) await cache.delete(one);
      }
    }"""
    server.stop()  # first: what still loads would bring it back
    phone.page.evaluate(lose)
    phone.context.new_cdp_session(phone.page).send("Network.clearBrowserCache")
    phone.open("#/help/tester/day")

    expect(phone.page.get_by_role("main")).to_contain_text("This page is not on this phone")
    server.start()
    phone.tap("Try again")
    expect(phone.page.get_by_role("main")).to_contain_text("The day")
    phone.errors.clear()
    phone.open("#/help/nowhere/day")
    expect(phone.heading("No such page")).to_be_visible()


@pytest.mark.signed_in
def test_every_page_is_read_in_the_language_spoken(phone):
    phone.open("#/settings")
    phone.tap("Deutsch", exact=True)
    phone.open("#/help/inspector/walk")
    main = phone.page.get_by_role("main")

    expect(main.locator("h2").first).to_have_text("Der Rundgang")
    phone.open("#/help/manager/day")
    expect(main.locator("h2").first).to_have_text("Der Tag")
    expect(main.locator(".handbook")).to_have_attribute("lang", "de")
