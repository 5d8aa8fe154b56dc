"""The list of signals on rows that a reader can count. Invented rows; expected values by hand."""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.reports.signals import Mute, signals_report
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from qc.store.reads import Reads

MONDAY = date(2026, 3, 2)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def day_of(week, day=2):
    return (MONDAY + timedelta(weeks=week, days=day)).isoformat()


def fill(record, weeks, defects, station="S07", type_="PAN-06"):
    """Write weeks of twenty units; the first of them with one confirmed defect of the station each."""
    for week in weeks:
        for n in range(20):
            unit = f"U{week}-{n}"
            record.seen_through(unit, day_of(week))
            if n < defects(week):
                record.defect(f"{unit}-d", unit, day_of(week), inspection=f"{unit}-D01", confirmed=station, type_=type_)


def reported(record, week, mutes=()):
    reads = Reads(record.folder, record.plant)
    try:
        now = noon(day_of(week, 8))
        return signals_report(Counts(record), reads, record.plant, MONDAY + timedelta(weeks=week), now, mutes)
    finally:
        reads.close()


def noted(record, week, change="tool", types="[]", station="S07"):
    record.put(
        "change_note", id=f"n{week}", station=station, change=change, what="New jig", types=types,
        from_day=day_of(week, 0), noted_by="L-S07", number=record.number(),
    )  # fmt: skip


def doubled(week):
    return 6 if week < 11 else 18


def test_a_rise_is_listed_as_new_with_its_range_its_size_and_the_change_noted_there(record):
    fill(record, range(12), doubled)
    noted(record, 10)
    report = reported(record, 11)
    (signal,) = report.shown

    assert (signal.station, signal.type, signal.direction, signal.is_new) == ("S07", "PAN-06", "up", True)
    assert signal.begun == "2026-W21"
    assert signal.since[0] <= "2026-W21" <= signal.since[1]
    assert (signal.observed, round(signal.expected, 6)) == (18, 6)
    assert signal.low < 3 < signal.high
    assert [note.what for note in signal.notes] == ["New jig"]
    assert report.rate == pytest.approx(1 / 13)
    assert report.baseline.name == "8 weeks 2026-W10 to 2026-W17"


def test_a_week_later_it_is_not_new_any_more(record):
    fill(record, range(13), doubled)
    (signal,) = reported(record, 12).shown

    assert not signal.is_new
    assert signal.raised == "2026-W21"


def test_the_week_that_still_runs_is_left_out(record):
    fill(record, range(12), doubled)
    reads = Reads(record.folder, record.plant)
    report = signals_report(Counts(record), reads, record.plant, MONDAY + timedelta(weeks=11), noon(day_of(11, 3)))
    reads.close()

    assert report.judged.name == "2026-W20"
    assert report.shown == ()
    assert report.sentence == "Nothing moved beyond chance up to 2026-W20."


def test_a_young_record_watches_nothing_and_says_so(record):
    fill(record, range(4), doubled)
    report = reported(record, 3)

    assert isinstance(report.baseline, TooLittle)
    assert "8 whole weeks" in report.sentence


def test_a_muted_signal_is_apart_until_its_day(record):
    fill(record, range(12), doubled)
    mute = Mute("S07", "PAN-06", "jig ordered", date(2026, 6, 30), "QM1")
    report = reported(record, 11, (mute,))

    assert report.shown == ()
    assert report.muted[0].mute == mute
    over = Mute("S07", "PAN-06", "jig ordered", date(2026, 5, 1), "QM1")
    assert len(reported(record, 11, (over,)).shown) == 1


def test_no_rule_runs_across_a_change_of_criteria(record):
    fill(record, range(12), doubled)
    noted(record, 11, "criteria", '["PAN-06"]', "D01")
    report = reported(record, 11)

    assert report.shown == ()
    assert [one.types for one in report.left_out] == [("PAN-06",)]


def test_unknown_origins_are_no_stations_signal(record):
    fill(record, range(12), doubled, station="UNK")

    assert reported(record, 11).shown == ()


def test_after_26_weeks_a_new_baseline_takes_over(record):
    fill(record, range(36), lambda week: 6 if week < 11 else 12)
    report = reported(record, 35)

    assert report.baseline.name == "13 weeks 2026-W31 to 2026-W43"
    assert report.shown == ()
