"""A failed test stands beside what is measured after it, and a hazardous failure is a defect.

Common practice, no source, as `qc/domain/unit/retests.py` says it.
"""

import hashlib
import json

import pytest

from qc.domain.facts.operations import AGAIN_REASONS
from qc.domain.unit.release import blockers
from qc.store.checking.verify import verify
from qc.store.intake.rebuild import rebuild
from qc.store.reading.reads import Reads
from tests.store.record_kit import MINUTE, PLANT, Clock, Phone, open_journal, story_of


@pytest.fixture
def phone(tmp_path):
    with open_journal(tmp_path) as journal:
        yield Phone(journal)


@pytest.fixture
def unit(phone):
    return phone.plan()


def measured(phone, unit, value, test="W1", author="TB1", **more):
    return phone.do("test_recorded", author, unit, test=test, value=value, instrument="IN-1", **more)


def passed_or_not(phone, unit, passed, test="B1", **more):
    return phone.do("test_recorded", "TB1", unit, test=test, passed=passed, instrument="IN-1", **more)


def recorded(phone, unit, type_="GAS-01", zone="front.gas", severity="critical", **more):
    return phone.do("defect_recorded", "TB1", unit, point="T01", zone=zone, type=type_, severity=severity, **more)


def results(phone, unit, test="W1"):
    return [one for one in story_of(phone.journal, unit).tests if one.test == test]


def untold(phone, unit):
    return [one.what for one in blockers(story_of(phone.journal, unit), PLANT) if one.code == "failure_untold"]


class TestFurtherValues:
    def test_after_a_failure_a_value_needs_a_reason(self, phone, unit):
        measured(phone, unit, 0.4)

        _, verdict = measured(phone, unit, 0.05, author="I1")

        assert (verdict.verdict, verdict.code) == ("refused", "reason_needed")
        assert "W1 Water system pressure drop failed before with 0.4 bar, measured by TB1" in verdict.reason
        assert len(results(phone, unit)) == 1

    @pytest.mark.parametrize("why", AGAIN_REASONS)
    def test_with_a_reason_both_values_stand_in_the_record(self, phone, unit, why):
        measured(phone, unit, 0.4)

        assert measured(phone, unit, 0.05, again=why)[1].verdict == "applied"

        assert [(one.value, one.passed, one.again) for one in results(phone, unit)] == [
            (0.4, False, ""),
            (0.05, True, why),
        ]

    def test_a_reason_of_its_own_is_none(self, phone, unit):
        measured(phone, unit, 0.4)

        assert measured(phone, unit, 0.05, again="it will do")[1].code == "malformed"

    def test_a_pass_or_fail_test_needs_one_too(self, phone, unit):
        passed_or_not(phone, unit, False)

        assert passed_or_not(phone, unit, True)[1].code == "reason_needed"

    def test_each_further_failure_asks_again(self, phone, unit):
        measured(phone, unit, 0.4)
        measured(phone, unit, 0.5, again="reading_error")

        assert measured(phone, unit, 0.05)[1].code == "reason_needed"

    def test_after_a_pass_none_is_asked(self, phone, unit):
        measured(phone, unit, 0.05)

        assert measured(phone, unit, 0.06)[1].verdict == "applied"

    def test_after_a_repair_that_voids_the_failure_none_is_asked(self, phone, unit):
        measured(phone, unit, 0.4)
        found = recorded(phone, unit, "WAT-01", "in.kitchen", "major")[0]
        phone.must("repair_done", "RW1", unit, defects=[found], method="rework", minutes=5)

        assert measured(phone, unit, 0.05)[1].verdict == "applied"

    def test_after_a_repair_of_something_else_it_is(self, phone, unit):
        measured(phone, unit, 0.4)
        found = recorded(phone, unit, "EXT-01", "nearside.door", "minor")[0]
        phone.must("repair_done", "RW1", unit, defects=[found], method="rework", minutes=5)

        assert measured(phone, unit, 0.05)[1].code == "reason_needed"

    def test_a_good_value_taken_earlier_and_sent_later_does_not_slip_past_the_failure(self, phone, unit):
        early = phone.journal.clock()
        phone.journal.clock.after(30)
        measured(phone, unit, 0.4)

        verdict = measured(Phone(phone.journal, "P2"), unit, 0.05, envelope={"wall_ms": early})[1]

        assert verdict.code == "reason_needed"

    def test_the_frozen_release_tells_every_value(self, phone, unit):
        measured(phone, unit, 0.4)
        phone.test_all(unit)
        phone.look(unit)
        assert phone.sign(unit).verdict == "applied"

        reads = Reads(phone.journal.folder, PLANT)
        (kept,) = reads.releases_of(unit)
        reads.close()
        told = [one for one in json.loads(kept.story)["tests"] if one["test"] == "W1"]
        assert [(one["passed"], one["again"]) for one in told] == [(False, ""), (True, "repair")]


class TestHazards:
    def test_gas_mains_alarms_and_wheel_nuts_are_hazards_by_the_table(self):
        assert [one.id for one in PLANT.tests.values() if one.hazard] == [
            *("G1", "G2", "G3", "G4", "M1", "M2", "M3", "M4", "M5", "M6", "A1", "C1")
        ]

    def test_a_gas_failure_without_its_defect_blocks_though_it_passed_since(self, phone, unit):
        measured(phone, unit, 12, "G1")
        phone.test_all(unit)
        phone.look(unit)

        words = "G1 Gas soundness, pressure drop failed (12 mbar), measured by TB1, and no defect tells it"
        assert untold(phone, unit) == [f"{words}; record GAS-01 Gas soundness test failed"]
        assert phone.sign(unit).code == "release_blocked"

    @pytest.mark.parametrize("order", ["failure first", "defect first"])
    def test_a_defect_of_its_type_tells_it(self, phone, unit, order):
        if order == "defect first":
            recorded(phone, unit)
        measured(phone, unit, 12, "G1")
        if order == "failure first":
            assert untold(phone, unit)
            recorded(phone, unit)

        assert untold(phone, unit) == []

    def test_a_defect_of_another_type_tells_it_where_it_names_it_and_stops_the_unit(self, phone, unit):
        result, _ = measured(phone, unit, 12, "G1")

        assert recorded(phone, unit, "GAS-02", severity="major", result=result)[1].code == "malformed"
        assert recorded(phone, unit, "GAS-03")[1].verdict == "applied"
        assert untold(phone, unit)
        assert recorded(phone, unit, "GAS-03", result=result)[1].verdict == "applied"
        assert untold(phone, unit) == []

    def test_a_defect_that_was_settled_before_does_not_tell_the_next_failure(self, phone, unit):
        found = recorded(phone, unit)[0]
        measured(phone, unit, 12, "G1")
        phone.must("repair_done", "RW1", unit, defects=[found], method="rework", minutes=5)
        phone.must("recheck_accepted", "I1", unit, defect=found)
        measured(phone, unit, 13, "G1")
        assert len(untold(phone, unit)) == 1

        phone.must("recheck_failed", "I1", unit, defect=found, reason="it leaks again")

        assert untold(phone, unit) == []

    def test_a_defect_corrected_to_its_type_tells_it(self, phone, unit):
        measured(phone, unit, 12, "G1")
        found = recorded(phone, unit, "GAS-02", severity="major")[0]
        changes = {"type": "GAS-01", "severity": "critical"}
        phone.must("defect_corrected", "TB1", unit, defect=found, changes=changes, reason="it is the joint")

        assert untold(phone, unit) == []

    def test_a_failure_that_is_no_hazard_asks_for_no_defect(self, phone, unit):
        measured(phone, unit, 0.4)

        assert untold(phone, unit) == []

    def test_a_defect_cannot_name_a_result_that_passed_or_is_of_another_unit(self, phone, unit):
        passed = measured(phone, unit, 1, "G1")[0]
        elsewhere = measured(phone, phone.plan(30002), 12, "G1")[0]

        assert recorded(phone, unit, result=passed)[1].code == "malformed"
        assert recorded(phone, unit, result=elsewhere)[1].code == "wrong_chassis"

    def test_a_defect_waits_for_the_result_that_it_names(self, phone, unit):
        first = phone.make("test_recorded", "TB1", unit, test="G1", value=12, instrument="IN-1")
        held = phone.unsent.pop()
        other = Phone(phone.journal, "P2")
        assert recorded(other, unit, result=first["id"])[1].verdict == "parked"

        phone.unsent.append(held)
        phone.send()

        assert untold(phone, unit) == []


class TestSlips:
    def taken_back(self, phone, unit, result, author="TB1", **more):
        return phone.do("test_withdrawn", author, unit, result=result, reason="a figure too many", **more)[1]

    def test_a_slip_is_taken_back_and_stays_in_the_record(self, phone, unit):
        slip, _ = measured(phone, unit, 0.4)

        assert self.taken_back(phone, unit, slip).verdict == "applied"
        assert measured(phone, unit, 0.04)[1].verdict == "applied"

        first, second = results(phone, unit)
        assert (first.value, first.taken_back_by, first.taken_back_why) == (0.4, "TB1", "a figure too many")
        assert (second.value, second.taken_back_by) == (0.04, None)
        assert story_of(phone.journal, unit).latest_test("W1") == second

    def test_taking_back_a_pass_lets_the_failure_before_it_stand_again(self, phone, unit):
        measured(phone, unit, 0.4)
        good, _ = measured(phone, unit, 0.05, again="instrument")
        self.taken_back(phone, unit, good)

        assert story_of(phone.journal, unit).latest_test("W1").passed is False
        assert measured(phone, unit, 0.05)[1].code == "reason_needed"

    def test_taking_a_gas_failure_back_does_not_take_its_defect_away(self, phone, unit):
        slip, _ = measured(phone, unit, 12, "G1")
        self.taken_back(phone, unit, slip)
        measured(phone, unit, 1.2, "G1")

        assert len(untold(phone, unit)) == 1

    def test_only_who_entered_it_takes_it_back(self, phone, unit):
        slip, _ = measured(phone, unit, 0.4)

        assert self.taken_back(phone, unit, slip, "I1").code == "not_your_role"

    def test_not_twice_and_not_what_is_none(self, phone, unit):
        slip, _ = measured(phone, unit, 0.4)
        self.taken_back(phone, unit, slip)

        assert self.taken_back(phone, unit, slip).code == "already_withdrawn"
        assert self.taken_back(phone, unit, recorded(phone, unit)[0]).code == "unknown_code"

    def test_not_after_its_inspection_has_ended(self, phone, unit):
        bay = phone.must("inspection_begun", "TB1", unit, point="T01", purpose="presentation", light="lamps")
        slip, _ = measured(phone, unit, 0.4, inspection=bay)
        phone.must("inspection_ended", "TB1", unit, inspection=bay)

        assert self.taken_back(phone, unit, slip).code == "inspection_ended"

    def test_not_on_a_later_day_where_there_was_no_inspection(self, phone, unit):
        slip, _ = measured(phone, unit, 0.4)
        phone.journal.clock.after(24 * 60)

        assert self.taken_back(phone, unit, slip).code == "inspection_ended"

    def test_not_after_the_unit_was_released_on_it(self, phone, unit):
        phone.test_all(unit)
        phone.look(unit)
        phone.sign(unit)
        last = results(phone, unit)[-1].id

        assert self.taken_back(phone, unit, last).code == "already_released"

    def test_a_slip_does_not_make_a_first_presentation_unclean(self, phone, unit):
        bay = phone.must("inspection_begun", "TB1", unit, point="T01", purpose="presentation", light="lamps")
        slip, _ = measured(phone, unit, 0.4, inspection=bay)
        self.taken_back(phone, unit, slip)
        phone.must("inspection_ended", "TB1", unit, inspection=bay)

        clean = phone.journal.write(lambda conn: conn.execute("SELECT clean_all FROM inspection").fetchall())
        assert clean == [(1,)]


class TestReadings:
    @pytest.mark.parametrize(("test", "value"), [("G1", -5), ("G1", 999_999_999), ("M2", 999_999_999), ("C1", 251)])
    def test_a_value_that_cannot_be_is_asked_about(self, phone, unit, test, value):
        _, verdict = measured(phone, unit, value, test)

        assert (verdict.verdict, verdict.code) == ("refused", "implausible_value")
        assert "confirm" in verdict.reason
        assert results(phone, unit, test) == []

    def test_one_that_was_asked_about_is_kept_as_such(self, phone, unit):
        measured(phone, unit, 260, "C1", confirmed=True)

        assert [(one.value, one.confirmed) for one in results(phone, unit, "C1")] == [(260, True)]

    def test_the_ends_of_what_is_plausible_are_not_asked_about(self, phone, unit):
        assert measured(phone, unit, 0, "G1")[1].verdict == "applied"
        assert measured(phone, unit, 150, "G1")[1].verdict == "applied"

    def test_an_open_ended_reading_is_kept_as_such(self, phone, unit):
        measured(phone, unit, 200, "M2", beyond="above")

        assert [(one.value, one.beyond, one.passed) for one in results(phone, unit, "M2")] == [(200, "above", True)]
        kept = phone.journal.write(lambda conn: conn.execute("SELECT value, beyond FROM test_result").fetchall())
        assert kept == [(200.0, "above")]

    def test_one_past_the_upper_limit_has_failed(self, phone, unit):
        measured(phone, unit, 500, "M6", beyond="above")

        assert results(phone, unit, "M6")[0].passed is False

    def test_one_that_does_not_reach_the_limit_tells_nothing(self, phone, unit):
        assert measured(phone, unit, 0.5, "M2", beyond="above")[1].code == "malformed"
        assert measured(phone, unit, 30, "M6", beyond="above")[1].code == "malformed"

    @pytest.mark.parametrize(("test", "beyond"), [("G1", "above"), ("M2", "below")])
    def test_a_test_whose_table_does_not_allow_it_refuses_it(self, phone, unit, test, beyond):
        assert measured(phone, unit, 5, test, beyond=beyond)[1].code == "malformed"


class TestEarlierRecords:
    """What an earlier program wrote is settled by the rules of its day."""

    def test_an_earlier_record_verifies_clean_and_its_release_stands(self, tmp_path, monkeypatch):
        with monkeypatch.context() as then:
            then.setattr("qc.store.intake.door.RULES", 1)
            with open_journal(tmp_path) as journal:
                phone = Phone(journal)
                unit = phone.plan()
                assert measured(phone, unit, -5, "G1")[1].verdict == "applied"
                assert measured(phone, unit, 12, "G1")[1].verdict == "applied"
                assert measured(phone, unit, 1, "G1")[1].verdict == "applied"
                assert measured(phone, unit, 1, "G1", again="repair")[1].code == "malformed"
                for test in PLANT.tests_of("T36"):
                    value = test.lower if test.upper is None else test.upper
                    body = {"passed": True} if test.kind == "pass" else {"value": value}
                    phone.must("test_recorded", "TB1", unit, test=test.id, instrument="IN-1", **body)
                phone.look(unit)
                assert phone.sign(unit).verdict == "applied"

        report = verify(tmp_path)

        assert report.exit_code == 0, report
        rebuild(tmp_path, PLANT)
        with open_journal(tmp_path) as journal:
            assert story_of(journal, unit).state == "released"
            reads = Reads(tmp_path, PLANT)
            (kept,) = reads.releases_of(unit)
            reads.close()
            assert hashlib.sha256(kept.story.encode()).hexdigest() == kept.story_digest

    def test_an_earlier_record_that_is_not_released_meets_the_rules_of_today(self, tmp_path, monkeypatch):
        with monkeypatch.context() as then:
            then.setattr("qc.store.intake.door.RULES", 1)
            with open_journal(tmp_path) as journal:
                phone = Phone(journal)
                unit = phone.plan()
                measured(phone, unit, 12, "G1")

        with open_journal(tmp_path) as journal:
            phone = Phone(journal, "P2")
            phone.test_all(unit)
            phone.look(unit)
            assert phone.sign(unit).code == "release_blocked"
            recorded(phone, unit)
            assert untold(phone, unit) == []


def test_the_whole_of_it_comes_out_the_same_when_derived_anew(tmp_path):
    clock = Clock()
    with open_journal(tmp_path, clock) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        slip, _ = measured(phone, unit, 0.4)
        phone.must("test_withdrawn", "TB1", unit, result=slip, reason="read upside down")
        measured(phone, unit, 500, "M6", beyond="above")
        clock.now_ms += MINUTE
        measured(phone, unit, 39, "M6", again="instrument")

    report = verify(tmp_path)

    assert report.exit_code == 0, report
