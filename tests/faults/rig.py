"""The fault rig: phones over HTTP; a server killed, paused and begun again, answers cut, a foreign lock.

Black box: it knows a folder and a port, the HTTP interface and `qc verify`. Every event is a JSON line of a history,
from which a failure can be read; the invariants are looked at after every round.

    python -m tests.faults.rig FOLDER PORT [--rounds 3] [--seeds 1] [--history FILE]

FOLDER is made anew. 1,000 rounds over 5 seeds: --rounds 200 --seeds 1,2,3,4,5. Loopback only.
"""

import argparse
import contextlib
import http.client
import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

from qc.assets import folder as asset_folder
from qc.domain.people import Person
from qc.domain.plant_tables import plant_from_tables, tables_of
from qc.store.folder.plant_folder import make_plant_folder
from qc.store.intake.journal import Journal, wall_ms
from qc.store.people.persons import People
from qc.store.record.connection import open_reader
from qc.web.desk import uuid7
from tests.authors import Author
from tests.enrolled import enrolled

QC = [sys.executable, "-c", "from qc.cli import main; main()"]
PIN, UNIT = "284915", "0PC7T3600TW030001"
BATCH = 5
BEGIN_SECONDS = 60.0


class Broken(Exception):
    """An invariant did not hold after a round."""


class History:
    """The events, one JSON line each, with seconds since the rig began."""

    def __init__(self, path: Path) -> None:
        self._path, self._begun, self._lock = path, time.monotonic(), threading.Lock()
        path.write_text("", encoding="utf-8")

    def note(self, what: str, **more) -> None:
        line = json.dumps({"at": round(time.monotonic() - self._begun, 4), "what": what, **more})
        with self._lock, self._path.open("a", encoding="utf-8") as file:
            file.write(line + "\n")


def make_folder(folder: Path) -> None:
    """Make a data folder with the invented plant, an inspector and a planner."""
    tables = tables_of(asset_folder("demo_data") / "plant")
    make_plant_folder(folder, tables)
    record = folder / "record.sqlite"
    with Journal(folder, plant_from_tables(tables), tables) as journal, closing(open_reader(record)) as read:
        people = People(folder / "keys", journal, lambda: read)
        people.add(Person("IV1", "Ivo", "inspector"), PIN)


class Server:
    """The served folder: begun, killed, paused."""

    def __init__(self, folder: Path, port: int, history: History) -> None:
        self.folder, self.port, self.history = folder, port, history
        self.process: subprocess.Popen | None = None

    def begin(self) -> None:
        command = [*QC, "serve", str(self.folder), "--port", str(self.port)]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        self.process = subprocess.Popen(command, start_new_session=True, **quiet)
        until = time.monotonic() + BEGIN_SECONDS
        while time.monotonic() < until:
            if self.process.poll() is not None:
                raise Broken(f"the server ended with {self.process.returncode} at its beginning")
            with contextlib.suppress(OSError, http.client.HTTPException):
                if self.ask("GET", "/api/v1/openapi.json")[0] == 200:
                    self.history.note("served", pid=self.process.pid)
                    return
            time.sleep(0.05)
        raise Broken(f"the server did not begin within {BEGIN_SECONDS:g} s")

    def workers(self) -> list[int]:
        """Return the numbers of this server's own processes, its children first."""
        assert self.process is not None
        asked = subprocess.run(["ps", "-o", "pid=", "--ppid", str(self.process.pid)], capture_output=True, text=True)
        return [*(int(word) for word in asked.stdout.split()), self.process.pid]

    def signal(self, which: signal.Signals) -> None:
        for pid in self.workers():
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, which)
        self.history.note("signalled", signal=which.name)

    def kill(self) -> None:
        self.signal(signal.SIGKILL)
        assert self.process is not None
        self.process.wait(20)

    def ask(self, method, path, body=None, headers=None, cut=False, timeout=20.0):
        """Send a request and return status and body; cut: the connection ends before the answer is read."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            connection.request(method, path, body, headers or {})
            if cut:
                return 0, b""
            answer = connection.getresponse()
            return answer.status, answer.read()
        finally:
            connection.close()


class Phone:
    """A phone that keeps what it made until it is acknowledged, and sends it again whatever happened."""

    def __init__(self, server: Server, name: int, chance: random.Random) -> None:
        self.server, self.name, self.chance = server, name, chance
        self.seq, self.unsent, self.acknowledged = 0, [], {}
        self.author = Author()
        self.token, self.signed, self.epoch = "", None, f"rig-{uuid7(wall_ms())[-12:]}"
        self.given = enrolled(server.folder)

    def sign_in(self) -> None:
        phone = {"device": self.given.device, "device_secret": self.given.secret, "install_epoch": self.epoch}
        asked = {"person": "IV1", "pin": PIN, **phone}
        asked["public_key"] = self.author.public
        headers = {"Content-Type": "application/json"}
        status, body = self.server.ask("POST", "/api/v1/sign-in", json.dumps(asked), headers)
        if status == 200:
            told = json.loads(body)
            self.signed, self.token = self.signed or told, told["token"]
            self.author.certificate = told["certificate"]

    def make(self) -> None:
        for _ in range(BATCH):
            self.seq += 1
            now = wall_ms()
            body = {"point": "D01", "zone": "front.gas", "type": "EXT-01", "severity": "minor"}
            where = {"device": self.signed["device"], "install_epoch": self.epoch, "seq": self.seq}
            who = {"author": "IV1", "session": self.signed["session"], "deps": [], "seen_through": 0}
            what = {"id": uuid7(now), "kind": "defect_recorded", "schema": 1, "unit": UNIT, "body": body}
            self.unsent.append({**what, **where, **who, "wall_ms": now, "tz_min": 0, "mono_ms": 1})

    def push(self) -> None:
        """Send what is unsent once; what was answered is acknowledged, all else stays."""
        cut = self.chance.random() < 0.15
        device, sent = self.signed["device"], self.unsent[:50]
        frame = {"protocol": 2, "device": device, "install_epoch": self.epoch, "sent_ms": wall_ms()}
        runs = [self.author.run(device, self.epoch, [json.dumps(one).encode() for one in sent])]
        body = json.dumps({**frame, "server_epoch": None, "chain": None, "runs": runs, "operations": sent})
        headers = {"Content-Type": "application/json", "Authorization": f"Bearer {self.token}"}
        status, answer = self.server.ask("POST", "/api/v1/push", body, headers, cut)
        self.server.history.note("pushed", phone=self.name, ids=[one["id"] for one in sent], status=status)
        if status != 200:
            return
        told = {one["id"]: one for one in json.loads(answer)["verdicts"]}
        for one in sent:
            verdict = told[one["id"]]
            if verdict["number"]:
                before = self.acknowledged.setdefault(one["id"], verdict["number"])
                if before != verdict["number"]:
                    raise Broken(f"{one['id']} was row {before} and is row {verdict['number']}")
        self.unsent = [one for one in self.unsent if one["id"] not in self.acknowledged]

    def work(self, stop: threading.Event, broken: list) -> None:
        while not stop.is_set():
            try:
                if not self.signed or not self.token:
                    self.sign_in()
                    continue
                if len(self.unsent) < 40:
                    self.make()
                self.push()
            except (OSError, http.client.HTTPException):
                time.sleep(0.05)  # no server: what is unsent waits
            except Broken as why:
                broken.append(why)
                return


def look(folder: Path, phones: list[Phone]) -> None:
    """Hold the folder's record against what the phones were told. Raises Broken."""
    with closing(sqlite3.connect(folder / "record.sqlite")) as conn:
        rows = conn.execute("SELECT id, number FROM journal").fetchall()
    stored = dict(rows)
    if len(stored) != len(rows):
        raise Broken("an operation is stored twice")
    for phone in phones:
        for id_, number in phone.acknowledged.items():
            if stored.get(id_) != number:
                raise Broken(f"{id_} was acknowledged as row {number} and is row {stored.get(id_)}")


def verified(folder: Path) -> None:
    """Ask `qc verify`. Raises Broken."""
    done = subprocess.run([*QC, "verify", str(folder)], capture_output=True, text=True)
    if done.returncode:
        raise Broken(f"verify ended with {done.returncode}: {done.stdout[-600:]}{done.stderr[-300:]}")


def play(folder: Path, port: int, rounds: int, seed: int, history: History) -> int:
    """Play rounds in a new folder; return how many operations were acknowledged. Raises Broken."""
    make_folder(folder)
    server = Server(folder, port, history)
    try:
        return _played(server, rounds, seed)
    finally:
        if server.process is not None and server.process.poll() is None:
            server.kill()


def _played(server: Server, rounds: int, seed: int) -> int:
    chance, folder, history = random.Random(seed), server.folder, server.history
    phones = [Phone(server, number, random.Random(seed * 100 + number)) for number in range(3)]
    server.begin()
    broken: list[Broken] = []
    for number in range(rounds):
        stop = threading.Event()
        threads = [threading.Thread(target=phone.work, args=(stop, broken)) for phone in phones]
        for thread in threads:
            thread.start()
        time.sleep(chance.uniform(0.2, 1.0))
        how = chance.choice(["kill", "kill", "kill", "pause", "lock"])
        history.note("round", number=number, seed=seed, how=how)
        if how == "pause":
            server.signal(signal.SIGSTOP)
            time.sleep(chance.uniform(0.1, 0.5))
            server.signal(signal.SIGCONT)
        elif how == "lock":
            with closing(sqlite3.connect(folder / "record.sqlite", isolation_level=None)) as foreign:
                foreign.execute("BEGIN IMMEDIATE")
                time.sleep(chance.uniform(0.1, 0.5))
                foreign.execute("ROLLBACK")
        else:
            server.kill()
            look(folder, phones)
            server.begin()
        time.sleep(0.1)
        stop.set()
        for thread in threads:
            thread.join(60)
        if broken:
            raise broken[0]
    for phone in phones:
        while phone.unsent:
            phone.chance = random.Random(0)
            phone.push()
    server.signal(signal.SIGTERM)
    server.process.wait(40)
    look(folder, phones)
    verified(folder)
    made = sum(phone.seq for phone in phones)
    told = sum(len(phone.acknowledged) for phone in phones)
    if made != told:
        raise Broken(f"{made} were made and {told} acknowledged")
    history.note("whole", seed=seed, acknowledged=told)
    return told


def main(arguments: list[str] | None = None) -> int:
    """Play each seed in a folder of its own below FOLDER and print what came of it."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("folder", type=Path)
    asked.add_argument("port", type=int)
    asked.add_argument("--rounds", type=int, default=3)
    asked.add_argument("--seeds", default="1")
    asked.add_argument("--history", type=Path, default=None)
    given = asked.parse_args(arguments)
    given.folder.mkdir(parents=True, exist_ok=True)
    history = History(given.history or given.folder / "history.jsonl")
    for seed in map(int, given.seeds.split(",")):
        place = given.folder / f"seed-{seed}"
        shutil.rmtree(place, ignore_errors=True)
        try:
            told = play(place, given.port, given.rounds, seed, history)
        except Broken as why:
            history.note("broken", seed=seed, why=str(why))
            print(f"seed {seed}: BROKEN: {why}")
            return 1
        print(f"seed {seed}: {given.rounds} rounds, {told} operations acknowledged, none lost, none twice; verified")
    return 0


if __name__ == "__main__":
    sys.exit(main())
