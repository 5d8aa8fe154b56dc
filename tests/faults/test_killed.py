"""Killed at any moment, the record holds everything that was acknowledged, once, and its chain is whole."""

import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from qc.store.checking.verify import verify

PUSHING = Path(__file__).parent / "pushing_process.py"
ROOT = PUSHING.parent.parent.parent


def killed_round(folder, epoch, seconds):
    """Push in a process of its own, kill it with SIGKILL after a while; return the ids that it had acknowledged."""
    command = [sys.executable, str(PUSHING), str(folder), epoch]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        time.sleep(seconds)
        process.send_signal(signal.SIGKILL)
        lines = process.stdout.read().split("\n")
    whole = lines[:-1]  # the last line may have been cut by the kill
    return [id_ for line in whole for id_ in line.split()]


def stored_ids(folder):
    with closing(sqlite3.connect(folder / "record.sqlite")) as conn:
        return [id_ for (id_,) in conn.execute("SELECT id FROM journal")]


def killed_rounds(folder, rounds, seed):
    chance = random.Random(seed)
    acknowledged: list[str] = []
    for number in range(rounds):
        acknowledged += killed_round(folder, f"e{number}", chance.uniform(0.02, 0.3))
        stored = stored_ids(folder)
        assert set(acknowledged) <= set(stored)
        assert len(stored) == len(set(stored))
    return acknowledged


def test_what_was_acknowledged_survives_being_killed(tmp_path):
    acknowledged = killed_rounds(tmp_path, 3, 1)

    report = verify(tmp_path)
    assert len(acknowledged) > 20
    assert report.is_whole, report


@pytest.mark.long
def test_what_was_acknowledged_survives_being_killed_many_times(tmp_path):
    killed_rounds(tmp_path, 100, 2)

    assert verify(tmp_path).is_whole
