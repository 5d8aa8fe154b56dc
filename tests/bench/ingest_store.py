"""Operations a second through the journal, against bare SQLite that parses and inserts as much. A ratio, no test.

    python -m tests.bench.ingest_store [operations] [batch]

Both write to the same disk with WAL and synchronous=FULL, batch by batch from one thread: a defect, its zone and a
photo reference, in turn, on units that are planned before. Bare: the JSON parsed, a row of the journal with its hash,
a verdict, a derived row and a dirty-day mark; no rule is applied. The ratio is told by the clock and by the processor's
time alone, which a busy machine and a slow disk change less; and the 99th centile of a batch. What is loaded is left
out of the collections of garbage, as the server does.
"""

import hashlib
import statistics
import sys
import tempfile
import time
from pathlib import Path

import orjson

sys.path.insert(0, str(Path(__file__).parent.parent / "store"))

from record_kit import PEOPLE, PLANT, START, TABLES, Phone, new_id, unit_number

from qc.store.intake.journal import Journal, PushBatch
from qc.store.record.connection import open_writer
from qc.web.warm import leave_out_of_collections

UNITS = 50
Made = list[tuple[bytes, dict[str, object]]]


def planned(journal: Journal) -> list[tuple[str, str]]:
    """Plan the units and begin an inspection on each; return chassis numbers and inspections."""
    desk = Phone(journal, "DESK")
    pairs = []
    for sequence in range(30001, 30001 + UNITS):
        unit = desk.plan(sequence)
        body = {"point": "D01", "purpose": "presentation", "light": "bright"}
        pairs.append((unit, desk.must("inspection_begun", "I1", unit, **body)))
    return pairs


def operations(pairs: list[tuple[str, str]], count: int) -> list[bytes]:
    """Return operations as a phone would send them, as bytes."""
    made, defect = [], ""
    for number in range(count):
        unit, inspection = pairs[number // 30 % len(pairs)]
        kind, body = (
            "defect_recorded",
            {"inspection": inspection, "point": "D01", "zone": "nearside.door", "type": "EXT-01", "severity": "minor"},
        )
        if number % 3 == 1:
            kind, body = "zone_looked_at", {"inspection": inspection, "zones": ["nearside.door"]}
        if number % 3 == 2:
            kind, body = "photo_attached", {"defect": defect, "sha256": f"{number:064x}", "bytes": 1000}
        id_ = new_id(START + number)
        defect = id_ if number % 3 == 0 else defect
        made.append(
            orjson.dumps(
                {
                    "id": id_,
                    "device": "P1",
                    "install_epoch": "e1",
                    "seq": number + 1,
                    "kind": kind,
                    "schema": 1,
                    "unit": unit,
                    "body": body,
                    "author": "I1",
                    "deps": [],
                    "seen_through": 0,
                    "wall_ms": START,
                    "tz_min": 0,
                    "session": "s1",
                    "mono_ms": number,
                }
            )
        )
    return made


class Took:
    """The seconds and the processor's seconds that batches took, and each batch's own."""

    def __init__(self) -> None:
        self.each: list[float] = []
        self.processor = -time.process_time()

    def batch(self, began: float) -> None:
        self.each.append(time.perf_counter() - began)

    def ended(self) -> "Took":
        self.processor += time.process_time()
        return self

    @property
    def seconds(self) -> float:
        return sum(self.each)

    def told(self, count: int) -> str:
        micro = (1e6 * one / count for one in (self.seconds, self.processor))
        slowest = statistics.quantiles(self.each, n=100)[-1]
        return "{:.1f} us an operation ({:.1f} of the processor)".format(*micro) + f", p99 {1000 * slowest:.1f} ms"


def through_journal(folder: Path, count: int, batch: int) -> Took:
    with Journal(folder, PLANT, TABLES, lambda: START, people=PEOPLE.get) as journal:
        made = operations(planned(journal), count)
        took = Took()
        for first in range(0, count, batch):
            began = time.perf_counter()
            parsed: Made = [(raw, orjson.loads(raw)) for raw in made[first : first + batch]]
            answer = journal.push(PushBatch("P1", "e1", START, parsed))
            took.batch(began)
            assert all(one.verdict == "applied" for one in answer.verdicts), answer
        return took.ended()


BARE = """
CREATE TABLE journal (number INTEGER PRIMARY KEY, id TEXT UNIQUE, device TEXT, seq INTEGER, kind TEXT, unit TEXT,
                      author TEXT, wall INTEGER, bytes BLOB, previous BLOB, hash BLOB, UNIQUE (device, seq)) STRICT;
CREATE INDEX journal_unit ON journal (unit, number);
CREATE TABLE verdict (number INTEGER PRIMARY KEY, verdict TEXT) STRICT;
CREATE TABLE derived (id TEXT PRIMARY KEY, unit TEXT, zone TEXT, type TEXT, number INTEGER) STRICT;
CREATE INDEX derived_unit ON derived (unit, number);
CREATE TABLE dirty (day TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
"""


def bare(folder: Path, count: int, batch: int) -> Took:
    conn = open_writer(folder / "bare.sqlite")
    conn.executescript(BARE)
    made = operations([(unit_number(30001 + n), new_id(START)) for n in range(UNITS)], count)
    previous, number = bytes(32), 0
    took = Took()
    for first in range(0, count, batch):
        began = time.perf_counter()
        conn.execute("BEGIN IMMEDIATE")
        for raw in made[first : first + batch]:
            op, number = orjson.loads(raw), number + 1
            digest = hashlib.sha256(b"\0" + previous + raw).digest()
            row = (number, op["id"], op["device"], op["seq"], op["kind"], op["unit"], op["author"], op["wall_ms"], raw)
            conn.execute("INSERT INTO journal VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", (*row, previous, digest))
            conn.execute("INSERT INTO verdict VALUES (?, 'applied')", (number,))
            what = (op["id"], op["unit"], op["body"].get("zone"), op["body"].get("type"), number)
            conn.execute("INSERT INTO derived VALUES (?, ?, ?, ?, ?)", what)
            conn.execute("INSERT OR IGNORE INTO dirty VALUES ('2026-03-02')")
            previous = digest
        conn.execute("COMMIT")
        took.batch(began)
    conn.close()
    return took.ended()


def main() -> None:
    count, batch = (int(one) for one in sys.argv[1:3]) if len(sys.argv) > 2 else (6000, 20)
    leave_out_of_collections()
    with tempfile.TemporaryDirectory(dir=".") as room:
        ours = through_journal(Path(room) / "ours", count, batch)
        theirs = bare(Path(room), count, batch)
    print(f"{count} in batches of {batch}: journal {ours.told(count)}; bare {theirs.told(count)}")
    print(f"ratio {theirs.seconds / ours.seconds:.2f}, of the processor {theirs.processor / ours.processor:.2f}")


if __name__ == "__main__":
    main()
