"""How soon the first screen of the review is painted with the processor slowed four times; aim: 600 ms.

    python -m tests.bench.review_paint [--folder demo-plant] [--weeks 26]

It plays the invented plant into a folder of its own, or copies a played one, serves it and opens the review anew each
time, its styles and scripts kept as a browser keeps them. The server's own answer, which another processor may make,
stands apart. It is no test: times depend on the machine, so the load stands beside them.
"""

import argparse
import os
import shutil
import statistics
import tempfile
import threading
from pathlib import Path

from playwright.sync_api import Page, sync_playwright
from werkzeug.serving import make_server

from qc.demo.folder import make_demo
from qc.web.app import create_app
from qc.web.house import open_house
from qc.web.warm import warm
from tests.driving import found_chromium

SLOWER, ROUNDS, AIM_MS = 4, 7, 600
SIZES = {"desk": (1280, 800), "phone": (390, 844)}
FIRST_MS = 180_000  # the first review counts every day anew, on a machine that others use too
SECRET = "seven blue tyres"
PAINTED = """() => new Promise((resolve) => new PerformanceObserver((list, observer) => {
  const paint = list.getEntriesByName("first-contentful-paint")[0];
  if (!paint) return;
  observer.disconnect();
  const asked = performance.getEntriesByType("navigation")[0];
  resolve([asked.responseStart, paint.startTime]);
}).observe({ type: "paint", buffered: true }))"""


def opened(page: Page, address: str) -> tuple[float, float]:
    """Return when the first byte of a page came and when its first screen was painted, ms after it was asked for."""
    page.goto("about:blank")
    page.goto(address, wait_until="commit")  # a desk's charts, drawn after it, are not waited for
    answered, painted = page.evaluate(PAINTED)
    return answered, painted


def measure(address: str) -> None:
    """Print the median and the slowest of some openings at a desk's size and a phone's."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=found_chromium(), args=["--no-sandbox", "--disable-gpu"])
        for name, (width, height) in SIZES.items():
            page = browser.new_page(viewport={"width": width, "height": height})
            page.set_default_timeout(FIRST_MS)
            page.goto(f"{address}/sign-in?next=/paper")
            page.get_by_label("Your code").fill("QM1")
            page.get_by_label("PIN or passphrase").fill(SECRET)
            page.get_by_role("button", name="Sign in").click()
            page.locator(".head .who").wait_for()
            page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
            opened(page, f"{address}/review")  # counts what is dirty, and fills the cache
            times = [opened(page, f"{address}/review") for _ in range(ROUNDS)]
            own = [painted - answered for answered, painted in times]
            print(
                f"{name:<6} aim {AIM_MS} ms  painted after the answer: median {statistics.median(own):5.0f}, slowest "
                f"{max(own):5.0f} ms  with the server: median {statistics.median([one for _, one in times]):5.0f} ms"
            )
        browser.close()


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--folder", type=Path)
    asked.add_argument("--weeks", type=int, default=26)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "plant"
        if given.folder:
            shutil.copytree(given.folder, folder, ignore=shutil.ignore_patterns("writer.lock"))
        else:
            make_demo(folder, 20260302, given.weeks, lambda _: None)
        house = open_house(folder)
        house.people.change_secret("QM1", SECRET)
        app = create_app(house)
        warm(app)
        server = make_server("127.0.0.1", 0, app, threaded=True)
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        try:
            print(f"processor slowed {SLOWER} times; load of this machine {os.getloadavg()[0]:.1f}")
            measure(f"http://127.0.0.1:{server.port}")
        finally:
            server.shutdown()
            thread.join()
            server.server_close()
            house.close()


if __name__ == "__main__":
    main()
