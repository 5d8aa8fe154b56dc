"""A step fault at a station, read on the review and on the station's own page: one word, one baseline, one range."""

import re
from datetime import date, timedelta

import pytest
from record_rows import RowRecord

from qc.store.record.connection import RECORD, open_writer
from tests.web.pages.reading import read, table_rows

MONDAY = date(2026, 3, 2)
DAY_MS = 24 * 3_600_000
USUAL = "the 8 weeks 2026-W10 to 2026-W17"


class Rows(RowRecord):
    """Writes rows beside a server's own record."""

    def __init__(self, server):
        self.folder, self.plant = server.house.folder, server.house.plant
        self.connection = open_writer(self.folder / RECORD)
        self._numbers = 0


@pytest.fixture
def stepped(server):
    """Thirteen weeks of twenty units: six defects of S07 a week, eighteen from the ninth week on."""
    rows = Rows(server)

    def work(_):
        for week in range(13):
            day = (MONDAY + timedelta(weeks=week, days=2)).isoformat()
            for n in range(20):
                unit = f"U{week}-{n}"
                rows.seen_through(unit, day)
                if n < (6 if week < 8 else 18):
                    rows.defect(f"{unit}-d", unit, day, inspection=f"{unit}-D01", confirmed="S07", type_="PAN-06")

    rows.write(work)
    rows.close()
    server.now = 1_772_434_800_000 + 13 * 7 * DAY_MS
    return server.page("quality_manager")


def test_review_and_station_say_the_same_of_a_station_in_a_step_fault(stepped):
    station, review = read(stepped.get("/stations/S07")), read(stepped.get("/review"))
    trend = station.one("article", data_picture="trend-found").one("p", class_="says").text
    low, high = re.search(rf"18 in 2026-W22 .*; (\d+) to (\d+) is usual, by {USUAL}: more than usual", trend).groups()
    origins = review.one("article", data_picture="pareto-origin-count")
    (row,) = [row for row in table_rows(origins, "2026-W22, 20 units") if row[0].startswith("S07")]

    assert (row[1], row[7].replace("\xa0", " ")) == ("18", f"{low} – {high}")
    assert "above usual; a signal stands: more" in row[-1]
    most = review.one("section", class_="glance").text
    assert f"Types above usual: PAN-06, by {USUAL}." in most
    assert f"Origins above usual: S07, by {USUAL}." in most
    assert "A signal stands on S07 (more)" in most
    assert "is beyond its usual range" not in most


def test_a_page_with_a_standing_signal_begins_with_it(stepped):
    station = read(stepped.get("/stations/S07"))
    words = station.one("main").text

    assert "A signal stands here. S07 Wall panels bond" in words
    assert words.index("A signal stands here.") < words.index("is usual, by the")
    assert "A signal stands here" not in read(stepped.get("/stations/S08")).one("main").text
