"""The plant's server for every web test; PINs are hashed cheaply, which the tests of the hashing itself are not."""

import pytest

from qc.store import pins
from tests.web.plant_server import PlantServer


@pytest.fixture(autouse=True)
def _cheap_hashes(monkeypatch):
    monkeypatch.setattr(pins, "_PIN", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
    monkeypatch.setattr(pins, "_PASSPHRASE", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))


@pytest.fixture
def server(tmp_path):
    server = PlantServer(tmp_path / "plant")
    yield server
    server.house.close()
