"""One plant for each module of attacks, with its cast, a unit and a photo; PINs are hashed cheaply."""

import pytest

from tests.web.plant_server import CAST, PlantServer, cheap_hashes, picture

PHOTO = picture(32, 24)


@pytest.fixture(scope="module")
def attacked(tmp_path_factory):
    """A server whose phones are signed in, one for each role that has one: attacked.phones[role]."""
    with cheap_hashes():
        server = PlantServer(tmp_path_factory.mktemp("attacked") / "plant")
        planner = server.phone("planner")
        planner.push(planner.plan())
        assert planner.upload(PHOTO).status_code == 204
        server.phones = {role: server.phone(role) for role in CAST if role != "administrator"}
        token = server.house.machines.make("all-scopes", ("plan", "read"), CAST["planner"].code)
        server.bearers = {role: phone.headers for role, phone in server.phones.items()}
        server.bearers["machine"] = {"Authorization": f"Bearer {token}"}
        yield server
        server.house.close()
