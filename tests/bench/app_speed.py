"""Measure the inspector's app with the processor slowed four times; prints the aims beside what was measured.

Run it as a script: python -m tests.bench.app_speed. It is no test: times depend on the machine.
"""

import re
import statistics
import subprocess
import sys
import tempfile
import time
import types
from pathlib import Path

HERE = Path(__file__).resolve().parent
for name, folder in (("tests", HERE.parent), ("tests.browser", HERE.parent / "browser")):
    # As pytest does: another distribution may bring a package called tests.
    module = types.ModuleType(name)
    module.__path__ = [str(folder)]
    sys.modules[name] = module

from playwright.sync_api import expect, sync_playwright  # noqa: E402

from qc.web.certificate import make  # noqa: E402
from tests.browser.phone import Phone  # noqa: E402
from tests.browser.plant_server import PlantServer, fill  # noqa: E402
from tests.driving import found_chromium  # noqa: E402

SLOWER = 4
ROUNDS = 15


def percentile95(values: list[float]) -> float:
    return statistics.quantiles(values, n=20)[-1]


def printed(what: str, aim: str, values: list[float]) -> None:
    print(f"{what:58} aim {aim:>8}  median {statistics.median(values):7.0f} ms  p95 {percentile95(values):7.0f} ms")


# A press on a button until the page has drawn what follows from it.
UNTIL_DRAWN = """([selector, text, done]) => new Promise(resolve => {
  const button = [...document.querySelectorAll(selector)].find(each => each.textContent.includes(text));
  const begun = performance.now();
  const look = () => document.body.innerText.includes(done)
    ? requestAnimationFrame(() => resolve(performance.now() - begun)) : setTimeout(look, 1);
  button.click();
  look();
})"""


NOTE_ARRIVAL = """() => {
  window.begun = 0;
  document.addEventListener("change", () => window.begun ||= performance.now(), true);
}"""


def slow(phone: Phone):
    devtools = phone.context.new_cdp_session(phone.page)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    return devtools


def measure_taps(phone: Phone) -> None:
    answers, saves = [], []
    for _ in range(ROUNDS):
        phone.zone(re.compile("^Front panel"))
        expect(phone.heading(re.compile("^Front panel"))).to_be_visible()
        answers.append(phone.page.evaluate(UNTIL_DRAWN, ["main button", "Panel ripple", "Severity"]))
        saves.append(phone.page.evaluate(UNTIL_DRAWN, ["footer button", "Save", "Saved on phone"]))
    printed("tap to visible answer (type touched, draft on disk)", "100 ms", answers)
    printed("tap to durable text (Save to 'Saved on phone')", "100 ms", saves)


def measure_photo(phone: Phone, photo: Path) -> None:
    values = []
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel ripple"))
    for round_ in range(10):
        view = ("far", "near")[round_ % 2]
        phone.page.evaluate(NOTE_ARRIVAL)
        phone.page.locator(f"input[data-view={view}]").set_input_files(photo)
        values.append(
            phone.page.evaluate(
                """view => new Promise(resolve => {
                  const look = () => document.querySelector("[role=status]").textContent.includes(`${view} photo`)
                    ? resolve(performance.now() - window.begun) : setTimeout(look, 1);
                  look();
                })""",
                view,
            )
        )
    printed(f"photo of {photo.stat().st_size / 1e6:.1f} MB to durable", "400 ms", values)
    phone.tap("Do not record")
    phone.expect_status("Not recorded")


def measure_cold_start(phone: Phone) -> None:
    values = []
    for _ in range(8):
        phone.context.close()
        phone.restart()
        slow(phone)
        begun = time.monotonic()
        phone.open("#/units")
        expect(phone.page.get_by_role("link", name=re.compile("PC7")).first).to_be_visible()
        values.append((time.monotonic() - begun) * 1000)
    printed("cold start with the server stopped", "2000 ms", values)


MANY = """async ({chassis, inspection, count}) => {
  const script = document.querySelector("script[type=module]").src;
  const base = script.slice(0, script.lastIndexOf("/"));
  const {openDatabase} = await import(base + "/lib/db.js");
  const {record} = await import(base + "/lib/outbox.js");
  const {fact} = await import(base + "/lib/facts.js");
  const {loadSettings} = await import(base + "/lib/settings.js");
  const db = await openDatabase();
  const settings = await loadSettings(db);
  const {person, session} = settings.sessions[0];
  const {device, install_epoch} = settings;
  const maker = {device, install_epoch, author: person.code, session, seen_through: 0};
  const body = {inspection, point: "D01", zone: "front.panel", type: "EXT-01", severity: "minor"};
  const one = () => fact("defect_recorded", chassis, body, {deps: [inspection]});
  await record(db, maker, Array.from({length: count}, one));
}"""


def measure_drain(phone: Phone, server: PlantServer) -> None:
    begun = [row for row in phone.stored("operations") if row["kind"] == "inspection_begun"][-1]
    phone.page.evaluate(MANY, {"chassis": begun["unit"], "inspection": begun["id"], "count": 500})
    server.start()
    phone.page.reload()
    devtools = slow(phone)
    network = {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 200_000}
    devtools.send("Network.enable")
    devtools.send("Network.emulateNetworkConditions", network)
    phone.open("#/outbox")
    started = time.monotonic()
    phone.tap(re.compile("^Sync"))
    phone.expect_all_sent(60_000)
    took = 1000 * (time.monotonic() - started)
    print(f"{'500 operations drained over 150 ms and 1.6 Mbit/s':58} aim 10000 ms  took {took:7.0f} ms")


def main() -> None:
    from PIL import Image

    folder = Path(tempfile.mkdtemp(prefix="app-speed-"))
    certificate = make(folder / "certificate", ("localhost",))
    database = folder / "home" / ".pki" / "nssdb"
    database.mkdir(parents=True)
    subprocess.run(["certutil", "-d", f"sql:{database}", "-N", "--empty-password"], check=True)
    trust = ["-A", "-t", "C,,", "-n", "test root", "-i", str(certificate.root)]
    subprocess.run(["certutil", "-d", f"sql:{database}", *trust], check=True)
    fill(folder / "data")
    photo = folder / "photo.jpg"
    Image.effect_noise((4000, 3000), 18).convert("RGB").save(photo, quality=75)
    server = PlantServer(folder / "data", certificate)
    server.start()
    with sync_playwright() as driver:
        phone = Phone.start(driver, str(found_chromium()), folder / "home", folder / "profile", server)
        phone.open_first()
        phone.sign_in()
        phone.begin("PC7130001")
        phone.expect_all_sent()
        server.stop()
        slow(phone)
        measure_taps(phone)
        measure_photo(phone, photo)
        measure_cold_start(phone)
        measure_drain(phone, server)
        phone.close()
    server.stop()


if __name__ == "__main__":
    main()
