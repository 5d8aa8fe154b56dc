"""What proofs of authorship cost a push: the same pushes with the author's signature checked and kept, and without.

    python -m tests.bench.proofs [pushes]

One thread hands bodies of 20 operations through the JSON door to the journal; without: the server neither checks nor
keeps anything. Taken in turn, so that both meet the same machine.
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path

from qc.domain.facts.proof import CERTIFIED_MS, Certificate
from qc.store.intake.journal import Journal, PushBatch, wall_ms
from qc.store.record import proofs
from qc.web.json_door import read_object_with_parts
from tests.bench.ingest import PLANT, TABLES, Client, chassis, made_folder

ROUNDS = 8


def seconds_of(journal: Journal, pushes: int, place: int, *, proved: bool) -> float:
    """Return the seconds that a phone's pushes take."""
    client = Client(f"P{place}", "s", "", 0, chassis(30_001 + place % 40))
    now = wall_ms()
    given = Certificate("IV1", client.device, client.author.public, now, now + CERTIFIED_MS)
    client.author.certificate = journal.certificates.give(given)
    bodies = [client._push([client.begun]), *(client._push(client._operations()) for _ in range(pushes))]
    begun = time.perf_counter()
    for body in bodies:
        frame, parts = read_object_with_parts(body, 256_000, "operations")
        runs = [proofs.Run(**run) for run in frame["runs"]]
        known = proofs.proofs_of(journal.certificates, client.device, "e", runs, parts) if proved else None
        told = journal.push(PushBatch(client.device, "e", frame["sent_ms"], parts, known)).verdicts
        assert all(verdict.verdict == "applied" for verdict in told), told
    return time.perf_counter() - begun


def main() -> None:
    pushes = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    write = proofs.Kept.write
    ratios = []
    with tempfile.TemporaryDirectory() as root, Journal(made_folder(Path(root)), PLANT, TABLES) as journal:
        for turn in range(ROUNDS):
            with_proof = seconds_of(journal, pushes, 2 * turn + 1, proved=True)
            proofs.Kept.write = lambda self, conn, key: None
            without = seconds_of(journal, pushes, 2 * turn + 2, proved=False)
            proofs.Kept.write = write
            ratios.append(without / with_proof)
    print(f"pushes of 20 with proofs, throughput against none: {statistics.median(ratios):.2f} (median of {ROUNDS})")


if __name__ == "__main__":
    main()
