"""What came through a station from upstream, on rows that a reader can count. Invented rows, worked out by hand."""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.reports.asking import Asking
from qc.reports.periods import Period
from qc.reports.stations.station_upstream import station_upstream
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import wilson_interval
from qc.store.counts import Counts

MONDAY = date(2026, 3, 2)
WEEKS = Period(MONDAY, MONDAY + timedelta(weeks=4), "4 weeks 2026-W10 to 2026-W13", False)
NOW = noon("2026-03-31")


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    for n in range(10):
        record.seen_through(f"U{n}", "2026-03-04")
    yield record
    record.close()


def reported(record, station="S07"):
    return station_upstream(Asking(counts=Counts(record), plant=record.plant, now_ms=NOW), WEEKS, station)


def fill(record):
    """Write four defects on three units, made before S07: two of RP2, one of FU1, one of RP1 found by a dealer."""
    record.defect("a", "U0", "2026-03-04", inspection="U0-D01", type_="PAN-05", suspected="RP2", confirmed="RP2")
    record.defect("b", "U0", "2026-03-04", inspection="U0-D01", type_="PAN-02", suspected="RP2")
    record.defect("c", "U1", "2026-03-04", inspection="U1-D01", type_="FUR-01", suspected="FU1", confirmed="FU1")
    record.defect("e", "U2", "2026-03-20", "FIELD", type_="PAN-05", first=0, suspected="RP1", confirmed="RP1")
    record.defect("own", "U3", "2026-03-04", inspection="U3-D01", type_="PAN-05", suspected="S07", confirmed="S07")
    record.defect("later", "U4", "2026-03-04", inspection="U4-D01", type_="EXT-01", suspected="S10", confirmed="S10")
    record.defect(
        "open", "U5", "2026-03-04", inspection="U5-D01", type_="PAN-05", suspected="RP2", origin_state="disputed"
    )


def test_count_share_origins_and_types_stand_with_period_and_units(record):
    fill(record)
    report = reported(record)

    assert (report.total, report.units_with, report.units) == (4, 3, 10)
    assert report.share == wilson_interval(3, 10, 0.95)
    assert [(one.code, one.confirmed, one.suspected, one.after_dispatch) for one in report.origins] == [
        ("RP2", 1, 1, 0),
        ("FU1", 1, 0, 0),
        ("RP1", 1, 0, 1),
    ]
    assert [(one.code, one.total) for one in report.types] == [("PAN-05", 2), ("FUR-01", 1), ("PAN-02", 1)]
    assert report.sentence == (
        "4 defects made upstream went through S07 and were found later: on 3 of 10 units (30 %; 95 % range 11 % to "
        "60 %). Most came from RP2 Panel plant: cut and apertures: 2."
    )
    assert report.denominator == "10 units of 4 weeks 2026-W10 to 2026-W13 whose build contains S07"


def test_a_station_that_is_not_asked_to_look_is_told_so(record):
    fill(record)

    assert reported(record).duty.startswith("S07 is not asked to find them.")


def test_a_station_that_looks_answers_for_its_own_types_only(record):
    record.defect("g", "U0", "2026-03-04", inspection="U0-D01", type_="GAS-01", suspected="S06", confirmed="S06")
    record.defect("x", "U1", "2026-03-04", inspection="U1-D01", type_="EXT-01", suspected="S10", confirmed="S10")
    report = reported(record, "T01")

    assert (report.total, report.not_asked, report.is_asked) == (1, 1, True)
    assert report.duty == (
        "Only types that T01 is asked to find are counted. 1 more were of types that are first asked for later, and "
        "are not counted."
    )


def test_nothing_that_came_through_is_a_zero_with_its_units(record):
    report = reported(record)

    assert (report.total, report.share.share) == (0, 0.0)
    assert report.sentence == ("Nothing that was made upstream was found after its unit had passed S07, on 10 units.")
    assert report.duty == ""


@pytest.mark.parametrize("station", ["CH1", "SUP", "R01"])
def test_a_place_with_nothing_before_it_says_so(record, station):
    fill(record)

    assert reported(record, station).sentence == f"Nothing comes to {station} from another station."


def test_a_period_without_units_has_no_share(tmp_path):
    record = RowRecord(tmp_path)
    report = reported(record)
    record.close()

    assert isinstance(report.share, TooLittle)
    assert report.sentence == "No unit built through S07 was presented in these weeks."


def test_a_station_that_is_none_is_a_key_error(record):
    with pytest.raises(KeyError, match="S99"):
        reported(record, "S99")
