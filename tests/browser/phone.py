"""A phone: Chromium at phone size with its own profile, and what a person does on it, in the person's words."""

import math
import os
import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Locator, Page, Playwright, expect

from tests.browser.plant_server import PIN, PlantServer
from tests.driving import FLAGS, SEEN_MS
from tests.enrolled import offered

WIDTH, HEIGHT = 390, 844
PUSH = "**/api/v1/push"
READING_S, NEAR_PX = 1.3, 60
SHOWN_LATE_S = 0.1


@dataclass
class Phone:
    """One person's phone. taps counts touches on the app; the camera's own two are the caller's to add."""

    playwright: Playwright
    chromium: str
    home: Path
    profile: Path
    server: PlantServer
    context: BrowserContext
    page: Page
    taps: int = 0
    _last: tuple[float, tuple[float, float]] = (0.0, (0.0, 0.0))  # when and where the finger was

    @classmethod
    def start(cls, playwright: Playwright, chromium: str, home: Path, profile: Path, server: PlantServer) -> "Phone":
        context = launch(playwright, chromium, home, profile)
        phone = cls(playwright, chromium, home, profile, server, context, context.pages[0])
        phone.listen()
        return phone

    def listen(self) -> None:
        self.errors: list[str] = []
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.on("console", self._note)

    def _note(self, message: Any) -> None:
        # The browser notes every answer of 4xx and 5xx and every lost connection as an error; the app expects them.
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            self.errors.append(message.text)

    def restart(self) -> None:
        """Start the browser again with the same profile, as after a crash or a flat battery."""
        self.context = launch(self.playwright, self.chromium, self.home, self.profile)
        self.page = self.context.pages[0]
        self.listen()

    def close(self) -> None:
        self.context.close()

    def open(self, path: str = "") -> None:
        self.page.goto(f"{self.server.address}/app/{path}")

    def enrol(self, letters: str = "") -> None:
        """Open what the administrator's QR code says, and agree; letters: of an offer that was made already."""
        self.open(f"#/enrol/{letters or offered(self.server.folder)}")
        self.page.get_by_role("button", name="Enrol this phone", exact=True).click()
        self.expect_sign_in()

    def expect_sign_in(self) -> None:
        expect(self.heading("Who are you?")).to_be_visible()

    def open_first(self) -> None:
        """Enrol the phone, open the app for the first time and wait until it can start without signal."""
        self.enrol()
        active = "navigator.serviceWorker.ready.then(({ active }) => active?.state === 'activated')"
        self.wait_until(lambda: self.page.evaluate(active), "the app's worker is not active")

    def tap(self, name: str | re.Pattern[str], role: Any = "button", *, exact: bool = False) -> None:
        self.touch(self.page.get_by_role(role, name=name, exact=exact).first)

    def touch(self, target: Locator, *, force: bool = False) -> None:
        """Tap something; a person whose finger is there already takes a moment to read what is new under it."""
        asked = time.monotonic()
        target.wait_for()
        shown = time.monotonic()
        began = shown if shown - asked > SHOWN_LATE_S else self._last[0]  # nobody reads before it is there
        while not (place := target.evaluate(PLACE)):  # where it is drawn anew just then it lies nowhere
            assert time.monotonic() - shown < SEEN_MS / 1000, f"{target} is shown nowhere, or never at rest"
        waits = began + READING_S - time.monotonic()
        if waits > 0 and math.dist(place, self._last[1]) < NEAR_PX:
            self.page.wait_for_timeout(1000 * waits)
        target.tap(force=force)
        self._last = (time.monotonic(), place)
        self.taps += 1

    def sign_in(self, name: str = "Inspector One", pin: str = PIN) -> None:
        self.tap(re.compile(name))
        if pin.isdigit():
            for figure in pin:
                self.tap(figure, exact=True)
        else:
            self.page.get_by_label("Passphrase").fill(pin)
        self.tap("Sign in", exact=True)
        self.expect_units()

    def lock(self) -> None:
        """Lock the phone for another person; until the sign-in shows, a reload would find it unlocked."""
        self.open("#/settings")
        self.tap("Lock for another person")
        self.expect_sign_in()

    def expect_units(self) -> None:
        expect(self.heading("Units in work")).to_be_visible()
        expect(self.page.get_by_role("link", name=re.compile(self.server.shows)).first).to_be_visible()

    def heading(self, name: str | re.Pattern[str]) -> Any:
        return self.page.get_by_role("heading", name=name, level=1)

    def begin(self, unit: str, light: str = "Overcast") -> None:
        """Open a unit and begin a look at it."""
        self.tap(re.compile(unit), "link")
        self.tap("Start inspection", "link")
        self.tap(light)
        self.tap(re.compile("begin$"))
        self.page.wait_for_url(re.compile("/(walk|tests)(/|$)"))  # the beginning is on the disk

    def zone(self, name: str | re.Pattern[str]) -> None:
        # On its sign, as a person would: a zone's middle may lie under the zone on top of it.
        zone = self.page.locator(".drawing").get_by_role("button", name=name).first
        self.touch(zone.locator(".sign").first, force=True)

    def rest(self) -> None:
        """Say of every zone of the view that nobody has marked yet that it was looked at and is clean."""
        self.tap("Views", "link")
        self.tap(re.compile("^Rest"), "link")
        self.tap(re.compile("^Yes, I looked at all"))

    def end(self) -> None:
        """Open the end of the inspection, from the drawing."""
        self.tap("Views", "link")
        self.tap("End", "link")

    def record(self, zone: str | re.Pattern[str], type_: str) -> None:
        """Record a defect of a likely type without a photo."""
        self.zone(zone)
        self.tap(re.compile(f"^{type_}"))
        self.tap(re.compile("^Save"))
        self.expect_status("Saved on phone: ")

    def all_loaded(self) -> None:
        """Wait for the screens that are loaded in quiet moments; the last of them comes last."""
        self.page.evaluate(ALL_LOADED)

    def expect_status(self, words: str | re.Pattern[str]) -> None:
        expect(self.page.get_by_role("status")).to_contain_text(words)

    def wait_until(self, is_so: Callable[[], object], words: str, timeout: float = SEEN_MS) -> None:
        """Wait for what no screen tells, such as what the disk holds; words: what is wrong where it does not come."""
        deadline = time.monotonic() + timeout / 1000
        while not is_so():
            assert time.monotonic() < deadline, f"{words}: {self.page.locator('body').inner_text()}"
            self.page.wait_for_timeout(100)

    def expect_recorded(self, kind: str, times: int = 1) -> None:
        """Wait until the disk holds so many records of a kind, after a save that nothing else is waited for."""

        def is_there() -> bool:
            return [row["kind"] for row in self.stored("operations")].count(kind) >= times

        self.wait_until(is_there, f"{kind} is not recorded {times} times")

    def expect_all_sent(self, timeout: float = SEEN_MS, *, refused: int = 0) -> None:
        """Wait until every record has the server's verdict and every photo is there, on the disk and on the screen.

        What is not on the disk yet is not missed: whoever has just saved waits for that first.
        """
        self.wait_until(
            lambda: len(self.stored("operations")) == len(self.stored("verdicts")) and not self.stored("captures"),
            "records are still unsent",
            timeout,
        )
        expect(self.page.locator(".standing")).to_contain_text(
            f"{refused} refused" if refused else "All sent", timeout=timeout
        )

    def sync(self) -> None:
        """Sync now, from the outbox."""
        self.open("#/outbox")
        self.tap(re.compile("^Sync"))

    def hold_back(self) -> None:
        """Let no push go: a phone tries again by itself where the server is there again, as it should."""
        self.page.route(PUSH, lambda route: route.abort())

    def let_go(self) -> None:
        """Let pushes go again."""
        self.page.unroute(PUSH)

    def stored(self, store: str) -> list[Any]:
        """Everything in one store of the phone's disk, as the page reads it; bytes as their length."""
        return self.page.evaluate(READ, store)


# The middle of what is to be touched, scrolled to where the tap finds it, once the screen is at rest: while it still
# scrolls or is laid out, the tap would land where nobody reckoned with it, such as where the finger was already.
PLACE = """async (each) => {
  const frame = () => new Promise(requestAnimationFrame);
  for (let before = "", tries = 0; tries < 100 && each.isConnected; tries += 1) {
    each.scrollIntoView({ block: "nearest", behavior: "instant" });
    const { left, top, width, height } = each.getBoundingClientRect();
    const place = [left + width / 2, top + height / 2];
    if (width && height && `${place}` === before) return place;
    before = `${place}`;
    await frame();
    await frame();
  }
  return null;
}"""

ALL_LOADED = """async () => {
  const loaded = () => performance.getEntriesByType("resource").map((each) => each.name.split("/").at(-1));
  while (!loaded().includes("settings.js") || !loaded().includes("outbox.js")) {
    await new Promise((resolve) => { setTimeout(resolve, 50); });
  }
}"""

READ = """store => new Promise((resolve, reject) => {
  const opening = indexedDB.open("daybay");
  opening.onerror = () => reject(opening.error);
  opening.onsuccess = () => {
    const all = opening.result.transaction(store).objectStore(store).getAll();
    all.onsuccess = () => {
      opening.result.close();
      const isBytes = (value) => value instanceof ArrayBuffer || ArrayBuffer.isView(value); // the reserve is a million
      const plain = (_, value) => isBytes(value) ? value.byteLength : value;
      resolve(all.result.map(row => JSON.parse(JSON.stringify(row, plain))));
    };
  };
})"""


def launch(playwright: Playwright, chromium: str, home: Path, profile: Path) -> BrowserContext:
    """Start Chromium with a profile; its home holds the private certificate store that trusts the test root."""
    return playwright.chromium.launch_persistent_context(
        str(profile),
        executable_path=chromium,
        headless=True,
        args=FLAGS,
        env={**os.environ, "HOME": str(home)},
        viewport={"width": WIDTH, "height": HEIGHT},
        has_touch=True,
        is_mobile=True,
        device_scale_factor=2,
        timezone_id="Europe/London",
        locale="en-GB",
        accept_downloads=True,
    )
