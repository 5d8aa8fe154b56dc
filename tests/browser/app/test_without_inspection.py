"""Who has no inspection open records a finding where they stand, and never meets a dead end after their own save."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

DEAD_END = re.compile("not on this phone|paper sheet")


def record_only(phone) -> None:
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap("A defect only", "link")
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    expect(phone.page.get_by_role("button", name=re.compile("^Save"))).to_be_visible()


@pytest.mark.parametrize(("name", "point"), [("Tester One", "T01"), ("Repairer One", "R01")])
def test_a_finding_without_an_inspection_stands_at_the_finders_own_place(phone, name, point):
    phone.sign_in(name)
    record_only(phone)
    expect(phone.page.get_by_label("Found at")).to_have_value(point)
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone: Panel ripple")

    expect(phone.page.get_by_role("main")).not_to_contain_text(DEAD_END)
    expect(phone.heading(re.compile("Front$"))).to_be_visible()
    phone.page.go_back()
    expect(phone.page.get_by_role("main")).not_to_contain_text(DEAD_END)
    (recorded,) = [row["op"]["body"] for row in phone.stored("operations")]
    assert recorded["point"] == point
    phone.sync()
    phone.expect_all_sent()
    assert [row["verdict"] for row in phone.stored("verdicts")] == ["applied"]


def test_an_open_draft_is_one_tap_away_and_only_its_person_saves_it(phone):
    phone.sign_in("Repairer One")
    record_only(phone)
    for screen in ("#/units", "#/outbox", "#/settings", "#/find", "#/menu"):
        phone.open(screen)
        expect(phone.page.get_by_role("banner").get_by_role("link", name=re.compile("Not saved yet"))).to_be_visible()
        expect(phone.page.get_by_role("banner").get_by_role("link", name="Menu")).to_be_visible()
        expect(phone.page.get_by_role("banner").get_by_role("link", name=re.compile("^Outbox"))).to_be_visible()
    phone.lock()
    phone.sign_in("Inspector One")
    phone.tap(re.compile("Not saved yet: RW1's"), "link")

    expect(phone.page.get_by_role("main")).to_contain_text("RW1 began this and has not saved it")
    expect(phone.page.get_by_role("button", name=re.compile("^Save"))).to_have_count(0)
    assert phone.stored("drafts")[0]["person"] == "RW1"


@pytest.mark.signed_in
def test_the_address_of_a_saved_draft_leads_back_to_its_unit(phone):
    phone.begin("PC7130001")
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    expect(phone.page.get_by_role("button", name=re.compile("^Save"))).to_be_visible()
    address = phone.page.url.partition("#")[2]
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone")
    phone.open(f"#{address}")

    expect(phone.page.get_by_role("main")).to_contain_text("saved or dropped")
    expect(phone.page.get_by_role("main")).not_to_contain_text(DEAD_END)
    phone.tap(re.compile("^Unit PC7130001"), "link")
    expect(phone.page.get_by_role("main")).to_contain_text("Open list: 1")


@pytest.mark.signed_in
def test_a_zone_looked_at_again_is_no_presentation(phone):
    phone.begin("PC7130001")
    phone.rest()
    phone.end()
    phone.tap(re.compile("^End with"))
    phone.tap("Start inspection", "link")
    phone.tap("Overcast")
    phone.tap("Choose what for")
    phone.expect_status("only a whole look is a presentation")
    phone.tap("Single zones again")
    phone.tap(re.compile("begin$"))
    phone.zone(re.compile("^Front panel"))
    phone.tap("Looked at, clean")
    phone.tap("Views", "link")
    expect(phone.page.get_by_role("link", name="End", exact=True)).to_be_visible()  # the rest would be beside it
    expect(phone.page.get_by_role("link", name=re.compile("^Rest"))).to_have_count(0)
    phone.tap("Back", "link")
    phone.end()
    phone.tap("End inspection")
    phone.expect_recorded("inspection_ended", 2)
    phone.sync()
    phone.expect_all_sent()

    (unit,) = [row for row in phone.stored("units") if row["shop_number"] == "PC7130001"]
    looks = [(look["purpose"], look["presentation"]) for look in unit["inspections"]]
    assert looks == [("presentation", 1), ("zones", 0)]


@pytest.mark.signed_in
def test_sign_out_asks_and_says_what_it_means_without_signal(phone, server):
    phone.begin("PC7130001")
    phone.expect_all_sent()
    server.stop()
    phone.record(re.compile("^Front panel"), "Trim loose")
    phone.open("#/settings")
    phone.tap("Sign out")
    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("1 record not sent")
    expect(main).to_contain_text("I1 cannot come back before there is signal")
    phone.tap("Stay signed in")
    expect(phone.heading("Settings")).to_be_visible()
    phone.tap("Sign out")
    phone.tap("Sign I1 out")

    expect(phone.heading("Who are you?")).to_be_visible()
    assert len(phone.stored("operations")) == 2
