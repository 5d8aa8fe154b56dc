"""Escapes by point and build week with how complete the follow-up is. Invented rows; expected values by hand."""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.charts.escape_follow_up import build_weeks_table, escape_points_table
from qc.reports.asking import Asking
from qc.reports.escape_follow_up import escape_follow_up
from qc.reports.periods import week_of, weeks_up_to
from qc.stats.answers import TooLittle
from qc.store.counts import Counts

MONDAY = date(2026, 3, 2)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def day_of(week, day=2):
    return (MONDAY + timedelta(weeks=week, days=day)).isoformat()


def fill(record, weeks, found=2, later=1):
    """Write ten units a week; so many of S07's defects found in the daylight bay, so many by dealers a month on."""
    for week in weeks:
        for n in range(10):
            record.seen_through(f"U{week}-{n}", day_of(week))
        for n in range(found):
            record.defect(f"d{week}-{n}", f"U{week}-{n}", day_of(week), inspection=f"U{week}-{n}-D01", confirmed="S07")
        for n in range(later):
            record.defect(f"f{week}-{n}", f"U{week}-{n}", day_of(week + 4), "FIELD", first=0, confirmed="S07")


def reported(record, today, weeks=12):
    asked = Asking(Counts(record), record.plant, noon(today))
    return escape_follow_up(asked, weeks_up_to(week_of(MONDAY + timedelta(weeks=11), asked.today), weeks))


def test_only_weeks_that_are_sixty_days_old_are_complete(record):
    fill(record, range(12))
    # units of week n were presented on the Wednesday; 60 days after week 3's Wednesday
    day = (date.fromisoformat(day_of(3)) + timedelta(days=60)).isoformat()
    before = (date.fromisoformat(day_of(3)) + timedelta(days=59)).isoformat()

    assert reported(record, day).complete == 4
    assert reported(record, before).complete == 3
    assert [week.is_complete for week in reported(record, day).weeks] == [True] * 4 + [False] * 8


def test_points_are_read_on_the_complete_weeks_and_all_weeks_stand_beside(record):
    fill(record, range(4), found=3, later=1)
    fill(record, range(4, 12), found=3, later=0)
    day = (date.fromisoformat(day_of(3)) + timedelta(days=60)).isoformat()
    point = {one.point: one for one in reported(record, day).points}["D01"]

    assert (point.found, point.passed) == (12, 4)
    assert point.share.share == pytest.approx(4 / 16)
    assert (point.all_found, point.all_passed) == (36, 4)


def test_build_weeks_count_what_dealers_found_by_the_week_of_the_unit(record):
    fill(record, [0, 1], found=2, later=1)
    weeks = {week.week: week for week in reported(record, day_of(11, 6)).weeks}

    assert (weeks["2026-W10"].units, weeks["2026-W10"].at_points, weeks["2026-W10"].after_dispatch) == (10, 2, 1)
    assert weeks["2026-W14"].units == 0
    assert isinstance(weeks["2026-W14"].follow, TooLittle)


def test_a_young_record_says_that_nothing_has_been_followed_up(record):
    fill(record, [11])
    report = reported(record, day_of(12, 0))

    assert report.complete == 0
    assert "cannot be said" in report.sentence
    assert isinstance(report.points[0].share, TooLittle)


def test_the_sentence_counts_the_complete_weeks_only(record):
    fill(record, range(12), found=3, later=1)
    day = (date.fromisoformat(day_of(3)) + timedelta(days=60)).isoformat()

    assert reported(record, day).sentence.startswith(
        "4 weeks of 12 followed up for 60 days: 4 found after dispatch on 40 units, 25 % of the 16 found at all."
    )


def test_the_tables_mark_what_still_grows(record):
    fill(record, range(12))
    report = reported(record, (date.fromisoformat(day_of(3)) + timedelta(days=60)).isoformat())
    weeks = build_weeks_table(report)

    assert weeks.rows[0].head == "2026-W21"
    assert weeks.rows[0].cells[-1] == "still growing"
    assert weeks.rows[-1].cells[1] == "10 of 10, 100\u00a0%"
    assert escape_points_table(report).rows[-1].head.startswith("D01")
