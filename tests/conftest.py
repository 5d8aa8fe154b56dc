"""Settings for every test: its time limit, and that a failure is told when it happens; the one driver of Chromium.

Properties are not timed, since a first import or a busy machine is no fault.
"""

import gc
import os
import re
import shutil
from collections import defaultdict
from collections.abc import Generator, Iterator
from functools import cache
from pathlib import Path

import pytest
from hypothesis import settings

from qc.domain.words.speaking import ENGLISH, speak

settings.register_profile("suite", deadline=None)
settings.load_profile("suite")


def pytest_configure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):  # a worker has nobody to tell; its reports come here
        config.pluginmanager.register(ToldAtOnce(config), "told-at-once")
        config.pluginmanager.register(CostOfRooms(), "cost-of-rooms")


# The rooms and files that take long go first, so that workers side by side end together: a file is never divided.
SLOW = (
    *("browser", "first_monday", "truth", "recount", "demo", "faults"),
    *("web/test_stalled_clients.py", "web/test_server.py"),  # they wait, half a minute, while another worker works
    *("test_failures_are_told.py", "store/test_summaries.py"),  # of the longest, and else the last to begin
)


@pytest.hookimpl(tryfirst=True)  # before those are left out whose marks are not asked for
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what drives a browser; put what is slow first; leave out the long forms unless -m names them.

    The long forms have no limit of time then.
    """
    for item in items:
        if "chromium" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.browser)
    tests = Path(__file__).parent
    rank = {name: at for at, name in enumerate(SLOW)}

    @cache
    def place(path: Path) -> int:
        file = path.relative_to(tests)
        return rank.get(file.parts[0], rank.get(file.as_posix(), len(SLOW)))

    items.sort(key=lambda item: place(item.path))
    long = [item for item in items if item.get_closest_marker("long")]
    for item in long:
        item.add_marker(pytest.mark.timeout(0))
    if "long" not in re.findall(r"\w+", config.option.markexpr):
        items[:] = [item for item in items if item not in long]
        config.hook.pytest_deselected(items=long)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Let the collector rest while tests are gathered, and leave what was gathered out of its later rounds.

    All of it stays, and each round looked through millions of it.
    """
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


@pytest.fixture(scope="session")
def chromium() -> str:
    """Path of Chromium. Without one the browser tests are left out and say so; on the build server they fail."""
    from tests.driving import found_chromium

    path = found_chromium()
    if path is None or shutil.which("certutil") is None:
        words = "no Chromium or no certutil (package libnss3-tools) here: the browser tests are left out"
        if os.environ.get("CI") == "true":
            pytest.fail(words)
        pytest.skip(words)
    return path


@pytest.fixture(scope="session")
def playwright_driver() -> Iterator["Playwright"]:  # noqa: F821 (imported on use)
    """The driver, of which a process can hold one at a time."""
    from playwright.sync_api import expect, sync_playwright

    from tests.driving import SEEN_MS

    expect.set_options(timeout=SEEN_MS)
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def browser(playwright_driver, chromium) -> Iterator["Browser"]:  # noqa: F821 (imported on use)
    """A running Chromium for pages that need no profile of their own."""
    from tests.driving import FLAGS

    running = playwright_driver.chromium.launch(executable_path=chromium, args=FLAGS)
    yield running
    running.close()


class ToldAtOnce:
    """Prints each failed test with its error as it fails: a run that is cut off still says which tests failed."""

    def __init__(self, config: pytest.Config) -> None:
        self.config = config

    @pytest.hookimpl(trylast=True)
    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        terminal = self.config.pluginmanager.get_plugin("terminalreporter")
        if not report.failed or terminal is None:
            return
        when = "" if report.when == "call" else f" ({report.when})"
        terminal.write_line(f"\nfailed: {report.nodeid}{when}: {last_error(report)}")
        terminal.flush()


class CostOfRooms:
    """Says at the end how long each room's tests took, waiting included, whichever worker ran them."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = defaultdict(float)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        parts = Path(report.location[0]).parts
        self.seconds[parts[1] if len(parts) > 2 else "tests"] += report.duration

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        if sum(self.seconds.values()) > 60:
            dear = sorted(self.seconds.items(), key=lambda item: -item[1])
            terminalreporter.write_line("seconds by room: " + ", ".join(f"{room} {cost:.0f}" for room, cost in dear))


def last_error(report: pytest.TestReport) -> str:
    """Return the first line of what was raised last, on one line; all that is known where nothing was raised here."""
    crash = getattr(report.longrepr, "reprcrash", None)
    words = crash.message if crash else report.longreprtext.strip()
    return next((line.strip() for line in words.splitlines() if line.strip()), "no error was told")[:400]


@pytest.fixture(autouse=True)
def _english_again() -> Iterator[None]:
    """A test's client answers in the test's own thread, which goes on speaking as the last page did."""
    yield
    speak(ENGLISH)
