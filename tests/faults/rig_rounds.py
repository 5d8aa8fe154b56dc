"""What befalls the server in a round of the fault rig. Each leaves it serving again, of itself unless it was ended."""

import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from tests.faults.rig_phone import Phone
from tests.faults.rig_server import QC, Broken, Server

Round = Callable[[Server, list[Phone], random.Random], None]
DAY = 86_400
MET_SECONDS = 20.0
SMALL_FILE = 2_000  # bytes that a file may have, where none may grow


def kill(server: Server, phones: list[Phone], chance: random.Random) -> None:
    server.kill()
    server.begin()


def pause(server: Server, phones: list[Phone], chance: random.Random) -> None:
    server.signal(signal.SIGSTOP)
    time.sleep(chance.uniform(0.1, 0.5))
    server.signal(signal.SIGCONT)


def lock(server: Server, phones: list[Phone], chance: random.Random) -> None:
    """Another program has the record open for writing."""
    with closing(sqlite3.connect(server.folder / "record.sqlite", isolation_level=None)) as foreign:
        foreign.execute("BEGIN IMMEDIATE")
        time.sleep(chance.uniform(0.1, 0.5))
        foreign.execute("ROLLBACK")


def clock(server: Server, phones: list[Phone], chance: random.Random) -> None:
    """The machine's clock is set ahead or back while phones push, and right again; one of three ends in between."""
    server.jump(chance.choice([-400 * DAY, -3 * DAY, -3600, 3600, 3 * DAY, 400 * DAY]))
    time.sleep(chance.uniform(0.2, 0.6))
    if chance.random() < 1 / 3:
        kill(server, phones, chance)
        time.sleep(0.3)
    server.jump(0)


def full(server: Server, phones: list[Phone], chance: random.Random) -> None:
    """The record's disk is full for a while: every write of its files is told ENOSPC."""
    _failing_calls(server, chance, "pwrite64", "ENOSPC")


def unsynced(server: Server, phones: list[Phone], chance: random.Random) -> None:
    """The record's disk fails: every sync of its files is told EIO."""
    _failing_calls(server, chance, "fdatasync,fsync", "EIO")


def no_growth(server: Server, phones: list[Phone], chance: random.Random) -> None:
    """No file, of the record or of a photo, may be written beyond a few bytes: the write is told EFBIG."""
    worker = server.worker()
    soft, hard = resource.prlimit(worker, resource.RLIMIT_FSIZE)
    resource.prlimit(worker, resource.RLIMIT_FSIZE, (SMALL_FILE, hard))
    time.sleep(chance.uniform(0.3, 0.8))
    resource.prlimit(worker, resource.RLIMIT_FSIZE, (soft, hard))
    server.comes_back()


def read_only(server: Server, phones: list[Phone], chance: random.Random) -> None:
    """The folder may not be written: the server refuses to begin, in words. Who is root may always write: left out."""
    if os.geteuid() == 0:
        server.history.note("left out", how="read_only", why="root writes whatever the mode is")
        return
    server.kill()
    modes = {path: path.stat().st_mode for path in (server.folder, *server.folder.rglob("*"))}
    for path in modes:
        path.chmod(0o555 if path.is_dir() else 0o444)
    asked = [*QC, "serve", str(server.folder), "--port", str(server.port)]
    try:
        done = subprocess.run(asked, capture_output=True, text=True, timeout=60, check=False)
    finally:
        for path, mode in modes.items():
            path.chmod(mode)
    if not done.returncode or "Traceback" in done.stderr:
        raise Broken(f"a folder that cannot be written was answered with {done.returncode}: {done.stderr[-300:]}")
    server.begin()


def small_disk(server: Server, phones: list[Phone], chance: random.Random) -> None:
    """The file system has no byte left, for the record and for photos alike; only where the rig has a small one."""
    filler = server.folder.parent / "filler"
    room = shutil.disk_usage(server.folder)
    if room.total > 512_000_000:
        server.history.note("left out", how="small_disk", why="the folder is on no small file system")
        return
    before = server.history.refused
    with filler.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"\0" * 65_536)
        except OSError:
            pass
    time.sleep(chance.uniform(0.5, 1.0))
    _until(lambda: server.history.refused > before)  # on a busy machine a second passes without a push
    filler.unlink()
    server.comes_back()


def restore(server: Server, phones: list[Phone], chance: random.Random) -> None:
    """A backup is made; work goes on; the folder is lost and made anew from the backup. Phones offer all again."""
    copy = server.folder.parent / f"{server.folder.name}.backup"
    shutil.rmtree(copy, ignore_errors=True)
    _run("backup", server.folder, copy)
    time.sleep(chance.uniform(0.3, 0.8))
    server.kill()
    lost = server.folder.parent / f"{server.folder.name}.lost"
    shutil.rmtree(lost, ignore_errors=True)
    server.folder.rename(lost)
    _run("restore", copy, server.folder)
    shutil.copytree(lost / "keys", server.folder / "keys", dirs_exist_ok=True)
    server.begin()


ROUNDS: dict[str, Round] = {
    "kill": kill, "pause": pause, "lock": lock, "clock": clock, "full": full, "unsynced": unsynced,
    "no_growth": no_growth, "read_only": read_only, "small_disk": small_disk, "restore": restore,
}  # fmt: skip


def flipped(folder: Path, chance: random.Random) -> None:
    """Overwrite a page of a copy of an ended folder's record with noise. Raises Broken where verify is content."""
    copy = folder.parent / f"{folder.name}.flipped"
    shutil.rmtree(copy, ignore_errors=True)
    shutil.copytree(folder, copy)
    record = copy / "record.sqlite"
    with closing(sqlite3.connect(record)) as conn:
        conn.execute("VACUUM")  # no page is left that holds nothing
        (pages,), (size,) = (conn.execute(f"PRAGMA {what}").fetchone() for what in ("page_count", "page_size"))
    page = chance.randrange(1, pages)
    with record.open("r+b") as file:
        file.seek(page * size)
        file.write(chance.randbytes(size))
    done = subprocess.run([*QC, "verify", str(copy)], capture_output=True, text=True, check=False)
    shutil.rmtree(copy)
    if done.returncode != 1 or "Traceback" in done.stderr:
        raise Broken(f"page {page} of {pages} is noise and verify ends with {done.returncode}: {done.stderr[-300:]}")


def _failing_calls(server: Server, chance: random.Random, calls: str, error: str) -> None:
    if shutil.which("strace") is None:
        server.history.note("left out", how=error, why="strace is not installed on this machine")
        return
    files = [word for name in ("record.sqlite", "record.sqlite-wal") for word in ("-P", str(server.folder / name))]
    told = server.folder.parent / "strace"
    command = ["strace", "-f", "-o", str(told), "-p", str(server.worker()), *files, "-e", f"trace={calls}"]
    command += ["-e", f"inject={calls}:error={error}"]
    with (server.folder.parent / "strace.told").open("w") as words:
        tracing = subprocess.Popen(command, stderr=words, start_new_session=True)
    time.sleep(chance.uniform(0.5, 1.2))
    _until(lambda: "(INJECTED)" in (told.read_text() if told.exists() else "") or tracing.poll() is not None)
    tracing.send_signal(signal.SIGINT)
    tracing.wait(20)
    seen = told.read_text().count("(INJECTED)") if told.exists() else 0
    refused = "Operation not permitted" in (server.folder.parent / "strace.told").read_text()
    server.history.note("failed calls", error=error, many=seen, refused=refused)
    server.comes_back()


def _until(is_met: Callable[[], bool]) -> None:
    """Wait until a fault has met somebody, on a busy machine for many seconds; what met nobody shows in the history."""
    until = time.monotonic() + MET_SECONDS
    while not is_met() and time.monotonic() < until:
        time.sleep(0.05)


def _run(*asked: object) -> None:
    done = subprocess.run([*QC, *map(str, asked)], capture_output=True, text=True, timeout=120, check=False)
    if done.returncode:
        raise Broken(f"qc {asked[0]} ended with {done.returncode}: {done.stdout[-300:]}{done.stderr[-300:]}")
