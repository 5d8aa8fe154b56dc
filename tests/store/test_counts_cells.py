"""Station × type through the count layer. Invented rows on the invented plant; expected values by hand."""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.domain.counted.counts import Slice
from qc.store.counts import Counts

MONDAY = date(2026, 3, 2)
LATER = noon("2030-01-07")
WEEKS = Slice(MONDAY, MONDAY + timedelta(weeks=3), (), (), ("major", "minor"))


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    record.seen_through("U1", "2026-03-03", model="T36")
    record.seen_through("U2", "2026-03-17", model="H62")
    yield record
    record.close()


def flaw(record, id_, unit="U1", day="2026-03-03", **more):
    record.defect(id_, unit, day, inspection=f"{unit}-D01", **{"confirmed": "S07", "type_": "PAN-06", **more})


def test_cells_hold_zeros_by_week_and_model_and_no_critical(record):
    flaw(record, "d1")
    flaw(record, "d2", confirmed=None, suspected="S07")
    flaw(record, "d3", unit="U2", day="2026-03-17", model="H62")
    flaw(record, "d4", severity="critical")
    flaw(record, "d5", state="withdrawn")
    flaw(record, "d6", confirmed=None, suspected="S07", origin_state="disputed")
    table = Counts(record).cell_weeks(WEEKS, LATER)

    assert table.weeks == ("2026-W10", "2026-W11", "2026-W12")
    assert table.models == ("T36", "M50", "H62")
    assert table.units == ((1, 0, 0), (0, 0, 0), (0, 0, 1))
    cells = dict(zip(table.cells, table.defects, strict=True))
    assert cells["S07", "PAN-06"] == ((2, 0, 0), (0, 0, 0), (0, 0, 1))
    assert cells["UNK", "PAN-06"] == ((1, 0, 0), (0, 0, 0), (0, 0, 0))
    assert not table.partial


def test_work_and_photos_are_of_what_the_cells_count(record):
    flaw(record, "d1")
    flaw(record, "d2", confirmed="RP2")
    flaw(record, "d3", state="withdrawn")
    for id_ in ("d1", "d2", "d3"):
        record.connection.execute("UPDATE defect SET work_day = '2026-02-27' WHERE id = ?", (id_,))
        record.put("defect_photo", defect=id_, sha256=f"sha-{id_}", number=1)
    counts = Counts(record)

    assert [one.work_day for one in counts.worked_defects(WEEKS, "S07", ("PAN-06",))] == [date(2026, 2, 27)]
    (photo,) = counts.cell_photos(WEEKS, "S07", ("PAN-06", "PAN-05"))
    assert (photo.sha256, photo.defect, photo.unit) == ("sha-d1", "d1", "U1")
    assert (photo.severity, photo.grade) == ("minor", "")
    assert counts.cell_photos(WEEKS, "S07", ("PAN-05",)) == ()
