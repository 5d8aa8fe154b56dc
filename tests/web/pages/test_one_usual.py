"""A step fault at a station, read on the review and on the station's own page: one word, one baseline, one range."""

import re
from datetime import date, timedelta
from math import ceil, floor

import pytest
from record_rows import RowRecord
from scipy.stats import nbinom

from qc.reports.mails.own_letters import Letters
from qc.store.counts import Counts
from qc.store.record.connection import RECORD, open_writer
from tests.web.pages.reading import read, table_rows
from tests.web.plant_server import CAST

MONDAY = date(2026, 3, 2)
DAY_MS = 24 * 3_600_000
USUAL = "the 8 weeks 2026-W10 to 2026-W17"


class Rows(RowRecord):
    """Writes rows beside a server's own record."""

    def __init__(self, server):
        self.folder, self.plant = server.house.folder, server.house.plant
        self.connection = open_writer(self.folder / RECORD)
        self._numbers = 0


def filled(server, defects):
    """Write thirteen weeks of twenty units with so many defects of S07; return a manager's pages after them."""
    rows = Rows(server)

    def work(_):
        for week in range(13):
            day = (MONDAY + timedelta(weeks=week, days=2)).isoformat()
            for n in range(20):
                unit = f"U{week}-{n}"
                rows.seen_through(unit, day)
                if n < defects(week):
                    rows.defect(f"{unit}-d", unit, day, inspection=f"{unit}-D01", confirmed="S07", type_="PAN-06")

    rows.write(work)
    rows.close()
    server.now = 1_772_434_800_000 + 13 * 7 * DAY_MS
    return server.page("quality_manager")


@pytest.fixture
def stepped(server):
    """Six defects of S07 a week, eighteen from the ninth week on."""
    return filled(server, lambda week: 6 if week < 8 else 18)


@pytest.fixture
def scattered(server):
    """Two and ten defects of S07 in turn."""
    return filled(server, lambda week: 2 + 8 * (week % 2))


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


def test_where_counts_scatter_both_say_that_the_range_is_widened_and_how_much(scattered):
    """By hand: chi-square 21.3 on 7 degrees; 48 defects are 16 causes of 3.05, the law of the next is scipy's."""
    scatter = 8 * 16 / 6 / 7
    law = nbinom(16.5, 8 / 9)
    low, high = floor(law.ppf(0.025) * scatter), ceil(law.ppf(0.975) * scatter)
    told = f"{USUAL}, widened as counts scatter 3.0 times what chance gives"
    station, review = read(scattered.get("/stations/S07")), read(scattered.get("/review"))

    for basis in ("found", "work"):
        trend = station.one("article", data_picture=f"trend-{basis}").text
        assert ", widened as counts scatter 3.0 times what chance gives" in trend
        assert "several defects on a unit often have one cause, for which it is widened" in trend
        assert "too narrow" not in trend
    assert f"; {low} to {high} is usual, by {told}." in station.one("article", data_picture="trend-found").text
    origins = review.one("article", data_picture="pareto-origin-count")
    (row,) = [row for row in table_rows(origins, "2026-W22, 20 units") if row[0].startswith("S07")]
    assert row[7].replace("\xa0", " ") == f"{low} – {high}"
    assert told in review.one("section", class_="glance").text
    assert "usual ranges allow for that" in read(scattered.get("/signals")).one("main").text


def test_mondays_mail_has_the_range_of_the_pages(server, scattered):
    house, manager = server.house, CAST["quality_manager"]
    letters = Letters(Counts(house.journal).moment(), house.reads, house.plant, (manager,), "", house.clock())

    assert "widened as counts scatter 3.0 times what chance gives" in " ".join(
        letters.to(manager, "monday").text.split()
    )
