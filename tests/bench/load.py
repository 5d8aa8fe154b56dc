"""A shift's end at a plant's server: `python -m tests.bench.load [--phones 60] [--operations 200] [--photos 720]`.

So many phones push what they hold, 20 operations at a time, and send photos of 300 kB between the pushes, while ten
dashboards read the manager's pages one after the other. Prints how long until all is in, the middle, 95th and 99th of
pushes and pages, every status, the counts held against what was sent, and the machine's load beside them. Aims on two
quiet cores: in within 60 s, pushes' 99th at most 1.5 s, pages' 95th at most 1 s, no 5xx, exact counts.
"""

import argparse
import hashlib
import io
import json
import os
import random
import re
import sqlite3
import tempfile
import threading
import time
from collections import Counter
from contextlib import closing
from pathlib import Path
from statistics import quantiles

from qc.assets import folder
from qc.domain.facts.people import Person
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.folder.plant_folder import make_plant_folder
from qc.store.intake.journal import Journal
from qc.store.people.persons import People
from qc.store.record.connection import RECORD, open_reader
from tests.store.record_kit import Phone as Planner
from tests.web.test_server import PIN, Served, headers_of, push_of

PHRASE = "seven blue tyres"
PAGES = ("/review", "/signals", "/stations", "/units", "/backlog")
DASHBOARDS = 10
BATCH = 20


class Tally:
    """What every thread measured: seconds and statuses, by what was asked."""

    def __init__(self) -> None:
        self.seconds: dict[str, list[float]] = {"push": [], "photo": [], "page": []}
        self.statuses: Counter[tuple[str, int]] = Counter()
        self.lock = threading.Lock()

    def ask(self, served: Served, what: str, *asked) -> int:
        began = time.perf_counter()
        status, _ = served.ask(*asked)
        with self.lock:
            self.seconds[what].append(time.perf_counter() - began)
            self.statuses[what, status] += 1
        return status


def picture_of(number: int) -> bytes:
    """Return a JPEG of about 300 kB, another for each number."""
    from PIL import Image

    out = io.BytesIO()
    noise = random.Random(number).randbytes(320 * 240 * 3)
    Image.frombytes("RGB", (320, 240), noise).resize((900, 700)).save(out, "JPEG", quality=88)
    return out.getvalue()


def batch_of(signed: dict[str, str], unit: str, first: int) -> str:
    """Return the body of a push of BATCH defects on a unit, as a phone makes them; each marks its day to be counted."""
    frame = json.loads(push_of(signed, first, BATCH))
    for one in frame["operations"]:
        body = {"point": "D01", "zone": "front.gas", "type": "EXT-01", "severity": "minor"}
        one.update(kind="defect_recorded", unit=unit, body=body)
    written = [json.dumps(one).encode() for one in frame["operations"]]
    return json.dumps({**frame, "runs": [signed["author"].run(signed["device"], "e", written)]})


def phone(served: Served, signed, unit: str, operations: int, photos: list[bytes], tally: Tally) -> None:
    between = max(1, operations // BATCH)
    for number in range(between):
        body = batch_of(signed, unit, 1 + number * BATCH)
        while tally.ask(served, "push", "POST", "/api/v1/push", body, headers_of(signed)) != 200:
            time.sleep(0.2)
        for photo in photos[number::between]:
            send_photo(served, signed, photo, tally)


def send_photo(served: Served, signed, photo: bytes, tally: Tally) -> None:
    """Send a photo in one piece, again until it is held."""
    headers = {"Authorization": f"Bearer {signed['token']}", "Upload-Offset": "0", "Upload-Length": str(len(photo))}
    headers["Content-Type"] = "application/offset+octet-stream"
    place = f"/api/v1/photos/{hashlib.sha256(photo).hexdigest()}"
    while tally.ask(served, "photo", "PATCH", place, photo, headers) not in (204, 409):
        time.sleep(0.2)


def cookie_of(served: Served) -> str:
    """Sign the manager in at a desk; return the cookie that the pages want."""
    connection = served.connection()
    connection.request("GET", "/sign-in")
    answer = connection.getresponse()
    text, mark = answer.read().decode(), answer.headers["Set-Cookie"].split(";")[0]
    token = re.findall(r'name="csrf_token" value="([^"]+)"', text)[0]
    headers = {"Cookie": mark, "Sec-Fetch-Site": "same-origin", "Content-Type": "application/x-www-form-urlencoded"}
    body = f"csrf_token={token}&person=QM1&secret={PHRASE.replace(' ', '+')}&next=/"
    connection.request("POST", "/sign-in", body, headers)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    assert answer.status == 303, answer.status
    return answer.headers["Set-Cookie"].split(";")[0]


def dashboard(
    served: Served, cookie: str, first: int, stop: threading.Event, tally: Tally, seconds: float = 0.5
) -> None:
    """Read the pages one after the other, with so many seconds between them, until told to stop."""
    number = first
    while not stop.is_set():
        tally.ask(served, "page", "GET", PAGES[number % len(PAGES)], None, {"Cookie": cookie})
        number += 1
        stop.wait(seconds)


def made(data: Path, units: int) -> list[str]:
    """Make a data folder with an inspector, a manager and so many planned units; return their numbers."""
    tables = tables_of(folder("demo_data") / "plant")
    make_plant_folder(data, tables)
    with Journal(data, plant_from_tables(tables), tables) as journal, closing(open_reader(data / RECORD)) as read:
        people = People(data / "keys", journal, lambda: read)
        people.add(Person("IV1", "Ivo", "inspector"), PIN)
        people.add(Person("QM1", "Mia", "quality_manager"), PHRASE)
        people.add(Person("PL1", "Pia", "planner"), PIN)
        planner = Planner(journal, "PLAN")
        return [planner.plan(30001 + number) for number in range(units)]


def printed(name: str, seconds: list[float]) -> None:
    if len(seconds) > 1:
        cut = quantiles(seconds, n=100, method="inclusive")
        print(f"{name:8} {len(seconds):6}   median {cut[49]:6.3f} s   p95 {cut[94]:6.3f} s   p99 {cut[98]:6.3f} s")


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--phones", type=int, default=60)
    asked.add_argument("--operations", type=int, default=200)
    asked.add_argument("--photos", type=int, default=720)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as room:
        data = Path(room) / "plant"
        units = made(data, given.phones)
        photos = [picture_of(number) for number in range(given.photos)]
        with Served(data) as served:
            signed = [served.sign_in() for _ in range(given.phones)]
            cookie, tally, stop = cookie_of(served), Tally(), threading.Event()
            shares = [photos[number :: given.phones] for number in range(given.phones)]
            phones = [
                threading.Thread(target=phone, args=(served, one, unit, given.operations, share, tally))
                for one, unit, share in zip(signed, units, shares, strict=True)
            ]
            desks = [
                threading.Thread(target=dashboard, args=(served, cookie, number, stop, tally))
                for number in range(DASHBOARDS)
            ]
            load, began = os.getloadavg()[0], time.perf_counter()
            for thread in [*desks, *phones]:
                thread.start()
            for thread in phones:
                thread.join()
            drained = time.perf_counter() - began
            stop.set()
            for thread in desks:
                thread.join()
            served.stop()
        with closing(sqlite3.connect(data / RECORD)) as conn:
            kept = conn.execute("SELECT (SELECT count(*) FROM defect), (SELECT count(*) FROM photo)").fetchone()
    sent = (given.phones * (given.operations // BATCH) * BATCH, given.photos)
    print(f"all in after {drained:.1f} s; load before {load:.1f}")
    for name, seconds in tally.seconds.items():
        printed(name, seconds)
    print("statuses", {f"{what} {status}": many for (what, status), many in sorted(tally.statuses.items())})
    print("defects and photos kept", kept, "sent", sent, "exact" if kept == sent else "NOT EXACT")


if __name__ == "__main__":
    main()
