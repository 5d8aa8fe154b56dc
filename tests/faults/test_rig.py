"""The short form of the fault rig; `python -m tests.faults.rig` is the long one."""

import socket

import pytest

from tests.faults import rig


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def test_phones_lose_nothing_while_the_server_is_killed_paused_and_locked_out(tmp_path, capsys):
    assert rig.main([str(tmp_path), str(free_port()), "--rounds", "3", "--seeds", "7"]) == 0, capsys.readouterr().out
    assert (tmp_path / "history.jsonl").read_text(encoding="utf-8").count('"round"') == 3


@pytest.mark.long
def test_many_rounds(tmp_path, capsys):
    assert rig.main([str(tmp_path), str(free_port()), "--rounds", "40", "--seeds", "1,2"]) == 0, capsys.readouterr().out


def test_what_was_acknowledged_and_is_gone_is_seen(tmp_path):
    """The rig's own eyes: a phone that was told of a row that nobody stored."""
    history = rig.History(tmp_path / "history.jsonl")
    rig.make_folder(tmp_path / "plant")
    phone = rig.Phone(rig.Server(tmp_path / "plant", 1, history), 0, rig.random.Random(1))
    rig.look(tmp_path / "plant", [phone])
    phone.acknowledged["01900000-0000-7000-8000-000000000000"] = 4

    with pytest.raises(rig.Broken, match="acknowledged as row 4"):
        rig.look(tmp_path / "plant", [phone])
