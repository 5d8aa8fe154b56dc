"""Screens that no defect needs are loaded when they are opened: without signal too, and a failure says so in words."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

SCREENS = {
    "#/settings": "Settings",
    "#/outbox": "Outbox",
    "#/help": "Help",
    "tests": re.compile("^Tests"),
    "release": re.compile("release$"),
}

LOSE = """async name => {
  for (const key of await caches.keys()) {
    const cache = await caches.open(key);
    for (const request of await cache.keys()) if (request.url.endsWith(name)) await cache.delete(request);
  }
}"""


@pytest.mark.signed_in
def test_every_screen_opens_without_signal(phone, server):
    server.stop()
    phone.close()
    phone.restart()
    phone.open()
    phone.tap(re.compile("PC7"), "link")
    expect(phone.heading(re.compile("^Unit PC7"))).to_be_visible()
    unit = phone.page.url.partition("#")[2]

    for path, title in SCREENS.items():
        phone.open(path if path.startswith("#") else f"#{unit}/{path}")
        expect(phone.heading(title)).to_be_visible()
    phone.lock()


@pytest.mark.signed_in
def test_a_screen_that_does_not_load_says_so_and_comes_at_the_next_try(phone, server):
    server.stop()  # first: the page may still be loading its later screens, and would fetch it again
    phone.page.evaluate(LOSE, "/screens/settings.js")
    phone.context.new_cdp_session(phone.page).send("Network.clearBrowserCache")
    phone.page.reload()
    phone.tap("Settings", "link", exact=True)

    expect(phone.heading("This page did not load")).to_be_visible()
    expect(phone.page.locator("main")).to_contain_text("What you saved is kept")
    phone.page.evaluate("window.before = true")
    phone.tap("Try again")
    phone.page.wait_for_function("() => !window.before")
    expect(phone.heading("This page did not load")).to_be_visible()
    server.start()
    phone.tap("Try again")

    expect(phone.heading("Settings")).to_be_visible()
    phone.errors.clear()
