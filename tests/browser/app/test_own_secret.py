"""Who set a person's PIN is told at their next sign-in on a phone, and they choose their own there."""

import re

import pytest
from playwright.sync_api import expect

from qc.store.people.persons import People
from qc.store.people.telling import Beside
from qc.store.record.connection import RECORD, open_reader
from qc.store.record.own_word import By
from tests.browser.phone import PIN

pytestmark = pytest.mark.browser

GIVEN, OWN = "593018", "730415"


def set_by_the_console(folder, code, secret):
    """Give somebody a new PIN beside the running server, as the administrator's command does."""
    from qc.store.folder.plant_folder import folder_clock

    with Beside(folder, folder_clock(folder)) as record:
        reader = open_reader(folder / RECORD)
        People(folder / "keys", record, lambda: reader).change_secret(code, secret, By(at_console="root"))
        reader.close()


def type_pin(phone, pin):
    for figure in pin:
        phone.tap(figure, exact=True)
    phone.tap("Sign in", exact=True)


def fill(phone, *values):
    for name, value in zip(("The one you have now", "The new one", "The new one again"), values, strict=True):
        phone.page.get_by_label(name, exact=True).fill(value)
    phone.tap("Change it")


def test_who_set_the_pin_is_told_and_ones_own_is_chosen(phone, server):
    main = phone.page.get_by_role("main")
    phone.sign_in()
    set_by_the_console(server.folder, "I1", GIVEN)
    phone.sync()
    phone.open("#/sign-in")
    phone.tap(re.compile("Inspector One"))
    type_pin(phone, GIVEN)

    expect(phone.heading("Your sign-in")).to_be_visible()
    expect(main).to_contain_text("on the server's console")
    phone.page.reload()  # seen by nobody yet: it is told again
    phone.open("#/secret")
    expect(main).to_contain_text("on the server's console")
    phone.tap("Choose my own")
    fill(phone, PIN, OWN, OWN)
    expect(main).to_contain_text("is not yours")
    fill(phone, GIVEN, OWN, OWN + "1")
    expect(main).to_contain_text("typed in two ways")
    fill(phone, GIVEN, OWN, OWN)
    expect(phone.heading("Units in work")).to_be_visible()
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Panel ripple")
    phone.sync()
    phone.expect_all_sent()

    phone.lock()
    server.stop()
    phone.tap(re.compile("Inspector One"))
    type_pin(phone, GIVEN)
    expect(main).to_contain_text("cannot be reached")
    type_pin(phone, OWN)
    expect(phone.heading("Units in work")).to_be_visible()  # known again without signal by the new one alone


def test_what_was_asked_for_is_told_once(phone, server):
    set_by_the_console(server.folder, "I1", GIVEN)
    for told in (True, False):
        phone.open("#/sign-in")
        phone.tap(re.compile("Inspector One"))
        type_pin(phone, GIVEN)
        if told:
            phone.tap("I asked for it: go on")
        expect(phone.heading("Units in work")).to_be_visible()
