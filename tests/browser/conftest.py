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


@pytest.fixture(scope="session")
def opened_once(
    certificate,
    playwright_driver,
    chromium,
    trusting_home,
    tmp_path_factory,
) -> Callable[[Path, bool], "OpenedOnce"]:  # noqa: F821 (imported on use)
    """Makes, once for each filled folder, what it is after a phone was enrolled and opened the app; both are copied.

    And, where asked, after Inspector One signed in there. To enrol, load and install the app and to sign in again for
    each test costs more than most tests.
    """
    from tests.browser.phone import Phone
    from tests.browser.plant_server import OpenedOnce, PlantServer, copy_of

    known: dict[tuple[Path, bool], OpenedOnce] = {}

    def of(filled: Path, signed_in: bool) -> OpenedOnce:
        if (filled, signed_in) not in known:
            place = tmp_path_factory.mktemp("opened-once")
            if signed_in:
                served = of(filled, False).again(place, certificate)
            else:
                served = PlantServer(copy_of(filled, place / "data"), certificate)
            profile = served.knows or place / "profile"
            served.start()
            phone = Phone.start(playwright_driver, chromium, trusting_home, profile, served)
            if signed_in:
                phone.open()
                phone.sign_in()
                phone.expect_all_sent()
            else:
                phone.open_first()
            phone.close()
            served.stop()
            assert phone.errors == []
            known[filled, signed_in] = OpenedOnce(served.folder, profile, served.port)
        return known[filled, signed_in]

    return of


@pytest.fixture
def signed_in(request) -> bool:
    """Whether the test is marked to begin on a phone at which Inspector One has signed in."""
    return request.node.get_closest_marker("signed_in") is not None


@pytest.fixture
def server(request, filled_folder, signed_in, certificate, tmp_path) -> Iterator["PlantServer"]:  # noqa: F821 (imported on use)
    """A running server over HTTPS with its own data folder, which knows the phone of a test that asks for one."""
    from tests.browser.plant_server import PlantServer, copy_of

    if "phone" in request.fixturenames:
        served = request.getfixturevalue("opened_once")(filled_folder, signed_in).again(tmp_path, certificate)
    else:
        served = PlantServer(copy_of(filled_folder, tmp_path / "data"), certificate)
    served.start()
    yield served
    served.stop()


@pytest.fixture
def new_phone(playwright_driver, chromium, trusting_home, tmp_path, server) -> Iterator[Callable[..., "Phone"]]:  # noqa: F821
    """Makes phones, each with its own profile; all are closed at the end and none may have met a script error."""
    from tests.browser.phone import Phone

    phones: list[Phone] = []

    def make_phone(profile: Path | None = None) -> Phone:
        profile = profile or tmp_path / f"phone-{len(phones)}"
        phones.append(Phone.start(playwright_driver, chromium, trusting_home, profile, server))
        return phones[-1]

    yield make_phone
    errors = [error for phone in phones for error in phone.errors]
    for phone in phones:
        phone.close()
    assert errors == []


@pytest.fixture
def phone(new_phone, server, signed_in) -> "Phone":  # noqa: F821
    """One phone that opened the app once, so that it starts without signal, with the app on its screen."""
    if server.knows is None:
        one = new_phone()
        one.open_first()
        return one
    one = new_phone(server.knows)
    one.open()
    if signed_in:
        one.expect_units()
    else:
        one.expect_sign_in()
    return one
