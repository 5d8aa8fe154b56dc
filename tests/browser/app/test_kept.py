"""What was typed is kept as it is typed; a photo that cannot be read is refused at the camera; none tells a place."""

import io
import json
import re
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.browser.app.test_saving import kill

pytestmark = pytest.mark.browser


def picture(exif: bool = True) -> bytes:
    """A photo as a camera gives it, with the place where it was taken."""
    told = Image.Exif()
    told.get_ifd(0x8825).update({1: "N", 2: (53.0, 47.0, 0.0), 3: "W", 4: (1.0, 32.0, 0.0)})
    out = io.BytesIO()
    Image.effect_noise((1200, 900), 60).convert("RGB").save(out, "JPEG", **({"exif": told} if exif else {}))
    return out.getvalue()


def begin_a_defect(phone) -> None:
    phone.begin("PC7130001")
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel hollow"))
    expect(phone.heading("Panel hollow or delaminated")).to_be_visible()


def give(phone, data: bytes, kind: str = "image/jpeg", name: str = "photo.jpg") -> None:
    file = {"name": name, "mimeType": kind, "buffer": data}
    phone.page.locator("input[data-view=far]").set_input_files([file])


def notes(phone) -> list[str]:
    return [draft["note"] for draft in phone.stored("drafts")]


def wait_until_kept(phone, *typed: str) -> None:
    """Wait until a form holds on the disk what was typed, which nobody has saved and no field has been left for."""
    phone.wait_until(lambda: all(words in forms(phone) for words in typed), "what was typed is not kept")


def forms(phone) -> str:
    return json.dumps([row["value"] for row in phone.stored("settings") if row["name"] == "forms"])


@pytest.mark.signed_in
def test_a_note_is_there_after_a_kill_in_the_middle_of_typing(phone, server):
    begin_a_defect(phone)
    server.stop()
    phone.page.get_by_label("Note").press_sequentially("hollow over 20 cm", delay=20)
    phone.wait_until(lambda: notes(phone) == ["hollow over 20 cm"], "what was typed is not kept")
    kill(phone)
    phone.restart()
    phone.open("#/units")
    expect(phone.heading("Units in work")).to_be_visible()

    assert notes(phone) == ["hollow over 20 cm"]


@pytest.mark.parametrize(
    ("make", "kind", "words"),
    [
        (lambda: picture()[: len(picture()) // 2], "image/jpeg", "only a part of the photo arrived"),
        (lambda: b"", "image/jpeg", "the camera gave an empty file"),
        (lambda: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"x" * 4000, "image/heic", "cannot open HEIC pictures"),
        (lambda: b"this is no picture at all", "image/png", "this browser cannot read it"),
    ],
    ids=["half a JPEG", "empty", "HEIC", "no picture"],
)
@pytest.mark.signed_in
def test_a_photo_that_cannot_be_read_is_refused_at_the_camera(phone, make, kind, words):
    begin_a_defect(phone)

    give(phone, make(), kind)

    phone.expect_status(words)
    assert "Saved" not in phone.page.get_by_role("status").inner_text()
    expect(phone.page.get_by_role("main")).to_contain_text(words)
    assert phone.stored("captures") == []
    give(phone, picture())
    phone.expect_status("Saved on phone: far photo")


@pytest.mark.signed_in
def test_a_photo_that_turned_out_unreadable_is_told_not_sent_again_and_removed_with_its_trace(phone, server):
    begin_a_defect(phone)
    give(phone, picture())
    phone.expect_status("Saved on phone: far photo")
    # As an earlier version kept it: the bytes of half a photo under a capture that was called saved.
    phone.page.evaluate("""async () => {
      const db = await new Promise((done) => {
        const r = indexedDB.open("daybay"); r.onsuccess = () => done(r.result);
      });
      const store = () => db.transaction("captures", "readwrite").objectStore("captures");
      const [kept] = await new Promise((done) => { const r = store().getAll(); r.onsuccess = () => done(r.result); });
      await new Promise((done) => {
        const r = store().put({ ...kept, bytes: kept.bytes.slice(0, 9000) }); r.onsuccess = done;
      });
      db.close();
    }""")
    phone.tap("Save", exact=True)
    phone.expect_status("Saved on phone: Panel hollow")
    phone.sync()
    phone.open("#/outbox")

    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("only a part of the photo arrived")
    phone.tap("Remove this photo")
    phone.expect_status("Photo removed")
    phone.sync()
    phone.expect_all_sent()

    assert phone.stored("captures") == []
    assert "photo_withdrawn" in {row["kind"] for row in phone.stored("operations")}
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}


OLDER = {
    "no OffscreenCanvas": "delete globalThis.OffscreenCanvas",
    "no createImageBitmap": "delete globalThis.createImageBitmap; delete globalThis.OffscreenCanvas",
    "no AbortSignal.timeout": "delete AbortSignal.timeout",
}


@pytest.mark.parametrize("without", OLDER)
def test_in_an_older_browser_a_photo_goes_without_its_place(new_phone, server, without):
    phone = new_phone()
    phone.context.add_init_script(OLDER[without])
    phone.open_first()
    phone.sign_in()
    begin_a_defect(phone)
    give(phone, picture())
    phone.expect_status("Saved on phone: far photo")
    phone.tap("Save", exact=True)
    phone.expect_status("Saved on phone: Panel hollow")
    phone.sync()
    phone.expect_all_sent(60_000)

    sent = [path for path in (server.folder / "photos").rglob("*") if path.is_file() and "small" not in path.parts]
    assert len(sent) == 1
    assert b"Exif\0\0" not in sent[0].read_bytes()


@pytest.mark.signed_in
def test_the_exported_file_tells_no_place_either(phone, server):
    begin_a_defect(phone)
    give(phone, picture())
    phone.expect_status("Saved on phone: far photo")
    server.stop()
    phone.tap("Save", exact=True)
    phone.expect_status("Saved on phone: Panel hollow")
    phone.open("#/outbox")
    with phone.page.expect_download() as downloading:
        phone.tap(re.compile("^Export all"))
    file = json.loads(downloading.value.path().read_text())

    import base64

    photos = [base64.b64decode(one["base64"]) for one in (*file["photos"], *file.get("captures", []))]
    assert len(photos) == 1
    assert b"Exif\0\0" not in photos[0]


@pytest.mark.signed_in
def test_a_correction_is_there_after_a_kill_in_the_middle_of_typing(phone, server):
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Panel ripple or print-through")
    defect = next(row["id"] for row in phone.stored("operations") if row["kind"] == "defect_recorded")
    unit = next(row["unit"] for row in phone.stored("operations") if row["kind"] == "defect_recorded")
    address = f"#/unit/{unit}/correct/{defect}"
    phone.open(address)
    expect(phone.heading("Correct")).to_be_visible()
    phone.page.get_by_label("Note").press_sequentially("along the lower edge", delay=20)
    phone.page.get_by_label("Another reason").press_sequentially("seen again", delay=20)
    wait_until_kept(phone, "along the lower edge", "seen again")
    kill(phone)
    phone.restart()
    phone.open(address)

    expect(phone.page.get_by_label("Note")).to_have_value("along the lower edge")
    expect(phone.page.get_by_label("Another reason")).to_have_value("seen again")
    phone.tap("Save the correction")
    phone.expect_status("Saved on phone: correction")
    (body,) = [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == "defect_corrected"]
    assert (body["changes"], body["reason"]) == ({"note": "along the lower edge"}, "seen again")
    phone.open(address)  # what was saved is no longer a form that waits
    expect(phone.page.get_by_label("Another reason")).to_have_value("")


def test_a_value_is_there_after_a_kill_in_the_middle_of_typing_and_gone_once_saved(phone, server):
    phone.sign_in("Tester One")
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap("Start inspection", "link")
    phone.tap("Dark, with lamps")
    phone.tap(re.compile("begin$"))
    phone.tap(re.compile("^W1 "), "link")
    phone.page.get_by_label("Value as read").press_sequentially("0.4", delay=20)
    phone.page.get_by_label("Instrument number").press_sequentially("IN-1", delay=20)
    address = phone.page.evaluate("location.hash")
    wait_until_kept(phone, "0.4", "IN-1")
    kill(phone)
    phone.restart()
    phone.open(address)

    expect(phone.page.get_by_label("Value as read")).to_have_value("0.4")
    expect(phone.page.get_by_label("Instrument number")).to_have_value("IN-1")
    phone.tap("Save the value")
    phone.expect_status("W1 failed, 0.4 bar")
    (body,) = [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == "test_recorded"]
    assert body["value"] == 0.4
    phone.open("#/units")
    phone.open(address)
    expect(phone.page.get_by_label("Value as read")).to_have_value("")


@pytest.mark.signed_in
def test_a_defect_dropped_by_the_key_beside_save_comes_back_whole(phone, server):
    begin_a_defect(phone)
    phone.expect_all_sent()
    server.stop()
    give(phone, picture())
    phone.expect_status("Saved on phone: far photo")
    phone.tap("far photo", "link")
    phone.tap("Larger")
    phone.expect_status("the flaw is circled")
    phone.tap("Back", "link", exact=True)
    phone.page.get_by_label("Note").fill("hollow over 20 cm")
    before = [phone.stored(store) for store in ("drafts", "captures")]
    circles = [row for row in phone.stored("settings") if row["name"] == "circles"]

    phone.tap("Do not record")
    phone.expect_status("Not recorded.")
    assert phone.stored("drafts") == phone.stored("captures") == []
    phone.tap("Undo")

    expect(phone.heading("Panel hollow or delaminated")).to_be_visible()
    expect(phone.page.get_by_label("Note")).to_have_value("hollow over 20 cm")
    expect(phone.page.get_by_role("img", name="far photo; the flaw is circled")).to_be_visible()
    assert [phone.stored(store) for store in ("drafts", "captures")] == before
    assert [row for row in phone.stored("settings") if row["name"] == "circles"] == circles
    phone.tap("Save", exact=True)
    phone.expect_status("Saved on phone: Panel hollow")
    server.start()
    phone.sync()
    phone.expect_all_sent()
    assert [row["kind"] for row in phone.stored("operations")][-2:] == ["defect_recorded", "photo_attached"]


@pytest.mark.signed_in
def test_an_emptied_note_is_not_passed_over_in_silence(phone):
    begin_a_defect(phone)
    phone.page.get_by_label("Note").fill("of another unit")
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone: Panel hollow")
    phone.open("#/units")
    phone.tap(re.compile("PC7130001"), "link")
    phone.tap(re.compile("Panel hollow"), "link")
    phone.tap("Correct", "link")
    expect(phone.heading("Correct")).to_be_visible()

    phone.tap("Minor", exact=True)
    phone.page.get_by_label("Note").fill("")
    phone.tap("Note completed")
    phone.tap("Save the correction")

    phone.expect_status("A note is not taken out: write what is right in its place.")
    phone.page.get_by_label("Note").fill("of this unit")
    phone.tap("Save the correction")
    phone.expect_status("Saved on phone: correction")
    assert phone.stored("operations")[-1]["op"]["body"]["changes"] == {"severity": "minor", "note": "of this unit"}


@pytest.mark.signed_in
def test_a_repair_is_there_after_a_kill_in_the_middle_of_typing(phone, server):
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Panel ripple or print-through")
    row = next(row for row in phone.stored("operations") if row["kind"] == "defect_recorded")
    address = f"#/unit/{row['unit']}/repair/{row['id']}"
    phone.open(address)
    phone.tap("Repair: usable, not to the requirement")
    phone.tap("45", exact=True)
    phone.page.get_by_label("Note").press_sequentially("filled and faired", delay=20)
    wait_until_kept(phone, "filled and faired", "45")
    kill(phone)
    phone.restart()
    phone.open(address)

    expect(phone.page.get_by_label("Note")).to_have_value("filled and faired")
    phone.tap("Save: repair done")
    phone.expect_status("Saved on phone: repair done")
    (body,) = [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == "repair_done"]
    assert (body["method"], body["minutes"], body["note"]) == ("repair", 45, "filled and faired")
    phone.open(address)  # what was saved is no longer a form that waits
    expect(phone.page.get_by_label("Note")).to_have_value("")


@pytest.mark.signed_in
def test_a_store_that_the_browser_closed_is_opened_again(phone):
    phone.context.add_init_script("""
      const open = IDBFactory.prototype.open;
      window.opened = [];
      IDBFactory.prototype.open = function (...given) {
        const asked = open.apply(this, given);
        asked.addEventListener("success", () => window.opened.push(asked.result));
        return asked;
      };
    """)
    phone.page.reload()
    begin_a_defect(phone)
    phone.page.evaluate("window.opened.forEach((db) => db.close())")  # as after an error of the disk

    phone.page.get_by_label("Note").fill("hollow")
    phone.tap(re.compile("^Save"))

    phone.expect_status("Saved on phone: Panel hollow")
    phone.sync()
    phone.expect_all_sent()


REFUSED = {
    "Web Locks": "delete Navigator.prototype.locks",
    "BroadcastChannel": "delete globalThis.BroadcastChannel",
    "structuredClone": "delete globalThis.structuredClone",
    "findLast": "delete Array.prototype.findLast",
    "IndexedDB": "Object.defineProperty(globalThis, 'indexedDB', { value: undefined })",
}


@pytest.mark.parametrize("without", REFUSED)
def test_a_browser_that_cannot_run_the_app_is_told_at_the_door(new_phone, without):
    phone = new_phone()
    phone.context.add_init_script(REFUSED[without])
    phone.open()

    main = phone.page.get_by_role("main")
    expect(main).to_contain_text(without)
    expect(main).to_contain_text("Nothing was kept on this phone")
    expect(phone.page.get_by_role("heading", name="This browser cannot run the app")).to_be_visible()


@pytest.mark.parametrize("browser", [*OLDER, *REFUSED])
def test_the_table_of_browsers_names_what_was_tried(browser):
    told = (Path(__file__).parents[3] / "static" / "docs" / "browsers.md").read_text()
    tried = [row for row in told.splitlines() if re.match(r"\|.*\| yes", row)]

    assert any(browser.removeprefix("no ") in row for row in tried)


CLEAR = """() => new Promise((resolve, reject) => {
  const asked = indexedDB.deleteDatabase("daybay");
  asked.onsuccess = () => resolve(); // once the app's page before has let its store go
  asked.onerror = () => reject(new Error("not cleared"));
})"""


@pytest.mark.signed_in
def test_a_phone_whose_store_was_cleared_says_what_the_server_has_and_never_all_sent(phone, server):
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Panel ripple or print-through")
    phone.sync()
    phone.expect_all_sent()
    had = len(phone.stored("operations"))
    server.stop()
    phone.page.go_back()
    phone.record(re.compile("^Front cap"), "Panel scratch or chip")
    own = max(row["seq"] for row in phone.stored("operations"))
    phone.page.goto("about:blank")
    phone.page.goto(f"{server.address}/app/manifest.webmanifest")  # our own origin, and no app that holds the store
    phone.page.evaluate(CLEAR)
    server.start()

    phone.open()
    banner = phone.page.get_by_role("banner")
    expect(banner).to_contain_text("This phone's store was cleared. As ")
    expect(banner).not_to_contain_text("All sent")
    expect(phone.page.get_by_role("main")).to_contain_text("his phone is not enrolled here")  # its secret went as well
    expect(phone.page.get_by_role("link", name="Enrol this phone")).to_be_visible()
    phone.enrol()
    phone.sign_in()

    expect(banner).to_contain_text(f"it had recorded up to number {own}; the server has {had} of them.")
    expect(banner).not_to_contain_text("All sent")
    phone.open("#/outbox")
    phone.tap("I have read this")
    expect(banner).not_to_contain_text("was cleared")
