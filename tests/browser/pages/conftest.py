"""The pages in a real Chromium: a lived-in record served on loopback, a desk and a phone."""

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

DESK = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
ROOT = Path(__file__).parents[3]


@contextmanager
def served(plant: "PlantServer") -> Iterator[str]:  # noqa: F821 (imported on use)
    """Serve a plant in this process over plain HTTP on a free loopback port, and yield its address; it is closed."""
    from werkzeug.serving import make_server

    server = make_server("127.0.0.1", 0, plant.app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.port}"
    server.shutdown()
    thread.join()
    server.server_close()
    plant.house.close()


@pytest.fixture(scope="session")
def site(tmp_path_factory) -> Iterator["Site"]:  # noqa: F821 (imported on use)
    """A record that has lived three weeks, served to all tests of a session."""
    from tests.browser.pages.browsing import Site
    from tests.web.pages.lived_in import LivedIn
    from tests.web.plant_server import PlantServer, cheap_hashes

    with cheap_hashes():
        plant = PlantServer(tmp_path_factory.mktemp("pages") / "plant")
        lived = LivedIn(plant).live()
    with served(plant) as address:
        yield Site(address, lived)


@pytest.fixture
def open_as(browser, site):
    """Opens a browser of one size with one person signed in; none may have met a script error or a policy's no."""
    from tests.browser.pages.browsing import Visitor

    visitors: list[Visitor] = []

    def open_one(role: str, size: dict[str, int], **settings: object) -> Visitor:
        visitors.append(Visitor.sign_in(browser, site, role, size, **settings))
        return visitors[-1]

    yield open_one
    errors = [error for visitor in visitors for error in visitor.errors]
    for visitor in visitors:
        visitor.context.close()
    assert errors == []


@pytest.fixture(scope="session")
def axe() -> str:
    """The accessibility checker's script, from DAYBAY_AXE or node_modules; left out where there is none."""
    named = os.environ.get("DAYBAY_AXE")
    path = Path(named) if named else ROOT / "node_modules" / "axe-core" / "axe.min.js"
    if not path.is_file():
        words = f"no axe-core at {'DAYBAY_AXE' if named else 'node_modules'}: the accessibility check is left out"
        if os.environ.get("CI") == "true":
            pytest.fail(words)
        pytest.skip(words)
    return path.read_text(encoding="utf-8")
