"""Escapes by point and build week with how complete the follow-up is. Invented rows; expected values by hand."""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.charts.pages.escape_follow_up import build_weeks_table, escape_points_table
from qc.domain.counted.counts import Slice
from qc.reports.asking import Asking
from qc.reports.periods import week_of, weeks_up_to
from qc.reports.week.escape_follow_up import escape_follow_up
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
    """Write ten units a week, released on their day; S07's defects found in the daylight bay, by dealers a month on."""
    for week in weeks:
        for n in range(10):
            record.seen_through(f"U{week}-{n}", day_of(week))
            record.released(f"U{week}-{n}", day_of(week))
        for n in range(found):
            record.defect(f"d{week}-{n}", f"U{week}-{n}", day_of(week), inspection=f"U{week}-{n}-D01", confirmed="S07")
        for n in range(later):
            record.defect(f"f{week}-{n}", f"U{week}-{n}", day_of(week + 4), "FIELD", first=0, confirmed="S07")


def reported(record, today, weeks=12):
    asked = Asking(counts=Counts(record), plant=record.plant, now_ms=noon(today))
    return escape_follow_up(asked, weeks_up_to(week_of(MONDAY + timedelta(weeks=11), asked.today), weeks))


def on_day(n, week=3):
    """Return the day n after the Wednesday of a week."""
    return (date.fromisoformat(day_of(week)) + timedelta(days=n)).isoformat()


def test_only_weeks_whose_sixtieth_day_after_release_is_over_are_complete(record):
    fill(record, range(12))
    day, before = on_day(61), on_day(60)

    assert reported(record, day).complete == 4
    assert reported(record, before).complete == 3
    assert [week.is_complete for week in reported(record, day).weeks] == [True] * 4 + [False] * 8


def test_points_are_read_on_the_complete_weeks_and_all_weeks_stand_beside(record):
    fill(record, range(4), found=3, later=1)
    fill(record, range(4, 12), found=3, later=0)
    day = on_day(61)
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
    day = on_day(61)

    assert reported(record, day).sentence.startswith(
        "4 weeks of 12 followed up for 60 days after release: 4 found after dispatch, 25 % of the 16 found by then, "
        "on 4 of 40 units (10 %; 95 % range 4.0 % to 23 %)."
    )


def test_nothing_grows_any_more_once_every_week_is_followed_up(record):
    fill(record, range(12), found=3, later=1)
    young, old = reported(record, on_day(61)), reported(record, on_day(61, week=11))

    assert young.still_grows
    assert young.sentence.endswith(" Later weeks still grow and are no improvement.")
    assert (old.complete, old.still_grows) == (12, False)
    assert "grow" not in old.sentence


def test_the_tables_mark_what_still_grows(record):
    fill(record, range(12))
    report = reported(record, on_day(61))
    weeks = build_weeks_table(report)

    assert weeks.rows[0].head == "2026-W21"
    assert weeks.rows[0].cells[-1] == "still growing"
    assert weeks.rows[-1].cells[1] == "10 of 10, 100\u00a0%"
    assert escape_points_table(report).rows[-1].head.startswith("D01")


def test_the_clock_runs_from_release_and_not_from_presentation(record):
    fill(record, [0])
    for n in range(10):
        record.seen_through(f"H-{n}", day_of(1))  # presented in the second week, held for six more
        record.released(f"H-{n}", on_day(0, week=7))

    weeks = reported(record, on_day(60, week=7)).weeks
    assert [week.is_complete for week in weeks][:2] == [True, False]
    assert reported(record, on_day(61, week=7)).complete == 2


def test_what_comes_after_day_sixty_stands_apart(record):
    """One found on the last day that counts, two on the next: an older week is no worse for having had longer."""
    fill(record, [0], found=3, later=0)
    record.defect("on", "U0-0", on_day(60, week=0), "FIELD", first=0, confirmed="S07")
    for n in range(2):
        record.defect(f"after-{n}", "U0-0", on_day(61, week=0), "FIELD", first=0, confirmed="S07")
    report = reported(record, day_of(11, 6))
    (week,) = report.weeks[:1]
    point = {one.point: one for one in report.points}["D01"]

    assert (week.after_dispatch, week.later) == (1, 2)
    assert (report.found, report.later) == (1, 2)
    assert (report.share.defectives, report.share.inspected) == (1, 4)
    assert (point.found, point.passed, point.all_passed) == (3, 1, 3)
    assert "2 more came after day 60 and stand apart." in report.sentence
    later = Counts(record).origin_detection(Slice(MONDAY, MONDAY + timedelta(weeks=1)))
    assert sum(row[later.points.index("FIELD")] for row in later.confirmed) == 3
    assert "LATER" not in later.points


def test_units_with_a_finding_are_counted_once_with_their_interval(record):
    fill(record, [0, 1], later=0)
    for n in range(5):
        record.defect(f"f{n}", f"U{n % 2}-0", on_day(9, week=0), "FIELD", first=0)
    report = reported(record, day_of(11, 6))

    assert (report.units, report.units_with.defectives, report.found) == (20, 2, 5)
    assert 0.02 < report.units_with.low < 0.1 < report.units_with.high < 0.31


def test_a_release_signed_again_after_a_finding_does_not_begin_the_clock_anew(record):
    fill(record, [0], later=1)
    assert reported(record, day_of(11)).complete == 1
    for n in range(10):
        record.released(f"U0-{n}", day_of(9))
    again = reported(record, day_of(11)).weeks[0]

    # nine without a finding may have left only then; the one with a finding had left before
    assert (again.follow.units, again.follow.followed) == (10, 1)


def test_a_week_of_which_nothing_has_left_is_not_followed_up(record):
    for n in range(10):
        record.seen_through(f"K-{n}", day_of(0))
    report = reported(record, day_of(11, 6))

    assert report.complete == 0
    assert build_weeks_table(report).rows[-1].cells[1] == "none has left"


def test_narrowed_by_shift_what_dealers_found_is_still_told(record):
    fill(record, [0], later=2)
    seen = Slice(date.fromisoformat(day_of(4, 0)), date.fromisoformat(day_of(5, 0)), shifts=("early",))

    assert Counts(record).data_quality(seen, noon(day_of(11))).field_without_record == (0, 2)
