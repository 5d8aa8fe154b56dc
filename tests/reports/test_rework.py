"""Rework minutes a unit on rows that a reader can count. Usual minutes in the invented plant: EXT-04 8, SEA-05 180."""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.reports.week.review import weekly_review
from qc.store.counts import Counts

MONDAY = date(2026, 3, 2)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def on(week, day=1):
    return (MONDAY + timedelta(weeks=week, days=day)).isoformat()


def week_of_two(record, week, *defects):
    """Two units of a week, and defects (type, severity) on the first at its first presentation."""
    for n in range(2):
        record.seen_through(f"U{week}-{n}", on(week))
    for n, (type_, severity) in enumerate(defects):
        record.defect(
            f"{week}-{n}", f"U{week}-0", on(week), inspection=f"U{week}-0-D01", type_=type_, severity=severity
        )


def rework(record, week, now=None, **narrowed):
    when = noon(now or on(week, 9))
    return weekly_review(Counts(record), record.plant, MONDAY + timedelta(weeks=week), when, **narrowed).rework


def test_minutes_a_unit_are_the_types_usual_minutes_over_the_units(record):
    week_of_two(record, 0, ("SEA-05", "major"))
    week_of_two(record, 1, ("EXT-04", "minor"), ("EXT-04", "minor"), ("SEA-05", "major"))
    answer = rework(record, 1)

    assert [(one.week, one.minutes, one.units, one.a_unit) for one in answer.weeks] == [
        ("2026-W10", 180, 2, 90.0),
        ("2026-W11", 196, 2, 98.0),
    ]
    assert answer.sentence.startswith("98 usual minutes a unit in 2026-W11 (196 on 2 units); 90 in the week 2026-W10")


def test_criticals_add_no_minutes(record):
    week_of_two(record, 0, ("SEA-05", "critical"))

    assert rework(record, 0).weeks[-1].minutes == 0


def test_the_running_week_says_so_far(record):
    week_of_two(record, 0, ("EXT-04", "minor"))
    answer = rework(record, 0, now=on(0, 2))

    assert answer.weeks[-1].partial
    assert "in 2026-W10 so far" in answer.sentence


def test_a_week_without_units_is_no_zero(record):
    week_of_two(record, 0, ("EXT-04", "minor"))
    week_of_two(record, 2, ("EXT-04", "minor"))

    assert rework(record, 2).weeks[1].a_unit is None
    assert rework(record, 1).sentence == "No unit was presented in 2026-W11."
