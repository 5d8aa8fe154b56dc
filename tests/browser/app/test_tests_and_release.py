"""At the test bay values are recorded, not ticks; a release is signed under exactly the list on the screen."""

import re

import pytest
from playwright.sync_api import expect

from qc.web.house import open_house
from tests.browser.plant_server import PASSPHRASE, PEOPLE, PIN, record

pytestmark = pytest.mark.browser

READY = "PC7130014"
WHO = {person.code: person for person in PEOPLE}


def within(test) -> float:
    """A value inside a test's limits."""
    if test.lower is None:
        return test.upper / 2
    return test.lower if test.upper is None else (test.lower + test.upper) / 2


def make_ready(house) -> None:
    """Let everything that a release needs be done to one unit: tests passed, zones looked at, inspections ended."""
    (unit,) = house.reads.find_units(READY)
    chassis, model = unit.chassis, unit.model
    for point, person in (("T01", "TB1"), ("T02", "TB1"), ("D01", "I2")):
        begun = ("inspection_begun", {"point": point, "purpose": "presentation", "light": "bright"})
        (inspection,) = record(house, WHO[person], chassis, [begun])
        acts = [
            ("test_recorded", {"test": test.id, "instrument": "M-1", "inspection": inspection, **result(test)})
            for test in house.plant.tests_of(model, point)
        ]
        if point == "D01":
            zones = [zone.key for zone in house.plant.zones_of(model)]
            acts.append(("zone_looked_at", {"inspection": inspection, "zones": zones}))
            acts += [
                ("test_recorded", {"test": test.id, "instrument": "M-1", **result(test)})
                for test in house.plant.tests_of(model, "S12")
            ]
        record(house, WHO[person], chassis, [*acts, ("inspection_ended", {"inspection": inspection})])


def result(test) -> dict:
    return {"value": within(test)} if test.kind == "measure" else {"passed": True}


@pytest.fixture
def server(filled_folder, opened_once, certificate, tmp_path):
    """A running server that holds one unit with nothing between it and its release."""
    served = opened_once(filled_folder, signed_in=False).again(tmp_path, certificate)
    house = open_house(served.folder)
    try:
        make_ready(house)
    finally:
        house.close()
    served.start()
    yield served
    served.stop()


def open_release(phone) -> None:
    phone.open("#/find")
    for figure in READY[-5:]:
        phone.tap(figure, exact=True)
    phone.tap("Yes, this unit", "link")
    phone.tap("Prepare release", "link")


def sign(phone) -> None:
    phone.tap("I have read this list: sign")
    phone.page.get_by_label("Your PIN, to sign").fill(PIN)
    phone.tap("Sign: release this unit")


def test_a_unit_with_nothing_open_is_released_by_whom_against_what(phone):
    phone.sign_in()
    open_release(phone)
    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("Not released")
    expect(main).to_contain_text("What blocks it: 0")

    sign(phone)

    expect(main).to_contain_text("Released by I1, against the release rule and checks of plant revision")
    assert "safe" not in main.inner_text().lower()


def test_a_manager_signs_with_a_passphrase_on_a_keyboard_with_letters(phone):
    phone.sign_in("Manager One", PASSPHRASE)
    open_release(phone)
    phone.tap("I have read this list: sign")
    field = phone.page.get_by_label("Your passphrase, to sign")
    expect(field).to_have_attribute("inputmode", "text")
    field.fill(PASSPHRASE)
    phone.tap("Sign: release this unit")

    expect(phone.page.get_by_role("main")).to_contain_text("Released by QM1")


def test_a_wrong_pin_signs_nothing(phone):
    phone.sign_in()
    open_release(phone)
    phone.tap("I have read this list: sign")
    phone.page.get_by_label("Your PIN, to sign").fill("111222")
    phone.tap("Sign: release this unit")

    phone.expect_status("Not signed")
    assert phone.stored("operations") == []


def test_news_from_the_server_takes_nothing_out_of_a_half_typed_pin(new_phone):
    one, two = new_phone(), new_phone()
    for phone, name in ((one, "Inspector One"), (two, "Inspector Two")):
        phone.open_first()
        phone.sign_in(name)
    open_release(one)
    one.expect_all_sent()
    one.tap("I have read this list: sign")
    field = one.page.get_by_label("Your PIN, to sign")
    field.press_sequentially(PIN[:3])
    record = re.compile(r"as of its record (\d+)")
    main = one.page.get_by_role("main")
    before = record.search(main.inner_text())
    two.open("#/units")
    two.tap(re.compile(READY), "link")
    two.tap("Tell where it stands", "link")
    two.page.get_by_label("Another place").fill("Bay 4")
    two.tap("Save where it stands")
    two.expect_recorded("unit_moved")
    two.expect_all_sent()

    one.page.evaluate("dispatchEvent(new Event('online'))")
    expect(main).not_to_contain_text(before[0])
    expect(field).to_be_focused()
    one.page.keyboard.type(PIN[3:])
    one.tap("Sign: release this unit")

    expect(main).to_contain_text("Released by I1")


def test_a_signature_is_not_taken_when_something_arrived_that_the_signer_had_not_seen(new_phone):
    one, two = new_phone(), new_phone()
    for phone, name in ((one, "Inspector One"), (two, "Inspector Two")):
        phone.open_first()
        phone.sign_in(name)
    open_release(one)
    one.page.route("**/api/v1/pull*", lambda route: route.abort())  # the first phone hears nothing more
    two.open("#/units")
    two.tap(re.compile(READY), "link")
    two.tap("Start inspection", "link")
    two.tap("Overcast")
    two.tap("Presentation", exact=True)  # it was presented here before: what for is asked
    two.tap(re.compile("begin$"))
    two.record(re.compile("^Front panel"), "Trim loose")
    two.sync()
    two.expect_all_sent()

    sign(one)

    expect(one.page.get_by_role("main")).to_contain_text("The last signature was not taken")
    expect(one.page.get_by_role("main")).to_contain_text("Not released")


def test_without_signal_a_release_is_prepared_and_cannot_be_signed(phone, server):
    phone.sign_in()
    server.stop()
    phone.sync()
    expect(phone.page.locator(".standing")).to_contain_text("No server")
    open_release(phone)

    expect(phone.page.get_by_role("contentinfo")).to_contain_text("Prepared. Signing needs the server")


def test_a_tester_records_values_and_a_blank_stays_not_tested(phone, server):
    phone.sign_in("Tester One")
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap("Start inspection", "link")
    phone.tap("Dark, with lamps")
    phone.tap(re.compile("begin$"))
    expect(phone.heading(re.compile("^Tests"))).to_be_visible()
    expect(phone.page.get_by_role("link", name=re.compile("^E1 "))).to_contain_text("Not tested")
    phone.tap(re.compile("^E1 "), "link")
    main = phone.page.get_by_role("main")
    for words in (
        "Limit: 13.4 to 14.6 V",
        "Source: EN 1648-1",
        "plant setting",
        "Plant revision",
        "Demo limit, not for use",
    ):
        expect(main).to_contain_text(words)

    phone.page.get_by_label("Instrument number").fill("DVM-3")
    phone.tap("Save the value")
    phone.expect_status("A blank stays not tested")
    phone.page.get_by_label("Value as read, in V").fill("14,1")
    phone.tap("Save the value")
    phone.expect_status("E1 passed, 14.1 V")
    phone.tap(re.compile("^M3 "), "link")
    phone.page.get_by_label("Instrument number").fill("MFT-1")
    phone.tap(re.compile("Passed"))
    phone.expect_status("M3 passed")
    phone.sync()
    phone.expect_all_sent()

    bodies = [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == "test_recorded"]
    assert [(body["test"], body.get("value"), body["passed"]) for body in bodies] == [
        ("E1", 14.1, True),
        ("M3", None, True),
    ]
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}


def test_a_failed_gas_test_stops_the_unit_and_leads_to_its_defect(phone):
    phone.sign_in("Tester One")
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap("Start inspection", "link")
    phone.tap("Dark, with lamps")
    phone.tap(re.compile("begin$"))
    phone.tap(re.compile("^G1 "), "link")
    phone.page.get_by_label("Value as read").fill("11")
    phone.page.get_by_label("Instrument number").fill("MAN-1")
    phone.tap("Save the value")

    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("Stop the unit where it stands. Isolate, tag, tell the lead.")
    expect(main).to_contain_text("Gas work only by a licensed fitter")
    phone.tap(re.compile("^Gas locker"))
    expect(phone.heading("Gas soundness test failed")).to_be_visible()
    phone.tap(re.compile("^Save"))
    expect(phone.heading("Stop, tag, tell")).to_be_visible()
    phone.sync()
    phone.expect_all_sent()
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}
