"""An open journal and its clock, for the tests that send operations through the record's door."""

import pytest

from tests.store.record_kit import Clock, open_journal


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def journal(tmp_path, clock):
    with open_journal(tmp_path, clock) as journal:
        yield journal
