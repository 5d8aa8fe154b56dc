"""Ports that tests' servers keep while they are down: no worker takes another's."""

from tests.ports import SIDE_BY_SIDE, free_port


def test_workers_side_by_side_take_ports_of_their_own(monkeypatch):
    taken = []
    for worker in ("gw0", "gw1", f"gw{SIDE_BY_SIDE - 1}"):
        monkeypatch.setenv("PYTEST_XDIST_WORKER", worker)
        taken.append({free_port() % SIDE_BY_SIDE for _ in range(8)})

    assert [len(each) for each in taken] == [1, 1, 1]
    assert len(set.union(*taken)) == 3
