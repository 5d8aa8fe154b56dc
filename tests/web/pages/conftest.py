"""A record that has lived a little, for every page's tests."""

import pytest

from tests.web.pages.lived_in import LivedIn, lay_lived_in
from tests.web.plant_server import PlantServer


@pytest.fixture
def server(tmp_path, request):
    """The plant's server, on the lived-in record where the test asks for that."""
    if "lived" in request.fixturenames:
        lay_lived_in(tmp_path / "plant")
    server = PlantServer(tmp_path / "plant")
    yield server
    server.house.close()


@pytest.fixture
def lived(server):
    """The lived-in record; its server is ``lived.server``, the clock stands on the Monday after."""
    return LivedIn(server).lived()
