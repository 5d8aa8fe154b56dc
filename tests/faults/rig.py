"""The fault rig: phones over HTTP; a server killed, paused, locked out, its clock set, its disk full or failing.

Black box: it knows a folder and a port, the HTTP interface, the commands and the files. Every event is a JSON line of a
history, from which a failure can be read; the invariants are looked at after every round: each acknowledged operation
is there once, each photo that was said to be held is whole and rowed, and the server writes again of itself. In the end
`qc verify` finds the record whole, and finds a page of noise in a copy of it.

    python -m tests.faults.rig FOLDER PORT [--rounds 3] [--seeds 1] [--how kill,clock,…] [--history FILE]

FOLDER is made anew. 1,000 rounds over 5 seeds: --rounds 200 --seeds 1,2,3,4,5; --how kill plays kills alone. Loopback
only. What cannot be tried here (no strace, root, no small file system) is left out and stands in the history.
"""

import argparse
import hashlib
import random
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

from tests.faults.rig_phone import Phone
from tests.faults.rig_rounds import ROUNDS, flipped, restore
from tests.faults.rig_server import QC, Broken, History, Server, make_folder

OFTEN = ("kill",) * 3  # beside each other kind once


def look(folder: Path, phones: list[Phone]) -> None:
    """Hold the folder's record against what the phones were told. Raises Broken."""
    with closing(sqlite3.connect(folder / "record.sqlite")) as conn:
        rows = conn.execute("SELECT id, number FROM journal").fetchall()
        rowed = {name for (name,) in conn.execute("SELECT sha256 FROM photo")}
    stored = dict(rows)
    if len(stored) != len(rows):
        raise Broken("an operation is stored twice")
    for phone in phones:
        for id_, number in phone.acknowledged.items():
            if stored.get(id_) != number:
                raise Broken(f"{id_} was acknowledged as row {number} and is row {stored.get(id_)}")
        for name in phone.held:
            file = folder / "photos" / name[:2] / name
            if name not in rowed or not file.exists() or hashlib.sha256(file.read_bytes()).hexdigest() != name:
                raise Broken(f"photo {name} was said to be held and is not here whole")


def verified(folder: Path) -> None:
    """Ask `qc verify`. Raises Broken."""
    done = subprocess.run([*QC, "verify", str(folder)], capture_output=True, text=True)
    if done.returncode:
        raise Broken(f"verify ended with {done.returncode}: {done.stdout[-600:]}{done.stderr[-300:]}")


def play(folder: Path, port: int, rounds: int, seed: int, history: History, how: list[str]) -> int:
    """Play rounds in a new folder; return how many operations were acknowledged. Raises Broken."""
    make_folder(folder)
    server = Server(folder, port, history)
    try:
        return _played(server, rounds, seed, how)
    finally:
        if server.process is not None and server.process.poll() is None:
            server.kill()


def _played(server: Server, rounds: int, seed: int, how: list[str]) -> int:
    chance, history = random.Random(seed), server.history
    phones = [Phone(server, number, random.Random(seed * 100 + number)) for number in range(3)]
    server.begin()
    for number in range(rounds):
        kind = how[number] if rounds <= len(how) else chance.choice(how)
        history.note("round", number=number, seed=seed, how=kind)
        _round(server, phones, chance, kind)
    _drain(server, phones)
    server.stop()
    look(server.folder, phones)
    verified(server.folder)
    flipped(server.folder, chance)
    made, told = (
        sum(len(what) for what in kept) for kept in zip(*((p.made, p.acknowledged) for p in phones), strict=True)
    )
    if made != told:
        raise Broken(f"{made} were made and {told} acknowledged")
    history.note("whole", seed=seed, acknowledged=told, photos=sum(len(phone.held) for phone in phones))
    return told


def _round(server: Server, phones: list[Phone], chance: random.Random, kind: str) -> None:
    """Let phones work while it happens; then look."""
    stop, broken = threading.Event(), []
    threads = [threading.Thread(target=phone.work, args=(stop, broken)) for phone in phones]
    for thread in threads:
        thread.start()
    time.sleep(chance.uniform(0.2, 1.0))
    try:
        ROUNDS[kind](server, phones, chance)
        time.sleep(0.1)
    finally:
        stop.set()
        for thread in threads:
            thread.join(60)
    if broken:
        raise broken[0]
    if ROUNDS[kind] is restore:
        for phone in phones:
            phone.offer_again()
    look(server.folder, phones)


def _drain(server: Server, phones: list[Phone]) -> None:
    """Send what is unsent until nothing is. Raises Broken where that takes too long."""
    until = time.monotonic() + 120
    for phone in phones:
        phone.chance = random.Random(0)
        while phone.unsent or phone.held != set(phone.photos):
            phone.once()
            if time.monotonic() > until:
                raise Broken(f"{len(phone.unsent)} operations stay unsent though nothing is in the way")


def main(arguments: list[str] | None = None) -> int:
    """Play each seed in a folder of its own below FOLDER and print what came of it."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("folder", type=Path)
    asked.add_argument("port", type=int)
    asked.add_argument("--rounds", type=int, default=3)
    asked.add_argument("--seeds", default="1")
    asked.add_argument("--how", default=",".join([*OFTEN, *ROUNDS]), help="kinds of round, with commas between")
    asked.add_argument("--history", type=Path, default=None)
    given = asked.parse_args(arguments)
    given.folder.mkdir(parents=True, exist_ok=True)
    history = History(given.history or given.folder / "history.jsonl")
    for seed in map(int, given.seeds.split(",")):
        place = given.folder / f"seed-{seed}"
        shutil.rmtree(place, ignore_errors=True)
        try:
            told = play(place, given.port, given.rounds, seed, history, given.how.split(","))
        except Broken as why:
            history.note("broken", seed=seed, why=str(why))
            print(f"seed {seed}: BROKEN: {why}")
            return 1
        print(f"seed {seed}: {given.rounds} rounds, {told} operations acknowledged, none lost, none twice; verified")
    return 0


if __name__ == "__main__":
    sys.exit(main())
