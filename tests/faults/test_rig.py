"""The short form of the fault rig; `python -m tests.faults.rig` is the long one."""

import json
import subprocess

import pytest

from tests.faults import rig
from tests.faults.rig_phone import Phone
from tests.faults.rig_rounds import ROUNDS
from tests.faults.rig_server import Broken, History, Server, make_folder
from tests.ports import free_port


def played(folder, how, rounds=None, seeds="7"):
    """Play rounds of these kinds, each once in turn where nothing else is asked; return what the history tells."""
    history = folder.with_name(f"{folder.name}.jsonl")  # beside it: the folder's disk may be full
    asked = [str(folder), str(free_port()), "--history", str(history), "--how", ",".join(how), "--seeds", seeds]
    asked += ["--rounds", str(rounds or len(how))]
    came = rig.main(asked)
    lines = [json.loads(line) for line in history.read_text(encoding="utf-8").splitlines()]
    assert came == 0, [line for line in lines if line["what"] not in ("pushed", "held")][-8:]
    return lines


def test_phones_lose_nothing_whatever_befalls_the_server(tmp_path):
    lines = played(tmp_path, [how for how in ROUNDS if how != "small_disk"])

    assert [line["how"] for line in lines if line["what"] == "round"] == [how for how in ROUNDS if how != "small_disk"]
    failed = {line["error"]: line["many"] for line in lines if line["what"] == "failed calls" and not line["refused"]}
    assert all(failed.values()), failed  # a fault that met nobody proves nothing
    assert lines[-1]["what"] == "whole"
    assert lines[-1]["photos"] > 0


def test_phones_lose_nothing_where_the_last_byte_of_a_disk_is_taken(tmp_path):
    """On a file system of 64 MB, which only root may mount."""
    place = tmp_path / "small"
    place.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", str(place)], capture_output=True)
    if mounted.returncode:
        pytest.skip(f"a small file system cannot be mounted here: {mounted.stderr.decode().strip()[:100]}")
    try:
        lines = played(place, ["small_disk", "kill", "small_disk"])
    finally:
        subprocess.run(["umount", str(place)], check=True)

    assert [line for line in lines if line["what"] == "left out"] == []
    assert {line["status"] for line in lines if line["what"] == "pushed"} & {503, 507}


@pytest.mark.long
def test_many_rounds(tmp_path):
    played(tmp_path, [*rig.OFTEN, *ROUNDS], rounds=40, seeds="1,2")


def test_what_was_acknowledged_and_is_gone_is_seen(tmp_path):
    """The rig's own eyes: a phone that was told of a row that nobody stored, and of a photo that nobody keeps."""
    history = History(tmp_path / "history.jsonl")
    make_folder(tmp_path / "plant")
    phone = Phone(Server(tmp_path / "plant", 1, history), 0, rig.random.Random(1))
    rig.look(tmp_path / "plant", [phone])
    phone.held = {"0" * 64}
    with pytest.raises(Broken, match="said to be held"):
        rig.look(tmp_path / "plant", [phone])
    phone.held, phone.acknowledged["01900000-0000-7000-8000-000000000000"] = set(), 4
    with pytest.raises(Broken, match="acknowledged as row 4"):
        rig.look(tmp_path / "plant", [phone])
