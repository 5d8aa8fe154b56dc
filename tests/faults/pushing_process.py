"""A process that pushes operations and says, for each batch, that it was acknowledged; made to be killed.

    python pushing_process.py FOLDER EPOCH [BATCHES]

Prints one line a batch, after the journal answered: the ids, separated by spaces.
"""

import sys
from pathlib import Path

TESTS = Path(__file__).parent.parent
sys.path[:0] = [str(TESTS.parent), str(TESTS / "store")]

from record_kit import Phone, open_journal, unit_number  # noqa: E402 - a script, run from anywhere

from qc.store.intake.journal import wall_ms  # noqa: E402 - as above

DEFECT = {"point": "D01", "zone": "front.gas", "type": "EXT-01", "severity": "minor"}


def main() -> None:
    folder, epoch = Path(sys.argv[1]), sys.argv[2]
    batches = int(sys.argv[3]) if len(sys.argv) > 3 else 10**9
    with open_journal(folder, wall_ms) as journal:
        phone = Phone(journal, "P1", epoch)
        unit = unit_number()
        if journal.write(lambda conn: conn.execute("SELECT count(*) FROM unit").fetchone()) == (0,):
            phone.plan()
        print("ready", flush=True)
        for _ in range(batches):
            made = [phone.make("defect_recorded", "I1", unit, **DEFECT) for _ in range(5)]
            verdicts = phone.send()
            acknowledged = [one["id"] for one, verdict in zip(made, verdicts, strict=True) if verdict.number]
            print(" ".join(acknowledged), flush=True)


if __name__ == "__main__":
    main()
