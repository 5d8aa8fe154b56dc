"""Each acknowledgement comes after the sync of its bytes. A kill cannot show a missing sync: the kernel lives on."""

import re
import shutil
import subprocess
import sys

import pytest

from tests.faults.test_killed import PUSHING, ROOT

BATCHES = 12

pytestmark = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed on this machine")


def calls(tmp_path):
    """Return the process's calls in order: "wal" for a write to the WAL, "sync" for its sync, "told" for an answer."""
    trace = tmp_path / "trace"
    command = ["strace", "-f", "-y", "-o", str(trace), "-e", "trace=pwrite64,write,fdatasync,fsync"]
    process = [sys.executable, str(PUSHING), str(tmp_path / "data"), "e1", str(BATCHES)]
    done = subprocess.run([*command, *process], capture_output=True, text=True, cwd=ROOT)
    if "ptrace" in done.stderr.lower() and done.returncode:
        pytest.skip(f"strace may not trace here: {done.stderr.strip()[:120]}")
    assert done.returncode == 0, done.stderr
    return [name for line in trace.read_text().split("\n") if (name := named(line))]


def named(line):
    if re.search(r"p?write(64)?\(\d+<[^>]*record\.sqlite-wal>", line):
        return "wal"
    if re.search(r"f(data)?sync\(\d+<[^>]*record\.sqlite-wal>", line):
        return "sync"
    # An answer: ids of operations on standard output, which is a pipe here.
    return "told" if re.search(r"write\(1<[^>]*>, \"[0-9a-f]{8}-", line) else None


def test_each_acknowledgement_follows_the_sync_of_its_bytes(tmp_path):
    order = calls(tmp_path)

    told = [place for place, name in enumerate(order) if name == "told"]
    assert len(told) == BATCHES
    before = 0
    for place in told:
        since = order[before:place]
        assert "wal" in since, "an answer without a write"
        last_write = len(since) - 1 - since[::-1].index("wal")
        assert "sync" in since[last_write:], f"answer {told.index(place) + 1} came before its bytes were synced"
        before = place + 1
