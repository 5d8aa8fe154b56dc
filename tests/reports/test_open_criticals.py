"""The list of open criticals and that it is kept, not sought. Invented rows, counted by hand."""

import pytest
from record_rows import RowRecord, noon

from qc.reports.asking import Asking
from qc.reports.units.open_criticals import open_criticals, open_words
from qc.store.counts import Counts
from qc.store.counts import criticals as statements


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    record.seen_through("U1", "2026-03-03")
    for n, state in enumerate(("closed", "open", "repaired", "withdrawn")):
        record.defect(f"c{n}", "U1", "2026-03-03", "T01", "U1-T01", severity="critical", state=state, suspected="S06")
    record.defect("m", "U1", "2026-03-03", "T01", "U1-T01", severity="major")
    yield record
    record.close()


def listed(record, **narrowed):
    return open_criticals(Asking(counts=Counts(record), plant=record.plant, now_ms=noon("2026-03-09"), **narrowed))


def test_no_narrowing_hides_an_open_critical(record):
    every, narrowed = listed(record), listed(record, models=("H62",), shifts=("late",), severities=("minor",))

    assert [one.state for one in every] == ["open", "repaired"]
    assert every == narrowed
    assert (every[0].what.split()[0], every[0].origins) == ("EXT-01", ("S06",))
    assert open_words(every) == "2 criticals are open."
    record.defect("c2", "U1", "2026-03-03", "T01", "U1-T01", severity="critical", state="closed")
    assert open_words(listed(record)) == "1 critical is open."


def test_the_open_ones_are_read_from_their_own_list(record):
    """A scan of the index of open ones reads their own number, in their order (https://sqlite.org/eqp.html)."""
    plan = [row[3] for row in record.connection.execute(f"EXPLAIN QUERY PLAN {statements.OPEN}")]

    assert plan[0] == "SCAN d USING INDEX defect_critical_open"
    assert not any("TEMP B-TREE" in step for step in plan)
