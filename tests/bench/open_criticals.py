"""What the open criticals cost that every review and station page asks for, after years of settled ones.

    python -m tests.bench.open_criticals

Reads the list of the open ones that the record keeps, and, as before there was one, all criticals of the record by
their days, with 5 open among 500, 5 000 and 50 000. Ratios are what counts; the machine is shared.
"""

import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from statistics import median

sys.path[:0] = [str(Path(__file__).parents[1] / "rows")]

from record_rows import RowRecord  # noqa: E402

from qc.store.counts import criticals  # noqa: E402

OPEN, TIMES = 5, 25
SOUGHT = criticals.OPEN.replace("defect_critical_open", "defect_critical")


def filled(folder: Path, every: int) -> RowRecord:
    """Return a record of so many criticals on as many units, the last few of them open."""
    record = RowRecord(folder)
    record.connection.execute("BEGIN")
    for n in range(every):
        day = (date(2001, 1, 1) + timedelta(days=n % 9000)).isoformat()
        record.unit(f"U{n}")
        record.defect(f"c{n}", f"U{n}", day, severity="critical", state="closed" if n < every - OPEN else "open")
    record.connection.execute("COMMIT")
    return record


def milliseconds(record: RowRecord, statement: str) -> float:
    """Return the median time of reading a statement's rows."""
    taken = []
    for _ in range(TIMES):
        begun = time.perf_counter()
        rows = record.connection.execute(statement).fetchall()
        taken.append((time.perf_counter() - begun) * 1000)
        assert len(rows) == OPEN
    return median(taken)


def main() -> None:
    """Print one line for each size."""
    print(f"{'criticals':>10}{'open':>6}{'sought, ms':>12}{'kept, ms':>10}{'ratio':>8}")
    for every in (500, 5_000, 50_000):
        with tempfile.TemporaryDirectory() as place:
            record = filled(Path(place), every)
            sought, kept = milliseconds(record, SOUGHT), milliseconds(record, criticals.OPEN)
            record.close()
        print(f"{every:>10}{OPEN:>6}{sought:>12.3f}{kept:>10.3f}{sought / kept:>8.1f}", flush=True)


if __name__ == "__main__":
    main()
