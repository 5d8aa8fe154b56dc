"""A unit's line of time, from operations that went through the record's door."""

from tests.reports.unit_kit import found, reported
from tests.store.record_kit import PLANT, Phone


def words(journal, unit):
    return [(one.who, one.sign, one.words) for one in reported(journal, unit).moments]


def test_a_planned_unit_has_no_life_yet(journal):
    assert reported(journal, Phone(journal).plan()).moments == ()


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

    assert [one.sign for one in reported(journal, unit).moments] == ["look", "repair"]


def test_a_run_of_tests_is_one_moment_and_names_what_failed(journal):
    phone = Phone(journal)
    unit = phone.plan()
    for test, passed in (("G2", True), ("M3", False)):
        phone.must("test_recorded", "TB1", unit, test=test, passed=passed, instrument="IN-1")

    (one,) = reported(journal, unit).moments

    assert (one.who, one.sign, one.words) == ("TB1", "test", "2 tests, failed: M3 Polarity at every outlet")
