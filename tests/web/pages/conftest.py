"""A record that has lived a little, for every page's tests."""

import pytest

from tests.web.pages.lived_in import LivedIn


@pytest.fixture
def lived(server):
    """The lived-in record; its server is ``lived.server``, the clock stands on the Monday after."""
    return LivedIn(server).live()
