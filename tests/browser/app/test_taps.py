"""A defect with a photo costs at most six taps from the unit's drawing and no typing, the camera's own two included."""

import re
import time

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

MOST = 6
CAMERA = 2  # its shutter, and "use this photo"
PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de"
    "0000000c49444154789c63f8cfc0000003010100c9fe92ef0000000049454e44ae426082"
)
PICTURE = {"name": "camera.png", "mimeType": "image/png", "buffer": PNG}


@pytest.mark.signed_in
def test_a_defect_with_photo_costs_at_most_six_taps(phone):
    phone.begin("PC7130001")
    phone.taps = 0

    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel hollow"))
    with phone.page.expect_file_chooser() as chooser:
        phone.page.locator("label", has_text="Far photo").tap()
    phone.taps += 1 + CAMERA
    chooser.value.set_files(PICTURE)
    phone.expect_status("Saved on phone: far photo")
    phone.tap("Save", exact=True)
    phone.expect_status("Saved on phone: Panel hollow")

    assert phone.taps <= MOST
    expect(phone.heading(re.compile("Front$"))).to_be_visible()


@pytest.mark.signed_in
def test_the_same_defect_again_in_another_zone_costs_three_taps(phone):
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Trim loose")
    phone.taps = 0

    phone.tap("Same again")
    expect(phone.page.get_by_role("complementary")).to_contain_text("Touch: same again, Trim loose or lifting")
    phone.zone(re.compile("^Front window"))
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone: Trim loose")

    assert phone.taps == 3


@pytest.mark.signed_in
def test_a_clean_zone_costs_one_tap_in_the_list_and_on_the_drawing(phone):
    phone.begin("PC7130001")
    phone.taps = 0
    phone.tap("Drawbar, coupling, jockey wheel looked at")
    phone.expect_status("Drawbar, coupling, jockey wheel looked at")
    assert phone.taps == 1
    expect(phone.page.locator("[data-next]")).to_have_attribute("data-zone", "front.plate")

    phone.tap("Views", "link")
    phone.tap("List", exact=True)
    phone.taps = 0
    phone.tap("Gas locker looked at")
    phone.expect_status("Gas locker looked at")
    assert phone.taps == 1

    phone.tap("Undo")
    phone.expect_status("Saved on phone: marked as not looked at")
    expect(phone.page.get_by_role("button", name=re.compile("^Gas locker not looked at"))).to_be_visible()


@pytest.mark.signed_in
def test_undo_after_saving_withdraws_and_the_record_keeps_both(phone):
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Trim loose")

    phone.tap("Undo")
    phone.expect_status("withdrawn. It waits for the server's word")

    assert [row["kind"] for row in phone.stored("operations")][-2:] == ["defect_recorded", "defect_withdrawn"]
    phone.sync()
    phone.expect_all_sent()
    phone.open("#/units")
    phone.tap(re.compile("PC7130001"), "link")
    expect(phone.page.get_by_role("main")).to_contain_text("Open list: 0")


@pytest.mark.signed_in
def test_a_real_double_tap_on_save_touches_nothing_that_comes_under_the_finger(phone):
    phone.begin("PC7130001")
    keys = {each["words"]: each for each in phone.page.evaluate(BOXES, "footer [data-act], main [data-act]")}
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    expect(phone.heading("Panel ripple or print-through")).to_be_visible()
    (save,) = [each for each in phone.page.evaluate(BOXES, "[data-act]") if each["words"].startswith("Save")]
    under, place = next((words, common(save, box)) for words, box in keys.items() if common(save, box))

    devtools = phone.context.new_cdp_session(phone.page)
    now = time.time()
    touch_at(devtools, place, now)
    expect(phone.heading(re.compile("Front$"))).to_be_visible()
    pressed = phone.page.evaluate(PRESSED)
    touch_at(devtools, place, now + 0.4)

    phone.page.wait_for_timeout(300)  # for what must not come
    expect(phone.heading(re.compile("Front$"))).to_be_visible()
    assert phone.page.evaluate(PRESSED) == pressed, under
    assert [row["kind"] for row in phone.stored("operations")] == ["inspection_begun", "defect_recorded"], under


def touch_at(devtools, place, when) -> None:
    """Touch a place at a told time, in s since 1970: how long the screen took to come is not in the gap of two taps."""
    where = {"x": place[0], "y": place[1]}
    for type_, points in (("touchStart", [where]), ("touchEnd", [])):
        devtools.send("Input.dispatchTouchEvent", {"type": type_, "touchPoints": points, "timestamp": when})


BOXES = """(which) => {
  const shown = [...document.querySelectorAll(which)].filter((each) => each.getClientRects().length);
  return shown.map((each) => {
    const { left, top, right, bottom } = each.getBoundingClientRect();
    return { words: each.textContent.trim() || each.getAttribute("aria-label"), left, top, right, bottom };
  });
}"""
PRESSED = "() => [...document.querySelectorAll('[aria-pressed=true]')].map((each) => each.textContent.trim())"


def common(one, other):
    """Return a place that lies well inside both boxes, or None."""
    left, right = max(one["left"], other["left"]), min(one["right"], other["right"])
    top, bottom = max(one["top"], other["top"]), min(one["bottom"], other["bottom"])
    return ((left + right) / 2, (top + bottom) / 2) if right - left > 8 and bottom - top > 8 else None


@pytest.mark.signed_in
def test_no_camera_in_a_gas_zone_before_somebody_smelled(phone):
    phone.begin("PC7130001")
    phone.zone(re.compile("^Gas locker"))
    phone.tap(re.compile("^Gas locker vent"))
    expect(phone.heading("Gas locker vent blocked")).to_be_visible()
    assert phone.page.locator("input[type=file]").count() == 0

    phone.tap("I smell no gas here: allow photos")

    expect(phone.page.locator("input[type=file]")).to_have_count(2)


@pytest.mark.signed_in
def test_a_critical_finding_makes_one_clear_step_without_signal(phone, server):
    phone.begin("PC7130001")
    server.stop()
    phone.zone(re.compile("^Gas locker"))
    phone.tap(re.compile("^Gas locker vent"))
    phone.tap(re.compile("^Save"))

    expect(phone.heading("Stop, tag, tell")).to_be_visible()
    main = phone.page.get_by_role("main")
    for words in ("Stop", "Tag", "Tell", "Move away from the unit before you use a phone", "Follow your site's rules"):
        expect(main).to_contain_text(words)


@pytest.mark.signed_in
def test_a_critical_is_not_lowered_by_an_inspector_and_a_minor_is_raised_freely(phone):
    phone.begin("PC7130001")
    phone.zone(re.compile("^Gas locker"))
    phone.tap(re.compile("^Gas locker vent"))
    expect(phone.page.get_by_role("main")).to_contain_text("Only the quality manager lowers a critical")
    expect(phone.page.get_by_role("button", name="Minor")).to_have_count(0)
    phone.tap("Do not record")
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    phone.tap("Major")
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone")
    phone.zone(re.compile("^Front cap"))
    phone.tap(re.compile("^Panel hollow"))
    phone.tap("Minor")
    phone.tap(re.compile("^Save"))
    phone.expect_status("Choose why it is lower than usual")
    phone.tap("Hidden in use")
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone")

    bodies = [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == "defect_recorded"]
    assert [(body["type"], body["severity"], body.get("severity_reason")) for body in bodies] == [
        ("PAN-02", "major", None),
        ("PAN-01", "minor", "Hidden in use"),
    ]


@pytest.mark.signed_in
def test_what_is_not_on_the_list_takes_the_nearest_type_and_a_note(phone):
    phone.begin("PC7130001")
    phone.zone(re.compile("^Front panel"))
    phone.tap("Search all types", "link")
    phone.page.get_by_label("Say it in plain words").fill("scuff")
    phone.tap("Not on the list")
    phone.page.get_by_label("Say it in plain words").fill("scuff")
    phone.tap(re.compile("^Panel scratch"))
    phone.tap(re.compile("^Save"))
    phone.expect_status("Write what it is")
    phone.page.get_by_label("What it is").fill("Boot print in the gel coat")
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone")

    (body,) = [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == "defect_recorded"]
    assert (body["type"], body["note"]) == ("PAN-03", "Not on the list: Boot print in the gel coat")
