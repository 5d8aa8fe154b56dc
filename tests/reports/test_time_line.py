"""A unit's line of time, from operations that went through the record's door."""

import pytest

from qc.reports.units.time_line import Moment
from qc.reports.units.unit import unit_report
from qc.store.reading.reads import Reads
from tests.store.record_kit import PLANT, Clock, Phone, open_journal


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def journal(tmp_path, clock):
    with open_journal(tmp_path, clock) as journal:
        yield journal


def line(journal, unit) -> tuple[Moment, ...]:
    reads = Reads(journal.folder, PLANT)
    try:
        return unit_report(reads, PLANT, unit).moments
    finally:
        reads.close()


def words(journal, unit):
    return [(one.who, one.sign, one.words) for one in line(journal, unit)]


def found(phone, unit, inspection, **more):
    body = {"point": "D01", "zone": "front.panel", "type": "EXT-01", "severity": "minor", **more}
    return phone.must("defect_recorded", "I1", unit, inspection=inspection, **body)


def test_a_planned_unit_has_no_life_yet(journal):
    assert line(journal, Phone(journal).plan()) == ()


def test_a_life_reads_from_the_first_look_to_the_last_re_check(journal, clock):
    phone = Phone(journal)
    unit = phone.plan()
    inspection = phone.look(unit)
    first, second = found(phone, unit, inspection), found(phone, unit, inspection)
    clock.after(5)
    phone.must("repair_done", "RW1", unit, defects=[first], method="rework", minutes=12)
    phone.must("repair_done", "RW1", unit, defects=[second], method="rework", minutes=3)
    clock.after(5)
    phone.must("recheck_failed", "I2", unit, defect=second, reason="still loose")
    phone.must("recheck_accepted", "I2", unit, defect=first)

    told = words(journal, unit)

    zones = len(PLANT.zones_of("T36"))
    assert told == [
        (
            "I1",
            "look",
            f"D01 Daylight bay (final inspection), presentation 1; {zones} of {zones} zones; defects 1 and 2 found",
        ),
        ("RW1", "repair", "Defects 1 and 2 repaired"),
        ("I2", "back", "Defect 2 looked at again: not put right"),
        ("I2", "closed", "Defect 1 looked at again and closed"),
    ]


def test_what_is_not_in_effect_is_no_moment(journal):
    phone = Phone(journal)
    unit = phone.plan()
    defect = found(phone, unit, phone.look(unit))
    phone.must("repair_done", "RW1", unit, defects=[defect], method="rework", minutes=1)
    phone.do("recheck_accepted", "RW1", unit, defect=defect)  # refused: who repaired does not accept

    assert [one.sign for one in line(journal, unit)] == ["look", "repair"]


def test_a_run_of_tests_is_one_moment_and_names_what_failed(journal):
    phone = Phone(journal)
    unit = phone.plan()
    for test, passed in (("G2", True), ("M3", False)):
        phone.must("test_recorded", "TB1", unit, test=test, passed=passed, instrument="IN-1")

    (one,) = line(journal, unit)

    assert (one.who, one.sign, one.words) == ("TB1", "test", "2 tests, failed: M3")
