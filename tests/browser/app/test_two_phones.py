"""Two phones on one unit: different defects unite, the same field keeps both, another person re-checks."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

UNIT = "PC7130001"


def open_unit(phone) -> None:
    phone.open("#/units")
    phone.tap(re.compile(UNIT), "link")


def test_two_inspectors_without_signal_unite_on_one_unit(new_phone, server):
    one, two = new_phone(), new_phone()
    for phone, name in ((one, "Inspector One"), (two, "Inspector Two")):
        phone.open_first()
        phone.sign_in(name)
        phone.begin(UNIT)
    server.stop()
    one.record(re.compile("^Front panel"), "Panel ripple")
    two.record(re.compile("^Front panel"), "Panel scratch")
    two.rest()
    server.start()

    for phone in (one, two, one):
        phone.sync()
        phone.expect_all_sent()

    for phone in (one, two):
        open_unit(phone)
        expect(phone.page.get_by_role("main")).to_contain_text("Open list: 2")
    expect(one.page.get_by_role("main")).to_contain_text("In hand by I2")
    one.tap(re.compile("^Go on with the walk"), "link")
    expect(one.page.get_by_role("button", name=re.compile("^Front window: looked at"))).to_be_visible()


def test_the_same_thing_found_by_another_is_told_before_it_is_saved(new_phone):
    one, two = new_phone(), new_phone()
    one.open_first()
    one.sign_in("Inspector One")
    one.begin(UNIT)
    one.record(re.compile("^Front panel"), "Panel ripple")
    one.sync()
    one.expect_all_sent()
    two.open_first()
    two.sign_in("Inspector Two")
    two.begin(UNIT)

    two.zone(re.compile("^Front panel"))
    two.tap(re.compile("^Panel ripple"))
    expect(two.page.get_by_role("main")).to_contain_text("Perhaps on the list already")
    two.tap("It is that one: do not record")

    two.expect_status("Not recorded")
    assert two.stored("drafts") == []


def test_who_repaired_cannot_accept_and_another_can(new_phone):
    one, two = new_phone(), new_phone()
    for phone, name in ((one, "Inspector One"), (two, "Inspector Two")):
        phone.open_first()
        phone.sign_in(name)
    one.begin(UNIT)
    one.record(re.compile("^Front panel"), "Panel ripple")
    open_unit(one)
    one.tap(re.compile("Panel ripple"), "link")
    one.tap("Repair done", "link")
    one.tap("15", exact=True)
    one.tap(re.compile("^Save: repair done"))
    expect(one.page.get_by_role("contentinfo")).to_contain_text("another person must re-check it")
    one.sync()
    one.expect_all_sent()

    two.sync()
    two.expect_all_sent()
    open_unit(two)
    two.tap(re.compile("Panel ripple"), "link")
    two.tap("Re-check", "link")
    two.tap("Failed", exact=True)
    expect(two.page.get_by_label("What is still wrong")).to_be_visible()
    two.tap("Back", exact=True)  # a slip: what was chosen is kept over pages, and must not hold who looked again
    two.tap("Looked again: accepted")
    two.expect_status("Saved on phone: accepted on re-check")
    two.sync()
    two.expect_all_sent()

    open_unit(two)
    expect(two.page.get_by_role("main")).to_contain_text("Open list: 0")


def test_a_form_that_another_phone_overtook_saves_nothing_and_says_how_it_stands(new_phone):
    one, two, three = new_phone(), new_phone(), new_phone()
    for phone, name in ((one, "Inspector One"), (two, "Inspector Two"), (three, "Repairer One")):
        phone.open_first()
        phone.sign_in(name)
    one.begin(UNIT)
    one.record(re.compile("^Front panel"), "Panel ripple")
    one.sync()
    one.expect_all_sent()
    defect = next(row for row in one.stored("operations") if row["kind"] == "defect_recorded")
    at = f"#/unit/{defect['unit']}/%s/{defect['id']}"

    def hear(phone, state):
        """Have a phone sync, and wait until it knows the defect so; the screen may be one that is not drawn anew."""
        phone.page.evaluate("dispatchEvent(new Event('online'))")
        phone.wait_until(
            lambda: any(
                each["state"] == state
                for unit in phone.stored("units")
                for each in unit["defects"]
                if each["id"] == defect["id"]
            ),
            f"it does not hear that it is {state}",
        )
        expect(phone.page.locator(".standing")).not_to_contain_text("Syncing")  # it has read what its disk holds

    for phone in (one, three):
        hear(phone, "open")
        phone.open(at % "repair")
        phone.tap("15", exact=True)
    three.tap(re.compile("^Save: repair done"))
    three.expect_recorded("repair_done")
    three.expect_all_sent()
    hear(two, "repaired")
    two.open(at % "recheck")
    two.tap("Looked again: accepted")
    two.expect_recorded("recheck_accepted")
    two.expect_all_sent()

    hear(one, "closed")
    one.tap(re.compile("^Save: repair done"))

    expect(one.page.get_by_role("main")).to_contain_text("No repair is due any more: Accepted on re-check.")
    assert not [row for row in one.stored("operations") if row["kind"] == "repair_done"]
    one.open(at % "recheck")
    expect(one.page.get_by_role("button", name="Failed")).to_be_visible()  # who looks and finds it wrong says so

    two.open(at % "recheck")
    one.tap("Failed")
    one.page.get_by_label("What is still wrong").fill("still proud at the edge")
    one.page.get_by_label("What is still wrong").blur()
    one.tap(re.compile("^Save: failed re-check"))
    one.expect_recorded("recheck_failed")
    one.expect_all_sent()
    hear(two, "open")
    two.tap("Looked again: accepted")

    expect(two.page.get_by_role("main")).to_contain_text("No re-check is due: Open.")
    assert len([row for row in two.stored("operations") if row["kind"] == "recheck_accepted"]) == 1


def test_two_corrections_of_one_field_are_both_told(new_phone, server):
    one, two = new_phone(), new_phone()
    one.open_first()
    one.sign_in("Inspector One")
    one.begin(UNIT)
    one.record(re.compile("^Front panel"), "Panel ripple")
    one.sync()
    one.expect_all_sent()
    two.open_first()
    two.sign_in("Inspector Two")
    server.stop()
    for phone, note in ((one, "left of the window"), (two, "right of the window")):
        open_unit(phone)
        phone.tap(re.compile("Panel ripple"), "link")
        phone.tap("Correct", "link")
        phone.page.get_by_label("Note").fill(note)
        phone.tap("Note completed")
        phone.tap("Save the correction")
        phone.expect_status("Saved on phone: correction")
    two.hold_back()
    server.start()
    for phone in (one, two, one):
        phone.let_go()
        phone.sync()
        phone.expect_all_sent()

    open_unit(one)
    one.tap(re.compile("Panel ripple"), "link")

    expect(one.page.get_by_role("main")).to_contain_text("right of the window")
    expect(one.page.get_by_role("main")).to_contain_text(re.compile("Also changed by I[12]"))
