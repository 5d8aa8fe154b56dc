"""Pushes over TLS against bare SQLite that parses and inserts as much, and against the journal alone. Ratios, no test.

    python tests/bench/ingest.py [pushes of each client] [clients]

Each of the clients (threads of one process, one kept connection each) sends pushes of 20 defects, a photo reference
and a zone to the real command with TLS 1.3, and waits for each answer. Bare: one thread, the same bodies, parsed by
json; a row of the journal with its hash, a verdict, a derived row each, a dirty-day mark; one transaction a push, WAL,
synchronous=FULL; no rule is applied. Journal: one thread calls the journal with the same bodies through the JSON door.
The clients' own work is on the same cores and counts against the server.
"""

import hashlib
import json
import multiprocessing
import os
import secrets
import socket
import sqlite3
import ssl
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from http.client import HTTPSConnection
from pathlib import Path

from qc.assets import folder
from qc.domain.facts.people import Person
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.folder.plant_folder import make_plant_folder
from qc.store.intake.journal import Journal, PushBatch, wall_ms
from qc.store.people.persons import People
from qc.store.record.connection import open_writer
from qc.web import certificate
from qc.web.desk import uuid7
from qc.web.json_door import read_object_with_parts

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))  # run as a script, from anywhere
from tests.authors import Author  # noqa: E402
from tests.enrolled import enrolled  # noqa: E402
from tests.ports import free_port  # noqa: E402

OPERATIONS = 20
UNITS = 40
PIN = "284915"
TABLES = tables_of(folder("demo_data") / "plant")
PLANT = plant_from_tables(TABLES)


def chassis(number: int) -> str:
    return f"0PC7T3600TW0{number:05d}"


class Client:
    """One phone: who it is and the bodies that it will send, made before the clock starts."""

    def __init__(self, device: str, session: str, token: str, pushes: int, unit: str, author: Author | None = None):
        self.device, self.session, self.token, self.unit = device, session, token, unit
        self.author = author or Author()
        self.seq = 0
        self.begun = self._operation("inspection_begun", {"point": "D01", "purpose": "presentation", "light": "wet"})
        self.first = self._push([self.begun])
        self.bodies = [self._push(self._operations()) for _ in range(pushes)]

    def _operations(self) -> list[dict]:
        made: list[dict] = []
        for place in range(OPERATIONS):
            kind, body = ("defect_recorded", "photo_attached", "zone_looked_at")[place % 3], {}
            if kind == "defect_recorded":
                where = {"point": "D01", "zone": "front.panel", "type": "PAN-03", "severity": "minor"}
                body = {**where, "inspection": self.begun["id"], "note": "Kratzer 4 mm × links", "mark": [1200, 1800]}
            elif kind == "photo_attached":
                body = {"defect": made[-1]["id"], "sha256": secrets.token_hex(32), "bytes": 300_000}
            else:
                body = {"inspection": self.begun["id"], "zones": ["front.panel"]}
            made.append(self._operation(kind, body))
        return made

    def _operation(self, kind: str, body: dict) -> dict:
        self.seq += 1
        now = wall_ms()
        made = {"id": uuid7(now), "device": self.device, "install_epoch": "e", "seq": self.seq, "kind": kind}
        about = {"schema": 1, "unit": self.unit, "body": body, "author": "IV1", "deps": [], "seen_through": 0}
        return {**made, **about, "wall_ms": now, "tz_min": 60, "session": self.session, "mono_ms": 5}

    def _push(self, operations: list[dict]) -> bytes:
        raws = [json.dumps(one, separators=(",", ":"), ensure_ascii=False).encode() for one in operations]
        frame = {"protocol": 2, "device": self.device, "install_epoch": "e", "sent_ms": wall_ms(), "chain": None}
        frame["runs"] = [self.author.run(self.device, "e", raws)]
        return json.dumps({**frame, "operations": operations}, separators=(",", ":"), ensure_ascii=False).encode()


def made_folder(root: Path) -> Path:
    data = root / "plant"
    make_plant_folder(data, TABLES)
    with Journal(data, PLANT, TABLES) as journal:
        read = sqlite3.connect(data / "record.sqlite", check_same_thread=False)
        People(data / "keys", journal, lambda: read).add(Person("IV1", "Ivo", "inspector"), PIN)
        read.close()
        plan_units(journal)
    return data


def plan_units(journal: Journal) -> None:
    people = {"PL1": Person("PL1", "Pia", "planner")}
    lookup, journal._lookup = journal._lookup, people.get
    now, operations = wall_ms(), []
    for seq in range(1, UNITS + 1):
        figures = 30_000 + seq
        body = {"model": "T36", "shop_number": f"PC71{figures}", "sequence": figures, "planned_day": "2026-02-02"}
        made = {
            "id": uuid7(now),
            "device": "DESK",
            "install_epoch": "d",
            "seq": seq,
            "kind": "unit_planned",
            "schema": 1,
        }
        about = {"unit": chassis(figures), "body": body, "author": "PL1", "deps": [], "seen_through": 0, "wall_ms": now}
        operation = {**made, **about, "tz_min": 0, "session": "s", "mono_ms": 0}
        operations.append((json.dumps(operation).encode(), operation))
    verdicts = journal.push(PushBatch("DESK", "d", now, operations)).verdicts
    journal._lookup = lookup
    assert {verdict.verdict for verdict in verdicts} == {"applied"}, verdicts[0]


def served(root: Path, pushes: int, clients: int) -> tuple[float, list[float]]:
    """Return operations a second over TLS and the seconds of each push, from the slowest client's end."""
    data = made_folder(root)
    tls = certificate.make(root / "tls", ("localhost",))
    port = free_port()
    command = [sys.executable, "-c", "from qc.cli import main; main()", "serve", str(data), "--port", str(port)]
    process = subprocess.Popen(
        [*command, "--cert", str(tls.leaf), "--key", str(tls.leaf_key)], stdout=subprocess.DEVNULL
    )
    try:
        with multiprocessing.get_context("spawn").Pool(1) as pool:
            seconds, each = pool.apply(drive, (data, port, str(tls.root), pushes, clients))
        worker = int((data / "writer.lock").read_text())
        status = Path(f"/proc/{worker}/status")
        if status.exists():
            resident = next(line for line in status.read_text().splitlines() if line.startswith("VmRSS"))
            print(f"worker's memory  {int(resident.split()[1]) / 1024:.0f} MB")
    finally:
        process.terminate()
        process.wait()
    return pushes * clients * OPERATIONS / seconds, each


def drive(data: Path, port: int, root: str, pushes: int, count: int) -> tuple[float, list[float]]:
    context = ssl.create_default_context(cafile=root)

    def connected() -> HTTPSConnection:
        for _ in range(100):
            connection = HTTPSConnection("localhost", port, context=context, timeout=60)
            try:
                connection.connect()
            except OSError:
                time.sleep(0.1)
            else:
                connection.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                return connection
        raise SystemExit("the server did not begin")

    def ask(connection: HTTPSConnection, path: str, body: bytes, token: str = "") -> dict:
        headers = {"Content-Type": "application/json", **({"Authorization": f"Bearer {token}"} if token else {})}
        connection.request("POST", f"/api/v1/{path}", body, headers)
        answer = connection.getresponse()
        read = answer.read()
        assert answer.status == 200, read
        return json.loads(read)

    connections, clients, each = [connected() for _ in range(count)], [], []
    for place, connection in enumerate(connections):
        author, phone = Author(), enrolled(data)
        asked = {"person": "IV1", "pin": PIN, "device": phone.device, "install_epoch": "e", "public_key": author.public}
        asked["device_secret"] = phone.secret
        signed = ask(connection, "sign-in", json.dumps(asked).encode())
        unit = chassis(30_001 + place % UNITS)
        author.certificate = signed["certificate"]
        client = Client(signed["device"], signed["session"], signed["token"], pushes, unit, author)
        ask(connection, "push", client.first, client.token)
        clients.append(client)

    def run(connection: HTTPSConnection, client: Client) -> None:
        for body in client.bodies:
            begun = time.perf_counter()
            verdicts = ask(connection, "push", body, client.token)["verdicts"]
            each.append(time.perf_counter() - begun)
            assert all(told["verdict"] == "applied" for told in verdicts), verdicts

    threads = [threading.Thread(target=run, args=pair) for pair in zip(connections, clients, strict=True)]
    begun = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return time.perf_counter() - begun, each


def journal_alone(root: Path, pushes: int, clients: int) -> float:
    data = made_folder(root)
    made = [Client(f"P{place + 1}", "s", "", pushes, chassis(30_001 + place)) for place in range(clients)]
    with Journal(data, PLANT, TABLES) as journal:

        def push(client: Client, body: bytes) -> None:
            frame, parts = read_object_with_parts(body, 256_000, "operations")
            told = journal.push(PushBatch(client.device, "e", frame["sent_ms"], parts)).verdicts
            assert all(verdict.verdict == "applied" for verdict in told), told

        for client in made:
            push(client, client.first)
        begun = time.perf_counter()
        for bodies in zip(*(client.bodies for client in made), strict=True):
            for client, body in zip(made, bodies, strict=True):
                push(client, body)
        return pushes * clients * OPERATIONS / (time.perf_counter() - begun)


BARE = """
CREATE TABLE journal (number INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, device TEXT,
  install_epoch TEXT, seq INTEGER, kind TEXT, unit TEXT, author TEXT,
  happened_ms INTEGER, received_ms INTEGER, bytes BLOB, previous BLOB,
  hash BLOB, UNIQUE (device, install_epoch, seq)) STRICT;
CREATE INDEX journal_unit ON journal (unit, number);
CREATE TABLE verdict (number INTEGER PRIMARY KEY, verdict TEXT, code TEXT, reason TEXT) STRICT;
CREATE TABLE defect (id TEXT PRIMARY KEY, unit TEXT, inspection TEXT, zone TEXT, type TEXT, severity TEXT, note TEXT,
  mark TEXT, finder TEXT, production_day TEXT, number INTEGER) STRICT;
CREATE INDEX defect_unit ON defect (unit, number);
CREATE INDEX defect_found ON defect (production_day);
CREATE TABLE defect_photo (defect TEXT, sha256 TEXT, number INTEGER, PRIMARY KEY (defect, sha256))
  STRICT, WITHOUT ROWID;
CREATE TABLE zone_look (inspection TEXT, zone TEXT, number INTEGER, PRIMARY KEY (inspection, zone))
  STRICT, WITHOUT ROWID;
CREATE TABLE unit (chassis TEXT PRIMARY KEY, last_number INTEGER) STRICT;
CREATE TABLE dirty_day (day TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
"""


def bare(root: Path, pushes: int, clients: int) -> float:
    root.mkdir(exist_ok=True)
    conn = open_writer(root / "bare.sqlite")
    conn.executescript(BARE)
    made = [Client(f"P{place + 1}", "s", "", pushes, chassis(30_001 + place)) for place in range(clients)]
    number, previous = 0, bytes(32)
    begun = time.perf_counter()
    for bodies in zip(*(client.bodies for client in made), strict=True):
        for body in bodies:
            conn.execute("BEGIN IMMEDIATE")
            for operation in json.loads(body)["operations"]:
                number += 1
                previous = insert(conn, number, previous, operation)
            conn.execute("COMMIT")
    seconds = time.perf_counter() - begun
    conn.close()
    return pushes * clients * OPERATIONS / seconds


def insert(conn: sqlite3.Connection, number: int, previous: bytes, op: dict) -> bytes:
    body = op["body"]
    raw = json.dumps(op, separators=(",", ":")).encode()
    digest = hashlib.sha256(b"\0" + previous + raw).digest()
    who = (op["id"], op["device"], op["install_epoch"], op["seq"], op["kind"], op["unit"], op["author"])
    row = (number, *who, op["wall_ms"], op["wall_ms"], raw, previous, digest)
    conn.execute("INSERT INTO journal VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    conn.execute("INSERT INTO verdict VALUES (?, 'applied', '', '')", (number,))
    if op["kind"] == "defect_recorded":
        place = (op["id"], op["unit"], body["inspection"], body["zone"], body["type"], body["severity"], body["note"])
        rest = (json.dumps(body["mark"]), op["author"], "2026-02-02", number)
        conn.execute("INSERT INTO defect VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", (*place, *rest))
    elif op["kind"] == "photo_attached":
        conn.execute("INSERT INTO defect_photo VALUES (?, ?, ?)", (body["defect"], body["sha256"], number))
    else:
        row = (body["inspection"], body["zones"][0], number)
        conn.execute("INSERT INTO zone_look VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET number = excluded.number", row)
    conn.execute(
        "INSERT INTO unit VALUES (?, ?) ON CONFLICT DO UPDATE SET last_number = excluded.last_number",
        (op["unit"], number),
    )
    conn.execute("INSERT OR IGNORE INTO dirty_day VALUES ('2026-02-02')")
    return digest


def main() -> None:
    pushes = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    clients = int(sys.argv[2]) if len(sys.argv) > 2 else 8
    print(f"{clients} clients × {pushes} pushes × {OPERATIONS} operations; load before {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as root:
        base = bare(Path(root) / "bare", pushes, clients)
        alone = journal_alone(Path(root) / "alone", pushes, clients)
        rate, each = served(Path(root) / "served", pushes, clients)
    cuts = statistics.quantiles(each, n=100)
    print(f"bare SQLite      {base:8.0f} operations/s")
    print(f"journal alone    {alone:8.0f} operations/s   {alone / base:.2f} of bare")
    print(f"served over TLS  {rate:8.0f} operations/s   {rate / base:.2f} of bare, {rate / alone:.2f} of the journal's")
    print(f"a push           p50 {cuts[49] * 1000:.1f} ms, p99 {cuts[98] * 1000:.1f} ms")


if __name__ == "__main__":
    main()
