"""What the browser tests share: a certificate that Chromium trusts, a served plant, phones."""

import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from qc.web.certificate import Files, make


@pytest.fixture(scope="session")
def certificate(tmp_path_factory) -> Files:
    """A certificate for localhost under a test root."""
    return make(tmp_path_factory.mktemp("certificate"), ("localhost",))


@pytest.fixture(scope="session")
def trusting_home(tmp_path_factory, certificate) -> Path:
    """A home folder whose private certificate store trusts the test root.

    Nothing is told to ignore certificate errors: that would hide that a service worker fails under them.
    """
    home = tmp_path_factory.mktemp("home")
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    database = f"sql:{store}"
    subprocess.run(["certutil", "-d", database, "-N", "--empty-password"], check=True)
    trust = ["-A", "-t", "C,,", "-n", "test root", "-i", str(certificate.root)]
    subprocess.run(["certutil", "-d", database, *trust], check=True)
    return home


@pytest.fixture(scope="session")
def filled_folder(tmp_path_factory) -> Path:
    """A data folder that is copied for each test, never served itself."""
    from tests.browser.plant_server import fill

    folder = tmp_path_factory.mktemp("plant") / "data"
    fill(folder)
    return folder


@pytest.fixture
def server(filled_folder, certificate, tmp_path) -> Iterator["PlantServer"]:  # noqa: F821 (imported on use)
    """A running server over HTTPS with its own data folder."""
    from tests.browser.plant_server import PlantServer, copy_of

    served = PlantServer(copy_of(filled_folder, tmp_path / "data"), certificate)
    served.start()
    yield served
    served.stop()


@pytest.fixture
def new_phone(playwright_driver, chromium, trusting_home, tmp_path, server) -> Iterator[Callable[[], "Phone"]]:  # noqa: F821
    """Makes phones, each with its own profile; all are closed at the end and none may have met a script error."""
    from tests.browser.phone import Phone

    phones: list[Phone] = []

    def make_phone() -> Phone:
        profile = tmp_path / f"phone-{len(phones)}"
        phones.append(Phone.start(playwright_driver, chromium, trusting_home, profile, server))
        return phones[-1]

    yield make_phone
    errors = [error for phone in phones for error in phone.errors]
    for phone in phones:
        phone.close()
    assert errors == []


@pytest.fixture
def phone(new_phone) -> "Phone":  # noqa: F821
    """One phone with the app opened once, so that it starts without signal."""
    one = new_phone()
    one.open_first()
    return one
