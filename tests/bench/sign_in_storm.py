"""What sign-ins cost: `python -m tests.bench.sign_in_storm`.

Prints the middle and the 99th of 200 pushes of 20 operations from 4 phones over TLS, with nobody signing in and while
200 sign-ins arrive at once, half of them wrong, from 20 addresses; how long the storm takes and how it was answered.
Then how long a wrong PIN and a wrong passphrase take for codes that somebody has and nobody has: the ratio of the
middles, which tells a stranger who there is unless it is near 1. Aims: pushes' 99th at most 1.5 s beside the storm,
the ratios within 0.9 and 1.1.
"""

import json
import os
import ssl
import statistics
import tempfile
import threading
import time
from collections import Counter
from contextlib import closing
from http.client import HTTPSConnection
from pathlib import Path

from qc.assets import folder
from qc.domain.facts.people import Person
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.folder.plant_folder import make_plant_folder
from qc.store.intake.journal import Journal
from qc.store.people.persons import People
from qc.store.people.pins import Pins
from qc.store.record.connection import RECORD, open_reader
from qc.web import certificate
from tests.authors import Author
from tests.bench.load import PHRASE
from tests.bench.stalled import printed
from tests.enrolled import enrolled
from tests.web.test_server import PIN, Served, headers_of, push_of

PHONES, PUSHES, SIGN_INS = 4, 50, 200
ROUNDS = 60


def pushing(served: Served, signed: list[dict], first: int) -> list[float]:
    """Return the seconds of PUSHES pushes of each phone, side by side."""
    took: list[float] = []

    def one(phone: dict) -> None:
        for number in range(PUSHES):
            body = push_of(phone, first + number * 20, 20)
            began = time.perf_counter()
            status, answer = served.ask("POST", "/api/v1/push", body, headers_of(phone))
            took.append(time.perf_counter() - began)
            assert status == 200, answer

    threads = [threading.Thread(target=one, args=(phone,)) for phone in signed]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return took


def storm(served: Served, statuses: Counter) -> None:
    """Let SIGN_INS sign-ins arrive at once, the odd ones wrong."""
    public = Author().public
    phones = [enrolled(served.data) for _ in range(20)]

    def one(number: int) -> None:
        phone = phones[number % len(phones)]
        asked = {"person": f"P{number % 50}", "pin": PIN if number % 2 == 0 else "111222", "device": phone.device}
        asked["device_secret"] = phone.secret
        body = json.dumps({**asked, "install_epoch": "e", "public_key": public})
        context = ssl.create_default_context(cafile=served.tls.root)
        source = (f"127.0.0.{2 + number % 20}", 0)
        connection = HTTPSConnection("localhost", served.port, context=context, timeout=120, source_address=source)
        connection.request("POST", "/api/v1/sign-in", body, {"Content-Type": "application/json"})
        statuses[connection.getresponse().status] += 1
        connection.close()

    threads = [threading.Thread(target=one, args=(number,)) for number in range(SIGN_INS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def equal_cost(folder_: Path) -> None:
    """Print what a wrong secret costs for codes of everybody and of nobody."""
    pins = Pins(folder_, expected=False)
    kept = {"who has a PIN": pins.kept(PIN), "who has a passphrase": pins.kept(PHRASE), "nobody": None}
    for what, wrong in (("PIN", "111222"), ("passphrase", "eight green tyres")):
        took: dict[str, list[float]] = {who: [] for who in kept}
        for _ in range(ROUNDS):
            for who, form in kept.items():
                began = time.perf_counter()
                assert not pins.matches(form, wrong)
                took[who].append(time.perf_counter() - began)
        middles = {who: statistics.median(seconds) for who, seconds in took.items()}
        for who, middle in middles.items():
            print(f"a wrong {what} for {who:22} {middle * 1000:6.1f} ms   ratio {middle / middles['nobody']:.3f}")


def main() -> None:
    print(f"load before {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as room:
        tables = tables_of(folder("demo_data") / "plant")
        data = Path(room) / "plant"
        make_plant_folder(data, tables)
        with Journal(data, plant_from_tables(tables), tables) as journal, closing(open_reader(data / RECORD)) as read:
            people = People(data / "keys", journal, lambda: read)
            people.add(Person("IV1", "Ivo", "inspector"), PIN)
            for number in range(50):
                people.add(Person(f"P{number}", "Pat", "inspector"), PIN)
        tls = certificate.make(Path(room) / "tls", ("localhost",))
        with Served(data, tls) as served:
            signed = [served.sign_in() for _ in range(PHONES)]
            quiet = printed("nobody signs in", pushing(served, signed, 1))
            statuses: Counter = Counter()
            storming = threading.Thread(target=storm, args=(served, statuses))
            began = time.perf_counter()
            storming.start()
            beside = printed(f"{SIGN_INS} sign-ins arrive", pushing(served, signed, 1 + PUSHES * 20))
            storming.join()
            print(f"storm over after {time.perf_counter() - began:.1f} s, answered {dict(statuses)}")
            print(f"ratio of the 99ths {beside / quiet:.2f}")
            served.stop()
        equal_cost(Path(room) / "cost")


if __name__ == "__main__":
    main()
