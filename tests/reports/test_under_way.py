"""What the review says of a plant whose units rest between points over a weekend: they count when they are presented.

Invented rows, counted by hand; the rule is in qc.domain.counted.counts (common practice, no source).
"""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.reports.watch.signals import signals_report
from qc.reports.week.glance import glance
from qc.reports.week.review import weekly_review
from qc.store.counts import Counts
from qc.store.reading.reads import Reads
from tests.charts import made_reports as made

MONDAY = date(2026, 3, 2)
WEEKS, A_WEEK, RESTING = 10, 6, 4
LAST = MONDAY + timedelta(weeks=WEEKS - 1)  # of the last whole week
READ = noon((LAST + timedelta(weeks=1)).isoformat())  # on the Monday after it, before anything is looked at


@pytest.fixture
def record(tmp_path):
    """Ten alike weeks of six units with one minor each; four more rest, with three majors from the test bay."""
    record = RowRecord(tmp_path)
    for week in range(WEEKS):
        day = (MONDAY + timedelta(weeks=week, days=2)).isoformat()
        for n in range(A_WEEK):
            unit = f"U{week}-{n}"
            record.seen_through(unit, day)
            record.defect(f"{unit}-d", unit, day, inspection=f"{unit}-D01", suspected="S07")
    friday = (LAST + timedelta(days=4)).isoformat()
    for n in range(RESTING):
        record.unit(f"R{n}")
        for place, point in enumerate(("T01", "T02")):
            record.looked(f"R{n}-{point}", f"R{n}", friday, point, at=place)
        for m in range(3):
            record.defect(f"R{n}-{m}", f"R{n}", friday, "T01", f"R{n}-T01", severity="major", suspected="S07")
    yield record
    record.close()


def test_the_week_is_judged_on_its_presented_units_alone(record):
    review = weekly_review(Counts(record), record.plant, LAST, READ)
    per_unit = review.level.defects_per_unit

    assert (per_unit.weeks[-1].defects, per_unit.weeks[-1].units) == (A_WEEK, A_WEEK)
    assert per_unit.level_sentence.startswith("6 defects on 6 units")
    assert (review.pareto_by_type.total, review.pareto_by_type.inspected) == (A_WEEK, A_WEEK)
    assert (review.pareto_by_origin.total, review.pareto_by_origin.inspected) == (A_WEEK, A_WEEK)
    assert review.rework.weeks[-1].units == A_WEEK
    assert not any(row.beyond_usual for row in review.pareto_by_origin.by("count").rows)
    assert review.origin_table.known_total == WEEKS * A_WEEK
    assert review.first_pass.lines[0].weeks.presented[-1] == A_WEEK


def test_the_units_that_rest_stand_apart_by_number_and_where(record):
    review = weekly_review(Counts(record), record.plant, LAST, READ)

    assert [one.shop_number for one in review.under_way.units] == [f"S-R{n}" for n in range(RESTING)]
    assert review.under_way.sentence == (
        "4 units under way at the end of 2026-W19 are in no figure of the line yet: 4 wait for D01 Daylight bay "
        "(final inspection); "
        "12 defects found on them so far."
    )
    signals = signals_report(Counts(record), Reads(record.folder, record.plant), record.plant, LAST, READ)
    data = next(line for line in glance(review, signals, made.follow_up()) if line.section == "data")
    assert data.sentence.endswith(review.under_way.sentence)


def test_in_the_running_week_they_are_under_way_now(record):
    review = weekly_review(Counts(record), record.plant, LAST + timedelta(weeks=1), READ)

    assert review.under_way.sentence.startswith("4 units under way now are in no figure of the line yet")
    assert weekly_review(Counts(record), record.plant, LAST - timedelta(weeks=1), READ).under_way.sentence == ""


def test_one_unit_is_said_as_one(record):
    monday = (LAST + timedelta(weeks=1)).isoformat()
    for n in range(1, RESTING):
        record.looked(f"R{n}-D01", f"R{n}", monday)
    review = weekly_review(Counts(record), record.plant, LAST + timedelta(weeks=1), READ)

    assert review.under_way.sentence == (
        "1 unit under way now is in no figure of the line yet: 1 waits for D01 Daylight bay (final inspection); "
        "3 defects found on it so far."
    )
    assert review.level.defects_per_unit.weeks[-1].units == RESTING - 1
