"""Saved means on disk: after a kill, on a full phone, with a photo, and never twice."""

import contextlib
import os
import re
import signal
import time
from pathlib import Path

import pytest
from playwright.sync_api import Error, expect

from tests.driving import SEEN_MS

pytestmark = pytest.mark.browser

ROUNDS = 4
FULL = "This phone is full: the photo was not kept"


@pytest.fixture(scope="session")
def photo_file(tmp_path_factory) -> Path:
    """A 12-megapixel JPEG with a position in it, as a phone's camera gives it."""
    from PIL import Image

    path = tmp_path_factory.mktemp("photo") / "camera.jpg"
    picture = Image.effect_noise((4000, 3000), 40).convert("RGB")
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 0.0), 3: "W", 4: (0.0, 7.0, 0.0)})
    picture.save(path, quality=70, exif=exif)
    return path


def kill(phone) -> None:
    """End the browser as a flat battery does: every process that runs on this phone's own profile, until none does.

    One that still ends holds the store's lock, and the next start would find the store taken.
    """
    until = time.monotonic() + SEEN_MS / 1000
    while alive := of_profile(phone.profile):
        assert time.monotonic() < until, alive
        for process in alive:
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        time.sleep(0.01)
    with contextlib.suppress(Error):  # it is dead: that is what was wanted
        phone.context.close()
    for lock in phone.profile.glob("Singleton*"):
        lock.unlink()


def of_profile(profile: Path) -> list[int]:
    """Return the processes that run on a profile; one that has ended and is not reaped yet has no command line."""
    found = []
    for entry in Path("/proc").iterdir():
        with contextlib.suppress(FileNotFoundError, ProcessLookupError, PermissionError):
            if entry.name.isdigit() and str(profile).encode() in (entry / "cmdline").read_bytes():
                found.append(int(entry.name))
    return found


@pytest.mark.signed_in
def test_what_was_called_saved_is_there_after_a_kill_and_nothing_is_torn(phone, server):
    phone.begin("PC7130001")
    server.stop()
    for round_ in range(ROUNDS):
        phone.record(re.compile("^Front panel"), "Panel ripple or print-through")
        # The next one is cut off at another moment each round.
        phone.zone(re.compile("^Front cap"))
        phone.tap(re.compile("^Panel scratch or chip"))
        phone.page.get_by_role("button", name=re.compile("^Save")).tap(no_wait_after=True)
        time.sleep(0.004 * round_)
        kill(phone)
        phone.restart()
        phone.open("#/units")
        expect(phone.heading("Units in work")).to_be_visible()

        operations = phone.stored("operations")
        drafts = {draft["id"] for draft in phone.stored("drafts")}
        defects = [row for row in operations if row["kind"] == "defect_recorded"]
        types = [row["op"]["body"]["type"] for row in defects]
        assert types.count("PAN-02") == round_ + 1
        assert [row["seq"] for row in operations] == list(range(1, len(operations) + 1))
        assert drafts.isdisjoint(row["id"] for row in defects)
        assert types.count("PAN-03") + len(drafts) == round_ + 1
        unit = phone.page.get_by_role("link", name=re.compile("PC7130001.*(On the line|At the end points)"))
        phone.touch(unit.first)
        phone.tap(re.compile("^Go on with the walk"), "link")


@pytest.mark.signed_in
def test_a_photo_is_kept_at_once_made_smaller_without_its_position_and_sent(phone, server, photo_file):
    phone.begin("PC7130001")
    server.stop()
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel hollow"))
    phone.page.locator("input[data-view=far]").set_input_files(photo_file)
    phone.expect_status("Saved on phone: far photo")
    (capture,) = phone.stored("captures")
    assert capture["bytes"] == photo_file.stat().st_size

    phone.page.reload()  # the camera may have ended the page: the draft and its photo are there
    expect(phone.heading("Panel hollow or delaminated")).to_be_visible()
    expect(phone.page.get_by_role("img", name="far photo")).to_be_visible()
    phone.tap("Save", exact=True)
    phone.expect_status("Saved on phone: Panel hollow")
    server.start()
    phone.sync()
    phone.expect_all_sent(60_000)

    (attached,) = [row["op"]["body"] for row in phone.stored("operations") if row["kind"] == "photo_attached"]
    assert max(attached["width"], attached["height"]) == 2048
    held = server.folder / "photos"
    (kept,) = [path for path in held.rglob("*") if path.is_file() and attached["sha256"] in path.name]
    from PIL import Image

    with Image.open(kept) as picture:
        assert picture.size == (attached["width"], attached["height"])
        assert dict(picture.getexif().get_ifd(0x8825)) == {}
    assert kept.stat().st_size == attached["bytes"]
    assert phone.stored("captures") == []


def restart_with_room(phone, extra: int) -> None:
    """Start the browser again with a disk that has so many bytes more than the app uses.

    The quota is set before the first write: the browser remembers the room that it saw last for a while.
    """
    used = phone.page.evaluate("navigator.storage.estimate().then(e => e.usage)")
    address = phone.page.url
    phone.context.close()
    phone.restart()
    devtools = phone.context.new_cdp_session(phone.page)
    room = {"origin": phone.server.address, "quotaSize": max(1, used + extra)}
    devtools.send("Storage.overrideQuotaForOrigin", room)
    phone.page.goto(address)


ROOM = "StorageManager.prototype.estimate = async () => ({ quota: 1_000_000_000, usage: 1_000_000_000 - %d })"


@pytest.mark.parametrize(("free", "is_told"), [(49_000_000, True), (51_000_000, False)])
@pytest.mark.signed_in
def test_the_phone_says_that_room_ends_before_it_has_ended(phone, free, is_told):
    phone.context.add_init_script(ROOM % free)  # as the browser tells it
    phone.page.reload()
    phone.expect_all_sent()

    expect(phone.page.get_by_text("This phone is nearly full. Sync so that sent photos can go")).to_have_count(
        int(is_told)
    )
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Trim loose")  # told, and in nobody's way


@pytest.mark.signed_in
def test_a_full_phone_saves_the_text_and_says_that_the_photo_was_not_kept(phone, server, photo_file):
    phone.begin("PC7130001")
    server.stop()
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel hollow"))
    expect(phone.heading("Panel hollow or delaminated")).to_be_visible()
    restart_with_room(phone, 600_000)

    phone.page.locator("input[data-view=far]").set_input_files(photo_file)
    phone.expect_status(FULL)
    expect(phone.page.get_by_role("main")).to_contain_text(FULL)
    phone.tap(re.compile("^Save"))

    phone.expect_status("Saved on phone: Panel hollow")
    assert [row["kind"] for row in phone.stored("operations")] == ["inspection_begun", "defect_recorded"]
    assert phone.stored("captures") == []
    assert phone.stored("drafts") == []


@pytest.mark.signed_in
def test_a_phone_that_ran_full_gives_up_its_reserve_for_the_text(phone, server):
    phone.begin("PC7130001")
    server.stop()
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    expect(phone.heading("Panel ripple or print-through")).to_be_visible()
    assert "ballast" in {row["name"] for row in phone.stored("settings")}
    restart_with_room(phone, -300_000)

    phone.tap(re.compile("^Save"))

    phone.expect_status("Saved on phone: Panel ripple")
    assert "defect_recorded" in {row["kind"] for row in phone.stored("operations")}
    assert "ballast" not in {row["name"] for row in phone.stored("settings")}


@pytest.mark.signed_in
def test_a_phone_without_any_room_says_not_saved_and_keeps_the_draft(phone, server):
    phone.begin("PC7130001")
    server.stop()
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    expect(phone.heading("Panel ripple or print-through")).to_be_visible()
    restart_with_room(phone, -5_000_000)

    phone.tap(re.compile("^Save"))

    status = phone.page.get_by_role("status")
    expect(status).to_contain_text(re.compile("Saved on phone: Panel ripple|Not saved"))
    saved = "Saved on phone" in status.inner_text()
    kinds = [row["kind"] for row in phone.stored("operations")]
    # What the screen says is what the disk holds, and what is not saved is still a draft.
    assert ("defect_recorded" in kinds) is saved
    assert len(phone.stored("drafts")) == (0 if saved else 1)
    assert not saved
    expect(phone.page.get_by_role("banner")).to_contain_text("Not saved: this phone is full")


@pytest.mark.signed_in
def test_a_second_tap_on_save_records_nothing_twice(phone, server):
    phone.begin("PC7130001")
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    expect(phone.heading("Panel ripple or print-through")).to_be_visible()

    phone.page.evaluate("""() => {
      const save = [...document.querySelectorAll("footer button")].find(b => b.textContent.startsWith("Save"));
      save.click(); save.click(); save.click();
    }""")
    phone.expect_status("Saved on phone")

    assert [row["kind"] for row in phone.stored("operations")].count("defect_recorded") == 1
