"""Everyday matters: two tabs, a scan, a touch's place, an old outbox, a number misread."""

import re
from dataclasses import replace

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


@pytest.mark.signed_in
def test_two_tabs_of_one_phone_share_one_row_of_numbers(phone, server):
    phone.begin("PC7130001")
    server.stop()
    second = replace(phone, page=phone.context.new_page())
    second.listen()
    # A slow browser without signal: its word about the service worker does not come, and nobody waits for it.
    second.page.add_init_script("navigator.serviceWorker.register = () => new Promise(() => {})")
    second.page.goto(phone.page.url)
    for each in (phone, second, phone, second):
        each.record(re.compile("^Front panel"), "Trim loose")

    assert [row["seq"] for row in phone.stored("operations")] == [1, 2, 3, 4, 5]
    server.start()
    second.sync()
    second.expect_all_sent()
    phone.open("#/units")
    expect(phone.page.locator(".standing")).to_contain_text("All sent")
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}
    assert second.errors == []


@pytest.mark.signed_in
def test_the_place_of_a_touch_on_the_drawing_is_kept_in_millimetres(phone):
    phone.begin("PC7130001")
    phone.record(re.compile("^Front window"), "Hatch or window catch")

    (body,) = [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == "defect_recorded"]
    zone = {"x": (650, 1650), "y": (1400, 2100)}  # the front window of the invented plant's table
    x, y = body["mark"]
    assert zone["x"][0] <= x <= zone["x"][1]
    assert zone["y"][0] <= y <= zone["y"][1]


def test_unsent_for_over_two_hours_is_warned_of(phone, server):
    phone.page.clock.install()
    phone.page.reload()
    phone.sign_in()
    phone.begin("PC7130001")
    phone.expect_all_sent()
    server.stop()
    phone.record(re.compile("^Front panel"), "Trim loose")
    banner = phone.page.get_by_role("banner")
    expect(banner).not_to_contain_text("over two hours")

    phone.page.clock.fast_forward("02:01:00")

    expect(banner).to_contain_text("Unsent for over two hours")
    expect(banner).to_contain_text("1 record not sent, 2 h 01 min")


@pytest.mark.signed_in
def test_letters_that_no_chassis_number_holds_are_read_as_figures_and_told(phone):
    phone.tap("Find a unit", "link")
    phone.tap("Letters")
    phone.page.get_by_label("Last 5 or 6 characters").fill("3OOI4")
    phone.tap("Find", exact=True)

    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("O read as 0, I read as 1")
    expect(main).to_contain_text("PC7130014")
    expect(main).to_contain_text("Tarrow 36")
    expect(main).to_contain_text("awning")


@pytest.mark.signed_in
def test_a_number_that_no_unit_has_offers_the_nearest_known(phone):
    phone.tap("Find a unit", "link")
    for figure in "30041":
        phone.tap(figure, exact=True)
    phone.tap("Find", exact=True)

    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("No unit on this phone ends with 30041")
    expect(main).to_contain_text("Read the metal again")
    expect(main).to_contain_text("PC7130014")


def test_a_scanned_plate_finds_its_unit_where_the_browser_can_read_codes(phone):
    phone.page.add_init_script(
        "window.BarcodeDetector = class { async detect() { return [{rawValue: '0PC7H6200TW030003'}]; } };"
    )
    phone.page.reload()
    phone.sign_in()
    phone.tap("Find a unit", "link")
    png = bytes.fromhex(
        "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de"
        "0000000c49444154789c63f8cfc0000003010100c9fe92ef0000000049454e44ae426082"
    )
    phone.page.locator("input[data-file=scan]").set_input_files(
        {"name": "plate.png", "mimeType": "image/png", "buffer": png}
    )

    expect(phone.page.get_by_role("main")).to_contain_text("PC7330003")
    phone.tap("Yes, this unit", "link")
    expect(phone.heading("Unit PC7330003")).to_be_visible()


@pytest.mark.signed_in
def test_zones_not_looked_at_keep_their_reason_and_the_end_says_how_many(phone):
    phone.begin("PC7130001")
    phone.end()
    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("0 of 58 zones looked at")
    roof = phone.page.get_by_role("region", name=re.compile("^Roof"))
    phone.touch(roof.get_by_role("button", name="Not looked at"))
    phone.tap("No safe access")
    phone.expect_status("zones not looked at, no safe access")
    expect(main).to_contain_text("They block the release")
    phone.tap(re.compile("^End with"))
    phone.expect_status("inspection at D01 Daylight bay (final inspection) ended")
    phone.sync()
    phone.expect_all_sent()

    bodies = [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == "zone_not_looked_at"]
    assert {body["reason"] for body in bodies} == {"no_safe_access"}
    assert {body["zone"].split(".")[0] for body in bodies} == {"roof"}
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}


def test_a_sign_in_on_the_units_own_address_shows_the_units(phone):
    phone.open("#/units")
    phone.sign_in()

    expect(phone.heading("Units in work")).to_be_visible()


@pytest.mark.signed_in
def test_a_save_that_ends_after_the_person_went_elsewhere_does_not_pull_them_back(phone):
    phone.begin("PC7130001")
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    expect(phone.heading("Panel ripple or print-through")).to_be_visible()

    phone.page.evaluate("""() => {
      [...document.querySelectorAll("footer button")].find(each => each.textContent.startsWith("Save")).click();
      location.hash = "#/outbox";
    }""")
    phone.expect_recorded("defect_recorded")
    phone.expect_all_sent()

    expect(phone.heading("Outbox")).to_be_visible()
    assert [row["kind"] for row in phone.stored("operations")].count("defect_recorded") == 1
