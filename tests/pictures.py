"""The pictures of the README, made anew: `python -m tests.pictures [--into demo_data/pictures]`.

It plays the invented plant into a folder of its own, serves it on loopback and photographs in Chromium what an
inspector, a lead and the quality manager see.
"""

import argparse
import io
import re
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import FloatRect, Page, Playwright, expect, sync_playwright
from werkzeug.serving import WSGIRequestHandler, make_server

from qc.assets import folder as asset_folder
from qc.demo.folder import make_demo
from qc.web.app import create_app
from qc.web.house import open_house
from qc.web.warm import warm
from tests.browser.phone import Phone
from tests.driving import found_chromium

DESK, PHONE = (1280, 800), (390, 844)
FIRST_MS = 180_000  # the first review counts every day anew
COLOURS = 64  # a drawing has few; so a picture stays below what a page of words weighs
ROUND = ((0, -1), (1, 0), (0, 1), (-1, 0), (0, -1))


class _Quiet(WSGIRequestHandler):
    def log(self, *_: object) -> None:
        """Say nothing of each answer."""


@dataclass(frozen=True)
class Served:
    """A demo that answers. secrets: by person; shows: what the app's list has, as a phone of the tests asks it."""

    folder: Path
    secrets: dict[str, str]
    address: str
    shows: str = "PC7"


@contextmanager
def served(folder: Path, secrets: dict[str, str]) -> Iterator[Served]:
    """Serve a demo on a free port of loopback."""
    house = open_house(folder)
    app = create_app(house)
    warm(app)
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=_Quiet)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield Served(folder, secrets, f"http://127.0.0.1:{server.port}")
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
        house.close()


def keep(page: Page, into: Path, name: str) -> None:
    """Write what the screen shows as a small PNG."""
    page.wait_for_load_state("networkidle")
    shown = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    target = into / f"{name}.png"
    shown.quantize(COLOURS, dither=Image.Dither.NONE).save(target, optimize=True)
    print(f"{target}: {shown.width} x {shown.height}, {target.stat().st_size // 1000} kB")


def pages(driver: Playwright, site: Served, into: Path) -> None:
    """The manager's week at a desk, a lead's station on a phone."""
    browser = driver.chromium.launch(executable_path=found_chromium(), args=["--no-sandbox", "--disable-gpu"])
    for code, address, name, (width, height) in (
        ("QM1", "/review", "review", DESK),
        ("L-S08", "/stations/S08", "station", PHONE),
    ):
        scale = 2 if width == PHONE[0] else 1
        context = browser.new_context(viewport={"width": width, "height": height}, device_scale_factor=scale)
        page = context.new_page()
        page.set_default_timeout(FIRST_MS)
        page.goto(f"{site.address}/sign-in?next={address}")
        page.get_by_label("Your code").fill(code)
        page.get_by_label("PIN or passphrase").fill(site.secrets[code])
        page.get_by_role("button", name="Sign in").click()
        page.locator(".head .who").wait_for()
        keep(page, into, name)
        context.close()
    browser.close()


def flaw_of(picture: bytes, box: FloatRect) -> list[tuple[float, float]]:
    """Return the points of a stroke round what is marked red on a picture of the demo that is shown whole in a box."""
    image = Image.open(io.BytesIO(picture)).convert("RGB")
    red, green, blue = np.moveaxis(np.asarray(image), 2, 0)
    down, across = np.nonzero((red > 120) & (green < 70) & (blue < 90))
    x, y = float(across.mean()), float(down.mean())
    scale = min(box["width"] / image.width, box["height"] / image.height)
    left = box["x"] + (box["width"] - image.width * scale) / 2 + x * scale
    top = box["y"] + (box["height"] - image.height * scale) / 2 + y * scale
    return [(left + 40 * across, top + 40 * down) for across, down in ROUND]


def app(driver: Playwright, site: Served, place: Path, into: Path) -> None:
    """An inspector's walk round a unit: a side of it with its marks, then a photo on which the flaw is circled."""
    phone = Phone.start(driver, found_chromium(), place / "home", place / "profile", site)  # type: ignore[arg-type]
    phone.open_first()
    phone.touch(phone.page.locator("summary", has_text="Inspector"))
    phone.sign_in("Inspector 1", site.secrets["I1"])
    phone.touch(phone.page.locator("main a.row").first)
    phone.tap("Start inspection", "link")
    phone.tap("Overcast")
    if phone.page.get_by_role("button", name="Choose what for").count():  # this unit was presented before
        phone.touch(phone.page.locator("button[data-act=purpose]").first)
    phone.tap(re.compile("begin$"))
    phone.page.locator(".drawing").wait_for()
    phone.open(phone.page.url.partition("/app/")[2].rpartition("/")[0] + "/nearside")
    phone.zone(re.compile("^Roof edge"))
    phone.tap("Not looked at", exact=True)
    phone.tap("Weather")
    phone.expect_status("not looked at")
    for _ in range(3):
        phone.touch(phone.page.locator("footer .main"))
        phone.page.wait_for_timeout(300)
    phone.zone(re.compile("^Lower wall"))
    phone.page.locator("main button.type").first.tap()
    expect(phone.page.get_by_role("button", name=re.compile("^Save"))).to_be_visible()
    picture = min((site.folder / "photos").glob("*/*")).read_bytes()
    phone.page.locator("input[data-view=far]").set_input_files(
        {"name": "far.jpg", "mimeType": "image/jpeg", "buffer": picture}
    )
    phone.expect_status("Saved on phone: far photo")
    phone.tap("far photo", "link")
    expect(phone.page.locator(".large .flaw[viewBox]")).to_be_attached()
    box = phone.page.locator(".large").bounding_box()
    assert box
    points = flaw_of(picture, box)
    phone.page.wait_for_timeout(1200)
    phone.page.mouse.move(*points[0])
    phone.page.mouse.down()
    for point in points[1:]:
        phone.page.mouse.move(*point, steps=6)
    phone.page.mouse.up()
    phone.expect_status("the flaw is circled")
    keep(phone.page, into, "photo")
    phone.tap("Back", "link", exact=True)
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone: ")
    phone.page.locator(".drawing").wait_for()
    keep(phone.page, into, "walk_round")
    phone.close()


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--into", type=Path, default=asset_folder("demo_data") / "pictures")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        place = Path(temporary)
        folder = place / "plant"
        secrets = {one.person.code: one.secret for one in make_demo(folder, 20260302, 26, print)}
        given.into.mkdir(parents=True, exist_ok=True)
        with served(folder, secrets) as site, sync_playwright() as driver:
            pages(driver, site, given.into)
            app(driver, site, place, given.into)


if __name__ == "__main__":
    main()
