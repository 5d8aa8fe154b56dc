"""A station's page on rows that a reader can count. Invented rows; expected values by hand."""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.reports.stations.station import station_report
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from qc.store.reading.reads import Reads

MONDAY = date(2026, 3, 2)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def day_of(week, day=2):
    return (MONDAY + timedelta(weeks=week, days=day)).isoformat()


def fill(record, weeks, defects=lambda week: 3, station="S07"):
    """Write weeks of ten units, some with one confirmed defect of the station."""
    for week in weeks:
        for n in range(10):
            unit = f"U{week}-{n}"
            record.seen_through(unit, day_of(week))
            if n < defects(week):
                record.defect(f"{unit}-d", unit, day_of(week), inspection=f"{unit}-D01", confirmed=station)


def reported(record, week, now=None, station="S07"):
    when = noon(now or day_of(week, 12))
    reads = Reads(record.folder, record.plant)
    try:
        return station_report(Counts(record), reads, record.plant, station, MONDAY + timedelta(weeks=week), when)
    finally:
        reads.close()


def test_the_lead_reads_how_many_and_what_is_usual(record):
    fill(record, range(12))
    report = reported(record, 11)
    last = report.by_work.dots[-1]

    # 24 defects on the 80 units of the first 8 weeks: of a week of 10 units at this rate 0 to 7 are usual (exact sums).
    assert (last.week, last.defects, last.exposed, last.state) == ("2026-W21", 3, 10, "usual")
    assert (last.usual.low, last.usual.high) == (0, 7)
    assert "3 in 2026-W21 on 10 units" in report.by_work.sentence
    assert "0 to 7 is usual, by the 8 weeks 2026-W10 to 2026-W17" in report.by_work.sentence


def test_a_week_beyond_the_range_is_said_to_be_more(record):
    fill(record, range(12), lambda week: 9 if week == 11 else 1)
    report = reported(record, 11)

    assert report.by_work.dots[-1].state == "more"
    assert report.by_work.sentence.endswith("more than usual.")


def test_a_young_record_says_too_little(record):
    fill(record, range(3))
    report = reported(record, 2)

    assert isinstance(report.by_work.dots[-1].usual, TooLittle)
    assert report.by_work.dots[-1].state == "too little"
    assert "what is usual cannot be said: a baseline needs 8 whole weeks" in report.by_work.sentence


def test_a_feeders_week_waits_until_its_units_have_come_to_daylight(record):
    # FU1 works 4 working days ahead: what it made on Friday 2026-05-15 is seen on Thursday 2026-05-21.
    fill(record, range(11), station="FU1")

    def states(now):
        report = reported(record, 10, now=now, station="FU1")
        return report.by_work.dots[-1].state == "partial", report.by_found.dots[-1].state == "partial"

    assert states("2026-05-15") == (True, True)
    assert states("2026-05-18") == (True, False)
    assert states("2026-05-21") == (True, False)
    assert states("2026-05-22") == (False, False)


def test_work_and_found_weeks_stand_side_by_side(record):
    fill(record, range(12), lambda week: 5 if week == 6 else 0, station="FU1")
    report = reported(record, 11, station="FU1")
    work = {dot.week: dot.defects for dot in report.by_work.dots}
    found = {dot.week: dot.defects for dot in report.by_found.dots}

    # Seen Wednesday of week 7 (2026-W16), made four working days before: Thursday of 2026-W15 (Good Friday falls out).
    assert found["2026-W16"] == 5
    assert sum(work.values()) == 5
    assert work["2026-W16"] == 0


def test_what_waits_is_listed_with_its_photos_and_age_in_working_days(record):
    record.seen_through("U1", "2026-03-06")
    record.defect("a", "U1", "2026-03-06", inspection="U1-D01", suspected="S07")
    record.defect("b", "U1", "2026-03-06", inspection="U1-D01", suspected="S07", confirmed="S07")
    for place in ("1", "2"):
        circle = "[0.1,0.2,0.3,0.4]" if place == "2" else None
        record.put("defect_photo", defect="a", sha256=place * 64, number=int(place), circle=circle)
    waiting = reported(record, 1, now="2026-03-11").waiting

    assert [one.defect for one in waiting] == ["a"]
    assert waiting[0].photos == {"1" * 64: None, "2" * 64: (0.1, 0.2, 0.3, 0.4)}
    assert (waiting[0].age_days, waiting[0].overdue) == (3, False)  # the weekend does not count
    assert "S07" in waiting[0].possible_origins
    assert "D01" not in waiting[0].possible_origins
    assert reported(record, 1, now="2026-03-12").waiting[0].overdue


def test_photos_and_types_are_the_stations_own(record):
    record.seen_through("U1", "2026-03-04")
    record.defect("a", "U1", "2026-03-04", inspection="U1-D01", type_="PAN-05", confirmed="S07")
    record.defect("b", "U1", "2026-03-04", inspection="U1-D01", type_="PAN-05", suspected="S07", confirmed="RP2")
    record.defect("c", "U1", "2026-03-04", inspection="U1-D01", type_="PAN-06", suspected="S07")
    for defect in "abc":
        record.put("defect_photo", defect=defect, sha256=defect * 64, number=1)
    report = reported(record, 0)

    assert {photo.defect for photo in report.photos} == {"a", "c"}
    assert [(one.type, one.week_confirmed, one.week_suspected) for one in report.types] == [
        ("PAN-05", 1, 0),
        ("PAN-06", 0, 1),
    ]


def test_change_notes_stand_latest_first(record):
    for n, day in enumerate(["2026-03-02", "2026-03-09"]):
        record.put(
            "change_note", id=f"n{n}", station="S07", change="tool", what=f"jig {n}", from_day=day, noted_by="L-S07",
            number=n + 1,
        )  # fmt: skip

    assert [note.what for note in reported(record, 1).change_notes] == ["jig 1", "jig 0"]


def test_a_range_from_weeks_that_something_happened_in_says_so(record):
    fill(record, range(12), lambda week: 10 if week in (4, 5) else 1)
    report = reported(record, 11)

    assert any("more than luck alone" in said and "variance" in said for said in report.by_work.cautions)
    # Two readings, as counts alone do not tell them apart.
    assert any("Either something happened" in said and "or several defects" in said for said in report.by_work.cautions)


def test_criticals_stand_in_no_count_and_each_by_number(record):
    fill(record, range(10))
    record.defect("c", "U9-5", day_of(9), inspection="U9-5-D01", severity="critical", suspected="S07")
    report = reported(record, 9)

    assert report.by_found.dots[-1].defects == 3
    assert [one.defect for one in report.criticals] == ["c"]
    assert [one.week_confirmed + one.week_suspected for one in report.types] == [3]


def test_a_supplier_has_no_lead_time_to_wait_for(record):
    fill(record, range(11), station="SUP")
    report = reported(record, 10, now="2026-05-18", station="SUP")

    assert report.by_work.dots[-1].state == report.by_found.dots[-1].state == "usual"


def test_weeks_from_before_the_record_are_not_shown(record):
    fill(record, range(3))

    assert len(reported(record, 2).by_found.dots) == 3


def test_it_says_of_how_many_units_the_passing_was_told_here(record):
    fill(record, range(12))
    assert reported(record, 11).dated.startswith("No passing was told here in these weeks")
    for n in range(4):
        record.passed(f"U11-{n}", "S07", day_of(11))
        record.passed(f"U10-{n}", "S08", day_of(10))

    assert reported(record, 11).dated == (
        "The day of the work was told at the station for 4 of 120 units presented; "
        "for the others it is reckoned by the plant's lead time."
    )
    assert reported(record, 11, station="SUP").dated == ""
