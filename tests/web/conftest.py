"""The plant's server for every web test; PINs are hashed cheaply, which the tests of the hashing itself are not."""

import pytest

from tests.web.plant_server import PlantServer, cheap_hashes


@pytest.fixture(autouse=True)
def _cheap_hashes():
    with cheap_hashes():
        yield


@pytest.fixture
def server(tmp_path):
    server = PlantServer(tmp_path / "plant")
    yield server
    server.house.close()
