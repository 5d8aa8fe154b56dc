"""The first review after a start loads what it computes with and nothing heavier."""

import subprocess
import sys
from pathlib import Path

SCRIPT = """
import sys, tempfile
from datetime import date, timedelta
from pathlib import Path
from record_rows import RowRecord, noon
from qc.reports.week.review import weekly_review
from qc.store.counts import Counts
with tempfile.TemporaryDirectory() as folder:
    record = RowRecord(Path(folder))
    for week in range(12):
        day = (date(2026, 3, 4) + timedelta(weeks=week)).isoformat()
        for n in range(4):
            record.seen_through(f"U{week}-{n}", day)
            record.defect(f"d{week}-{n}", f"U{week}-{n}", day, inspection=f"U{week}-{n}-D01", confirmed="S07")
    weekly_review(Counts(record), record.plant, date(2026, 5, 20), noon("2026-06-10"))
    record.close()
print(*sys.modules, sep="\\n")
"""
HEAVY = {"pandas", "statsmodels", "scipy.stats", "scipy.optimize", "plotly", "flask", "sqlite_utils"}


def test_a_review_loads_scipys_special_functions_and_nothing_heavier():
    rows = Path(__file__).parents[1] / "rows"
    done = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path.insert(0, {str(rows)!r}){SCRIPT}"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    loaded = set(done.stdout.splitlines())

    assert "scipy.special" in loaded
    assert loaded & HEAVY == set()
