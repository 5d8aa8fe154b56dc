"""One plant for each module of attacks, with its cast, a unit and a photo; PINs are hashed cheaply."""

import pytest

from qc.store import pins
from tests.web.plant_server import CAST, PlantServer, picture

PHOTO = picture(32, 24)


@pytest.fixture(scope="module")
def attacked(tmp_path_factory):
    """A server whose phones are signed in, one for each role that has one: attacked.phones[role]."""
    with pytest.MonkeyPatch.context() as patched:
        cheap = pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
        patched.setattr(pins, "_PIN", cheap)
        patched.setattr(pins, "_PASSPHRASE", cheap)
        server = PlantServer(tmp_path_factory.mktemp("attacked") / "plant")
        planner = server.phone("planner")
        planner.push(planner.plan())
        assert planner.upload(PHOTO).status_code == 204
        server.phones = {role: server.phone(role) for role in CAST if role != "administrator"}
        yield server
        server.house.close()
