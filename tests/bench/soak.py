"""An ordinary hour at a plant's server: `python -m tests.bench.soak [--minutes 60] [--phones 12]`.

Each phone pushes 5 operations every few seconds, goes on to another unit after 30, and sends a photo now and then; two
dashboards read the manager's pages. Once a minute it prints the server's memory (resident, of the process that holds
the record), its open files and threads, the size of the write-ahead log and of the record. At the end: how the memory
grows over the second half, the largest log, every status, the counts held against what was sent. Aims: memory that does
not grow with the record, a log below 64 MB, no 5xx, exact counts. Say beside its figures for how long it ran.
"""

import argparse
import os
import random
import sqlite3
import subprocess
import tempfile
import threading
import time
from contextlib import closing
from pathlib import Path
from statistics import linear_regression

from qc.store.record.connection import RECORD
from tests.bench import load
from tests.web.test_server import Served

EVERY_SECONDS = 3.0
PHOTO_SHARE = 0.1
PUSHES_A_UNIT = 6
SAMPLE_SECONDS = 10


def phone(served, signed, units, tally, stop: threading.Event, seed: int) -> None:
    """Push and send until told to stop; what could not be sent is sent again."""
    chance, sent, unit = random.Random(seed), 0, ""
    while not stop.is_set():
        if sent % (PUSHES_A_UNIT * load.BATCH) == 0:
            unit = units.pop()
        body = load.batch_of(signed, unit, 1 + sent)
        while tally.ask(served, "push", "POST", "/api/v1/push", body, load.headers_of(signed)) != 200:
            time.sleep(0.5)
        sent += load.BATCH
        if chance.random() < PHOTO_SHARE:
            load.send_photo(served, signed, load.picture_of(chance.randrange(10**9)), tally)
        stop.wait(chance.uniform(0.5, 1.5) * EVERY_SECONDS)


def holder(served: Served) -> int:
    """Return the number of the process that holds the record: the largest child of the command."""
    asked = ["ps", "-o", "pid=,rss=", "--ppid", str(served.process.pid)]
    rows = subprocess.run(asked, capture_output=True, text=True, check=True).stdout.split("\n")
    return int(max((line.split() for line in rows if line.strip()), key=lambda row: int(row[1]))[0])


def memory_mb(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text()
    return int(status.split("VmRSS:")[1].split()[0]) / 1024


def watched(pid: int, data: Path, minutes: float) -> tuple[list[tuple[float, float]], float]:
    """Return minutes and megabytes of memory, sample by sample, and the largest log seen in megabytes."""
    began, memory, largest, told = time.monotonic(), [], 0.0, 0
    while (now := (time.monotonic() - began) / 60) < minutes:
        log = data / f"{RECORD}-wal"
        largest = max(largest, log.stat().st_size / 1e6 if log.exists() else 0.0)
        memory.append((now, memory_mb(pid)))
        if now >= told:
            files, threads = (len(os.listdir(f"/proc/{pid}/{what}")) for what in ("fd", "task"))
            size = (data / RECORD).stat().st_size / 1e6
            words = f"log at most {largest:.1f} MB, record {size:.0f} MB, load {os.getloadavg()[0]:.1f}"
            print(f"{now:5.1f} min  {memory[-1][1]:6.1f} MB, {files} files, {threads} threads, {words}", flush=True)
            told += 1
        time.sleep(SAMPLE_SECONDS)
    return memory, largest


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--minutes", type=float, default=60)
    asked.add_argument("--phones", type=int, default=12)
    given = asked.parse_args()
    load.BATCH = 5
    with tempfile.TemporaryDirectory() as room:
        data = Path(room) / "plant"
        units = load.made(data, round(given.phones * (2 + given.minutes * 60 / EVERY_SECONDS / PUSHES_A_UNIT)))
        with Served(data) as served:
            signed = [served.sign_in() for _ in range(given.phones)]
            cookie, tally, stop = load.cookie_of(served), load.Tally(), threading.Event()
            threads = [
                threading.Thread(target=phone, args=(served, one, units, tally, stop, seed))
                for seed, one in enumerate(signed)
            ] + [
                threading.Thread(target=load.dashboard, args=(served, cookie, at, stop, tally, 5.0)) for at in range(2)
            ]
            for thread in threads:
                thread.start()
            memory, largest = watched(holder(served), data, given.minutes)
            stop.set()
            for thread in threads:
                thread.join()
            served.stop()
        with closing(sqlite3.connect(data / RECORD)) as conn:
            kept = conn.execute("SELECT (SELECT count(*) FROM defect), (SELECT count(*) FROM photo)").fetchone()
    later = memory[len(memory) // 2 :]
    slope = linear_regression(*zip(*later, strict=True)).slope * 60
    sent = (tally.statuses["push", 200] * load.BATCH, tally.statuses["photo", 204])
    print(f"{given.minutes:g} minutes; memory in the second half {slope:+.1f} MB an hour; log at most {largest:.1f} MB")
    for name, seconds in tally.seconds.items():
        load.printed(name, seconds)
    print("statuses", {f"{what} {status}": many for (what, status), many in sorted(tally.statuses.items())})
    print("defects and photos kept", kept, "sent", sent, "exact" if kept == sent else "NOT EXACT")


if __name__ == "__main__":
    main()
