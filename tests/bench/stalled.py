"""How long an honest phone's push takes while clients stall: `python -m tests.bench.stalled`.

Prints the middle and the 99th of 100 pushes of one operation over TLS with nobody stalling, then with 500 stalled
connections from one address and 50 from fifty, their ratio, and how long the server takes to end on SIGTERM meanwhile.
Aims: the 99th at most 1.5 s, the end within 5 s.
"""

import tempfile
import time
from pathlib import Path
from statistics import quantiles

from qc.assets import folder
from qc.domain.facts.people import Person
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.folder.plant_folder import make_plant_folder
from qc.store.intake.journal import Journal
from qc.store.people.persons import People
from qc.web import certificate
from tests.faults.stalling import stalled
from tests.web.test_server import PIN, Served, headers_of, push_of

PUSHES = 100
FIFTY = [f"127.0.0.{place}" for place in range(2, 52)]


def timed(served: Served, signed: dict[str, str], first: int) -> list[float]:
    """Return the seconds of each of PUSHES pushes, one after the other, each over a connection of its own."""
    took = []
    for seq in range(first, first + PUSHES):
        began = time.perf_counter()
        status, body = served.ask("POST", "/api/v1/push", push_of(signed, seq), headers_of(signed))
        took.append(time.perf_counter() - began)
        assert status == 200, body
    return took


def printed(name: str, took: list[float]) -> float:
    """Print a row; return the 99th."""
    hundredths = quantiles(took, n=100)
    print(f"{name:45} median {hundredths[49] * 1000:7.1f} ms   p99 {hundredths[98] * 1000:7.1f} ms")
    return hundredths[98]


def main() -> None:
    with tempfile.TemporaryDirectory() as room:
        tables = tables_of(folder("demo_data") / "plant")
        data = Path(room) / "plant"
        make_plant_folder(data, tables)
        with Journal(data, plant_from_tables(tables), tables) as journal:
            from qc.store.record.connection import RECORD, open_reader

            read = open_reader(data / RECORD)
            People(data / "keys", journal, lambda: read).add(Person("IV1", "Ivo", "inspector"), PIN)
            read.close()
        tls = certificate.make(Path(room) / "tls", ("localhost",))
        with Served(data, tls) as served:
            signed = served.sign_in()
            quiet = printed("nobody stalls", timed(served, signed, 1))
            root = str(tls.root)
            with stalled(served.port, root, ["127.0.0.1"], many=500), stalled(served.port, root, FIFTY, many=50):
                beside = printed("500 stalled from one address, 50 from fifty", timed(served, signed, 1 + PUSHES))
                began = time.perf_counter()
                served.stop()
                ended = time.perf_counter() - began
        print(f"ratio of the 99ths {beside / quiet:.2f}   ended after {ended:.1f} s")


if __name__ == "__main__":
    main()
