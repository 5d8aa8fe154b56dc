"""Each planted fault is caught by the invariant that its line names; without one every invariant holds."""

import shutil
import subprocess
import sys

import pytest

from qc.store.people import pins
from tests.faults.planted import FAULTS
from tests.faults.round import broken
from tests.faults.test_killed import ROOT
from tests.faults.test_strace_order import BATCHES, named

SEEN_BY_A_ROUND = [name for name, fault in FAULTS.items() if not fault.breaks.endswith(".py")]


@pytest.fixture(autouse=True)
def quick_hashes(monkeypatch):
    monkeypatch.setattr(pins, "_PIN", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
    monkeypatch.setattr(pins, "_PASSPHRASE", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))


def test_without_a_fault_every_invariant_holds(tmp_path):
    assert broken(tmp_path / "plant") == {}


@pytest.mark.parametrize("name", SEEN_BY_A_ROUND)
def test_a_planted_fault_is_caught(name, tmp_path, monkeypatch):
    FAULTS[name].plant(monkeypatch)

    assert FAULTS[name].breaks in broken(tmp_path / "plant")


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed on this machine")
def test_a_missing_sync_is_caught_by_the_order_of_the_calls(tmp_path):
    trace = tmp_path / "trace"
    command = ["strace", "-f", "-y", "-o", str(trace), "-e", "trace=pwrite64,write,fdatasync,fsync"]
    process = [sys.executable, "-m", "tests.faults.planted", "no sync", str(tmp_path / "data"), "e1", str(BATCHES)]
    done = subprocess.run([*command, *process], capture_output=True, text=True, cwd=ROOT)
    if "ptrace" in done.stderr.lower() and done.returncode:
        pytest.skip(f"strace may not trace here: {done.stderr.strip()[:120]}")
    assert done.returncode == 0, done.stderr
    order = [name for line in trace.read_text().split("\n") if (name := named(line))]

    assert order.count("told") == BATCHES
    assert order.count("sync") < BATCHES
