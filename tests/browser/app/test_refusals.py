"""What the server would refuse is not offered; what it refused all the same is told where the work is."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


def a_critical(phone) -> None:
    phone.zone(re.compile("^Gas locker"))
    phone.tap(re.compile("^Gas locker vent"))
    phone.tap(re.compile("^Save"))


@pytest.mark.signed_in
def test_a_critical_can_be_neither_undone_nor_withdrawn_by_an_inspector(phone):
    phone.begin("PC7130001")
    a_critical(phone)

    expect(phone.page.get_by_role("status")).to_contain_text("Only the quality manager withdraws a critical")
    expect(phone.page.get_by_role("button", name="Undo")).to_have_count(0)
    phone.open("#/units")
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap(re.compile("Gas locker vent"), "link")
    expect(phone.page.get_by_role("main")).to_contain_text("Only the quality manager withdraws a critical")
    expect(phone.page.get_by_role("link", name="Withdraw")).to_have_count(0)


@pytest.mark.signed_in
def test_a_correction_to_a_critical_type_is_critical_and_takes_the_stop_steps(phone):
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Panel ripple")
    phone.open("#/units")
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap(re.compile("Panel ripple"), "link")
    phone.tap("Correct", "link")
    types = phone.stored("plant")[0]["value"]["types"]
    critical = next(one["code"] for one in types if one["severity"] == "critical" and not one["models"])
    phone.page.get_by_label("Type").select_option(critical)
    expect(phone.page.get_by_role("main")).to_contain_text("This type is critical")
    phone.tap("Wrong type picked")
    phone.tap("Save the correction")

    expect(phone.heading("Stop, tag, tell")).to_be_visible()
    changed = [row["op"]["body"]["changes"] for row in phone.stored("operations") if row["kind"] == "defect_corrected"]
    assert changed == [{"type": critical, "severity": "critical"}]
    phone.sync()
    phone.expect_all_sent()
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}


def test_a_role_that_begins_no_inspection_is_offered_none(phone):
    phone.sign_in("Planner One")
    phone.tap(re.compile("PC7130001"), "link")

    expect(phone.page.get_by_role("contentinfo")).to_contain_text("As planner you read here")
    expect(phone.page.get_by_role("link", name="Start inspection")).to_have_count(0)
    phone.open(f"#{phone.page.url.partition('#')[2]}/begin")
    expect(phone.page.get_by_role("main")).to_contain_text("Your role begins no inspection here")


def test_a_refusal_stands_in_the_head_on_the_unit_and_at_the_entry_until_it_is_sent_right(new_phone, server):
    one, two = new_phone(), new_phone()
    one.open_first()
    one.sign_in("Inspector One")
    one.begin("PC7130001")
    one.record(re.compile("^Front panel"), "Panel ripple")
    one.sync()
    one.expect_all_sent()
    two.open_first()
    two.sign_in("Inspector Two")
    server.stop()
    correct(one, "Critical")
    correct(two, "Major")
    two.hold_back()
    server.start()
    one.sync()
    one.expect_all_sent()
    two.let_go()
    two.sync()
    two.expect_all_sent(refused=1)

    expect(two.page.locator(".standing")).not_to_contain_text("All sent")
    two.open("#/units")
    expect(two.page.get_by_role("link", name=re.compile("PC7130001"))).to_contain_text("Refused, see why: 1")
    two.tap(re.compile("PC7130001"), "link")
    expect(two.page.get_by_role("region", name="Refused")).to_contain_text("only the quality manager lowers a critical")
    two.tap(re.compile("Panel ripple"), "link")
    expect(two.page.get_by_role("region", name="Refused")).to_contain_text("Ask the quality manager")
    two.tap("Correct again", "link")
    two.page.get_by_label("Note").fill("long edge")
    two.page.get_by_label("Note").blur()
    two.tap("Note completed")
    two.tap("Save the correction")
    two.expect_status("Saved on phone: correction")
    two.sync()
    two.expect_all_sent()


def correct(phone, severity: str) -> None:
    phone.open("#/units")
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap(re.compile("Panel ripple"), "link")
    phone.tap("Correct", "link")
    phone.tap(severity)
    phone.tap("Severity seen better")
    phone.tap("Save the correction")
    phone.expect_status("Saved on phone: correction")
