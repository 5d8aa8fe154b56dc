"""How quick the app is on a slow phone: prints measured against aimed, asserts nothing about time.

    python tests/bench/app.py        (or: python -m pytest tests/browser/app_speed.py -s)

A phone is emulated by slowing the processor four times; times are taken inside the page.
"""

import gzip
import re
import statistics
import time
from io import BytesIO
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

SLOWER = 4
ROUNDS = 25
PWA = Path(__file__).parent.parent.parent / "pwa"

# Resolves with the milliseconds from a tap on `selector` (its nth) to the frame after `words` stand in `where`.
TAP = """([selector, nth, where, words]) => new Promise(resolve => {
  const target = document.querySelectorAll(selector)[nth];
  const begun = performance.now();
  const seen = () => {
    const text = document.querySelector(where)?.textContent ?? "";
    if (!new RegExp(words).test(text)) return requestAnimationFrame(seen);
    requestAnimationFrame(() => resolve(performance.now() - begun));
  };
  target.dispatchEvent(new MouseEvent("click", { bubbles: true, cancelable: true, view: window }));
  seen();
})"""

# Notes when a file reached the page and when the status then spoke of it.
WATCH_PHOTO = """() => {
  window.measured = null;
  document.addEventListener("change", () => {
    const begun = performance.now();
    const seen = () => {
      const text = document.querySelector("[role=status]")?.textContent ?? "";
      if (!/Saved on phone: far photo/.test(text)) return requestAnimationFrame(seen);
      window.measured = performance.now() - begun;
    };
    seen();
  }, { capture: true, once: true });
}"""

SHOWN = """() => {
  const seen = () => {
    if (!document.querySelector("h1")?.textContent) return requestAnimationFrame(seen);
    requestAnimationFrame(() => { window.shown = performance.now(); });
  };
  document.addEventListener("DOMContentLoaded", seen);
}"""

# Resolves with what the page has noted under a name, once it has. (The content policy forbids a polled string.)
COME = """name => new Promise(resolve => {
  const look = () => window[name] ? resolve(window[name]) : requestAnimationFrame(look);
  look();
})"""

RECORD = """async ([count, chassis, inspection]) => {
  const base = document.querySelector("script[type=module]").src.replace("main.js", "lib/");
  const { openDatabase } = await import(base + "db.js");
  const { loadSettings } = await import(base + "settings.js");
  const { makerOf, newApp } = await import(base + "state.js");
  const { record } = await import(base + "outbox.js");
  const { fact } = await import(base + "facts.js");
  const db = await openDatabase();
  const maker = makerOf(newApp(db, await loadSettings(db)));
  const body = { point: "D01", zone: "front.panel", type: "EXT-01", severity: "minor", inspection };
  for (let done = 0; done < count; done += 50) {
    await record(db, maker, Array.from({ length: 50 }, () => fact("defect_recorded", chassis, body)));
  }
}"""


def p95(times: list[float]) -> float:
    return statistics.quantiles(times, n=20)[-1]


def tell(what: str, measured: float, aim: float, unit: str) -> None:
    print(f"\n{what}: {measured:,.1f} {unit}, aim {aim:,.0f}: {measured / aim:.2f} of it", end="")


def slow(phone, rate: int = SLOWER):
    session = phone.context.new_cdp_session(phone.page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": rate})
    return session


def photo(megabytes: float) -> bytes:
    from PIL import Image

    picture = Image.effect_noise((2600, 2000), 80).convert("RGB")
    for quality in range(95, 20, -5):
        out = BytesIO()
        picture.save(out, "JPEG", quality=quality)
        if out.tell() <= megabytes * 1e6:
            break
    return out.getvalue()


def at_the_drawing(phone) -> None:
    phone.sign_in()
    phone.begin("PC7130001")
    phone.page.wait_for_selector(".drawing")


def zone_place(phone) -> int:
    """Return which of the drawing's buttons is the front panel."""
    names = phone.page.eval_on_selector_all(
        ".drawing [role=button]", "all => all.map(one => one.getAttribute('aria-label') || one.textContent)"
    )
    return next(place for place, name in enumerate(names) if name.startswith("Front panel"))


def test_taps(phone, server):
    at_the_drawing(phone)
    server.stop()
    place = zone_place(phone)
    slow(phone)
    answers, saves = [], []
    for _ in range(ROUNDS):
        page = phone.page
        answers.append(page.evaluate(TAP, [".drawing [role=button]", place, "h1", "Front panel"]))
        page.get_by_role("button", name=re.compile("^Trim loose")).first.tap()
        page.get_by_role("button", name=re.compile("^Save")).first.wait_for()
        page.evaluate("document.querySelector('[role=status]').textContent = ''")
        save = "all => all.findIndex(one => /^Save/.test(one.textContent.trim()))"
        nth = page.eval_on_selector_all("button", save)
        saves.append(page.evaluate(TAP, ["button", nth, "[role=status]", "Saved on phone: Trim"]))
        page.wait_for_selector(".drawing")

    tell("tap to visible answer, p95", p95(answers), 100, "ms")
    tell("tap on Save to durable text, p95", p95(saves), 100, "ms")
    assert len(answers) == len(saves) == ROUNDS


def test_photo(phone, server):
    at_the_drawing(phone)
    server.stop()
    slow(phone)
    picture, times = photo(3.0), []
    for _ in range(10):
        phone.zone(re.compile("^Front panel"))
        phone.tap(re.compile("^Panel hollow"))
        phone.page.evaluate(WATCH_PHOTO)
        with phone.page.expect_file_chooser() as chooser:
            phone.page.locator("label", has_text="Far photo").tap()
        chooser.value.set_files({"name": "far.jpg", "mimeType": "image/jpeg", "buffer": picture})
        times.append(phone.page.evaluate(COME, "measured"))
        phone.tap("Save", exact=True)
        phone.page.wait_for_selector(".drawing")

    tell(f"photo ({len(picture) / 1e6:.1f} MB) to durable, p95", p95(times), 400, "ms")
    assert len(times) == 10


def test_cold_start(phone, server):
    phone.sign_in()
    server.stop()
    times = []
    for _ in range(10):
        phone.close()
        phone.restart()
        slow(phone)
        phone.page.add_init_script(f"({SHOWN})()")
        phone.open()
        times.append(phone.page.evaluate(COME, "shown"))

    tell("cold start, server stopped, p95", p95(times), 2000, "ms")
    assert len(times) == 10


def test_drain(phone, server):
    at_the_drawing(phone)
    begun = next(row for row in phone.stored("operations") if row["kind"] == "inspection_begun")
    phone.sync()
    phone.expect_all_sent()
    server.stop()
    phone.page.evaluate(RECORD, [500, begun["unit"], begun["id"]])
    session = slow(phone, 1)
    network = {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 200_000}
    session.send("Network.enable")
    session.send("Network.emulateNetworkConditions", network)
    phone.page.reload()
    server.start()
    phone.open("#/outbox")
    began = time.perf_counter()
    phone.tap(re.compile("^Sync"))
    phone.expect_all_sent(timeout=120_000)

    tell("500 operations drained over 150 ms and 1.6 Mbit/s", time.perf_counter() - began, 10, "s")
    assert len(phone.stored("verdicts")) >= 500


def test_size():
    scripts = [*PWA.rglob("*.js")]
    packed = sum(len(gzip.compress(path.read_bytes(), 9)) for path in scripts)

    tell(f"all {len(scripts)} scripts, gzip", packed / 1000, 80, "kB")
    assert scripts
