"""One unit's page, from operations that went through the record's door."""

import pytest

from tests.reports.unit_kit import found, reported
from tests.store.record_kit import PLANT, Phone


def test_an_unplanned_unit_is_a_key_error(journal):
    with pytest.raises(KeyError, match="not planned"):
        reported(journal, "0PC7T3600TW030001")


def test_a_planned_unit_tells_what_it_lacks(journal):
    unit = Phone(journal).plan()
    report = reported(journal, unit)

    assert report.release is None
    assert {test.result for test in report.tests} == {"missing"}
    assert report.summary.endswith("zones not looked at.")
    assert report.cautions[0] == PLANT.cautions["GAS"].short
    assert PLANT.standing_line not in report.cautions  # the foot of each page has it
    assert [step.words for step in report.story] == ["planned as T36 for 2026-03-02"]


def test_a_defects_life_is_told_step_by_step(journal, clock):
    phone = Phone(journal)
    unit = phone.plan()
    inspection = phone.look(unit)
    defect = found(phone, unit, inspection)
    phone.must("origin_suspected", "I1", unit, defect=defect, station="S07")
    clock.after(5)
    phone.must("origin_disputed", "L-S07", unit, defect=defect, reason="not our trim")
    phone.must("origin_settled", "QM1", unit, defect=defect, station="S10", reason="seen at the line")
    clock.after(5)
    phone.must("repair_done", "RW1", unit, defects=[defect], method="rework", minutes=12)
    phone.must("recheck_accepted", "I2", unit, defect=defect)
    told = reported(journal, unit).defects[0]

    assert [step.author for step in told.steps] == ["I1", "I1", "L-S07", "QM1", "RW1", "I2"]
    assert "disputed (not our trim)" in told.steps[2].words
    assert told.steps[4].words == "1 defect repaired (rework, 12 minutes)"
    assert (told.state, told.confirmed, told.repaired_by, told.rechecked_by) == ("closed", "S10", "RW1", "I2")


def test_a_refused_operation_stays_in_the_story_and_says_why(journal):
    phone = Phone(journal)
    unit = phone.plan()
    defect = found(phone, unit, phone.look(unit))
    phone.must("repair_done", "RW1", unit, defects=[defect], method="rework", minutes=1)
    phone.do("recheck_accepted", "RW1", unit, defect=defect)
    last = reported(journal, unit).story[-1]

    assert "refused, not in effect" in last.words


def test_first_presentations_say_whether_they_were_clean(journal):
    phone = Phone(journal)
    unit = phone.plan()
    first = phone.look(unit)
    found(phone, unit, first)
    again = phone.look(unit)
    looks = {one.id: one for one in reported(journal, unit).looks}

    assert (looks[first].clean_major, looks[first].clean_all) == (True, False)
    assert (looks[again].presentation, looks[again].clean_all) == (2, None)
    assert looks[first].looked == looks[first].total_zones == len(PLANT.zones_of("T36"))


def test_a_point_that_looks_at_no_zones_says_nothing_of_zones(journal):
    phone = Phone(journal)
    unit = phone.plan()
    bay = phone.must("inspection_begun", "TB1", unit, point="T01", purpose="presentation", light="lamps", weather="dry")
    phone.must("inspection_ended", "TB1", unit, inspection=bay)
    begun = phone.must("inspection_begun", "I1", unit, point="D01", purpose="presentation", light="bright")
    looks = {one.id: one for one in reported(journal, unit).looks}

    assert looks[bay].total_zones is None
    assert (looks[begun].looked, looks[begun].total_zones) == (0, len(PLANT.zones_of("T36")))


def test_a_further_presentation_without_zones_is_not_said_to_have_left_them_all_out(journal):
    phone = Phone(journal)
    unit = phone.plan()
    first = phone.look(unit)
    begun = phone.must("inspection_begun", "I1", unit, point="D01", purpose="presentation", light="bright")
    looks = {one.id: one for one in reported(journal, unit).looks}

    assert (looks[begun].presentation, looks[begun].total_zones) == (2, None)
    assert looks[first].total_zones == len(PLANT.zones_of("T36"))


def test_a_release_says_by_whom_and_against_what_and_never_more(journal, clock):
    phone = Phone(journal)
    unit = phone.plan()
    phone.test_all(unit)
    phone.look(unit)
    clock.after(5)
    assert phone.sign(unit).verdict == "applied"
    report = reported(journal, unit)

    assert report.summary == "Released by QM1 on 2026-03-02 against release rule of the plant."
    assert report.release.signed_by == "QM1"
    assert len(report.release.story_digest) == 64
    assert "safe" not in report.summary
    assert {test.result for test in report.tests} == {"passed"}


def test_a_defect_after_release_takes_it_back_and_keeps_the_record_of_it(journal, clock):
    phone = Phone(journal)
    unit = phone.plan()
    phone.test_all(unit)
    inspection = phone.look(unit)
    clock.after(5)
    phone.sign(unit)
    found(phone, unit, inspection, severity="major", severity_reason="gaps wide open")
    report = reported(journal, unit)

    assert report.release is None
    assert [one.signed_by for one in report.earlier_releases] == ["QM1"]
    assert report.alarm
    told = [(one.words, one.to) for one in report.blockers if one.code == "alarm"]
    assert told == [("The alarm above: nobody has looked at the unit since", "alarm")]  # its words stand there once


def test_limits_are_those_of_the_day_with_their_unit(journal):
    phone = Phone(journal)
    unit = phone.plan()
    phone.must("test_recorded", "TB1", unit, test="E1", instrument="IN-1", value=14.1)
    tests = {one.test: one for one in reported(journal, unit).tests}

    assert (tests["E1"].limits, tests["E1"].reading, tests["E1"].result) == ("13.4 to 14.6 V", "14.1", "passed")
    assert tests["G1"].limits == "at most 10 mbar"
    assert tests["M3"].limits == "pass or fail"


def test_what_stands_beside_a_result_is_told_and_counted(journal):
    phone = Phone(journal)
    unit = phone.plan()
    result = {"test": "M6", "instrument": "IN-1"}
    slip = phone.must("test_recorded", "TB1", unit, **result, value=400)
    phone.must("test_withdrawn", "TB1", unit, result=slip, reason="a figure too many")
    phone.must("test_recorded", "TB1", unit, **result, value=500, beyond="above")
    phone.must("test_recorded", "TB1", unit, **result, value=39, again="instrument")

    test = {one.test: one for one in reported(journal, unit).tests}["M6"]

    assert (test.reading, test.again, test.result) == ("39", "instrument", "passed")
    assert test.before == (
        "400 ms: failed by TB1, taken back (a figure too many)",
        ">500 ms: failed by TB1",
    )


def test_it_says_where_its_passing_was_told_and_where_lead_times_stand_for_it(journal):
    phone = Phone(journal)
    unit = phone.plan()
    defect = found(phone, unit, phone.look(unit))
    phone.must("origin_suspected", "I1", unit, defect=defect, station="S07")
    report = reported(journal, unit)
    assert report.dated.startswith("No station told that it passed")
    assert report.defects[0].dated == "lead"

    passing = phone.must("station_passed", "I1", unit, station="S07")
    report = reported(journal, unit)
    assert report.dated.startswith("Told to have passed S07 Wall panels bond. Elsewhere")
    assert report.defects[0].dated == "scan"
    phone.must("passing_withdrawn", "I1", unit, passing=passing)
    assert reported(journal, unit).defects[0].dated == "lead"
