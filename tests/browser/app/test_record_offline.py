"""Record without signal, start again without signal, and hand everything over once there is signal."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


def test_what_is_recorded_without_signal_survives_a_reload_and_reaches_the_server(phone, server):
    phone.sign_in()
    phone.begin("PC7130001")
    server.stop()

    phone.record(re.compile("^Front panel"), "Trim loose or lifting")
    phone.rest()
    phone.expect_status("7 zones looked at")
    phone.page.reload()
    expect(phone.heading(re.compile("Front$"))).to_be_visible()
    expect(phone.page.locator(".standing")).to_contain_text("3 records not sent")

    server.start()
    phone.sync()
    phone.expect_all_sent()
    phone.open("#/units")
    expect(phone.page.get_by_role("link", name=re.compile("PC7130001"))).to_contain_text("1 minor")
