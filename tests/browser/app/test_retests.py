"""At the test bay: a failure stands beside what is measured next, a gas failure is a defect, an odd value is asked."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


def at_the_bay(phone) -> None:
    phone.sign_in("Tester One")
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap("Start inspection", "link")
    phone.tap("Dark, with lamps")
    phone.tap(re.compile("begin$"))
    expect(phone.heading(re.compile("^Tests"))).to_be_visible()


def enter(phone, test: str, value: str) -> None:
    if not phone.heading(re.compile(f"^{test} ")).is_visible():
        phone.tap(re.compile(f"^{test} "), "link")
    phone.page.get_by_label("Value as read").fill(value)
    phone.page.get_by_label("Instrument number").fill("IN-1")
    phone.tap("Save the value")


def to_the_tests(phone) -> None:
    phone.tap("Tests", "link", exact=True)
    expect(phone.heading(re.compile("^Tests"))).to_be_visible()


def bodies(phone, kind: str = "test_recorded") -> list[dict]:
    return [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == kind]


def test_a_failed_test_asks_why_it_is_done_again_and_shows_both_values(phone):
    at_the_bay(phone)
    enter(phone, "W1", "0.4")
    phone.expect_status("W1 failed, 0.4 bar")
    to_the_tests(phone)

    enter(phone, "W1", "0.05")
    phone.expect_status("Choose why the failed test was done again")
    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("Values so far: 1")
    expect(main).to_contain_text("Failed, 0.4 bar by TB1")
    phone.tap("Other instrument")
    phone.tap("Save the value")

    phone.expect_status("W1 passed, 0.05 bar")
    expect(phone.page.get_by_role("link", name=re.compile("^W1 "))).to_contain_text("Passed: 0.05 bar (2 values)")
    phone.sync()
    phone.expect_all_sent()
    assert [(body["value"], body.get("again")) for body in bodies(phone)] == [(0.4, None), (0.05, "instrument")]
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}


def test_a_gas_failure_leaves_no_way_to_a_further_value_before_its_defect_is_recorded(phone):
    at_the_bay(phone)
    enter(phone, "G1", "12")
    expect(phone.page.get_by_text("Stop the unit where it stands")).to_be_in_viewport()
    to_the_tests(phone)
    expect(phone.page.get_by_role("link", name=re.compile("^G1 "))).to_contain_text("Its defect is not recorded")

    phone.tap(re.compile("^G1 "), "link")
    expect(phone.heading("G1 failed")).to_be_visible()
    expect(phone.page.get_by_label("Value as read")).to_have_count(0)
    phone.tap(re.compile("^Gas locker"))
    phone.tap(re.compile("^Save"))
    expect(phone.heading("Stop, tag, tell")).to_be_visible()
    phone.sync()
    phone.expect_all_sent()

    (defect,) = bodies(phone, "defect_recorded")
    (result,) = [row["id"] for row in phone.stored("operations") if row["kind"] == "test_recorded"]
    assert defect["result"] == result
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}
    phone.page.go_back()


@pytest.mark.parametrize("typed", ["-5", "999999999"])
def test_a_value_that_cannot_be_is_asked_about(phone, typed):
    at_the_bay(phone)
    enter(phone, "G1", typed)

    expect(phone.heading("Is that right?")).to_be_visible()
    assert bodies(phone) == []
    phone.tap("Enter it again")
    phone.page.get_by_label("Value as read").fill("1.2")
    phone.tap("Save the value")
    phone.expect_status("G1 passed, 1.2 mbar")


def test_an_odd_value_that_is_right_is_kept_as_confirmed(phone):
    at_the_bay(phone)
    enter(phone, "W1", "3.5")
    phone.tap("It is right: save it as read")
    phone.expect_status("W1 failed, 3.5 bar")
    phone.sync()
    phone.expect_all_sent()

    assert [(body["value"], body["confirmed"]) for body in bodies(phone)] == [(3.5, True)]
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}


def test_more_than_the_instrument_shows_is_kept_as_such(phone):
    at_the_bay(phone)
    phone.tap(re.compile("^M2 "), "link")
    phone.page.get_by_label("Value as read").fill("200")
    phone.page.get_by_label("Instrument number").fill("MFT-1")
    phone.tap(re.compile("^> More than"))
    phone.tap("Save the value")
    phone.expect_status("M2 passed, >200 Mohm")
    enter(phone, "G1", ">5")
    phone.expect_status("takes no")
    phone.sync()
    phone.expect_all_sent()

    assert [(body["value"], body["beyond"]) for body in bodies(phone)] == [(200, "above")]
    phone.open("#/units")
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap("Tests", "link", exact=True)
    expect(phone.page.get_by_role("link", name=re.compile("^M2 "))).to_contain_text("Passed: >200 Mohm")


def test_a_slip_is_taken_back_and_stays_beside_the_right_value(phone):
    at_the_bay(phone)
    enter(phone, "W1", "0.5")
    phone.tap(re.compile("^Take this value back"))
    phone.tap("Typed wrong")
    phone.tap("Take it back")
    phone.expect_status("Saved on phone: value taken back. It waits for the server's word")
    enter(phone, "W1", "0.05")
    phone.expect_status("W1 passed, 0.05 bar")
    phone.tap(re.compile("^W1 "), "link")

    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("Values so far: 2")
    expect(main).to_contain_text("Taken back, 0.5 bar by TB1")
    phone.sync()
    phone.expect_all_sent()
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}
