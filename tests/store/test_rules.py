"""Rules that hold whatever the phone thinks. All are common practice, no source, save where one is named."""

import pytest

from qc.domain.line.roster import DESK
from tests.store.record_kit import Phone, open_journal, story_of, unit_number


@pytest.fixture
def phone(tmp_path):
    with open_journal(tmp_path) as journal:
        yield Phone(journal)


@pytest.fixture
def unit(phone):
    return phone.plan()


def found(phone, unit, type_="EXT-01", severity="minor", author="I1", **more):
    where = {"point": "D01", "zone": "nearside.door"}
    return phone.must("defect_recorded", author, unit, **where, type=type_, severity=severity, **more)


def defect(phone, unit):
    return story_of(phone.journal, unit).defects[-1]


def refused(phone, *made, **body):
    verdict = phone.do(*made, **body)[1]
    assert verdict.verdict == "refused", verdict
    return verdict.code


class TestUnits:
    def test_a_unit_is_planned_once(self, phone, unit):
        body = {"model": "T36", "shop_number": "PC7130001", "sequence": 30001, "planned_day": "2026-03-02"}

        assert refused(phone, "unit_planned", "PL1", unit, **body) == "unit_exists"

    @pytest.mark.parametrize(
        ("chassis", "changed"),
        [
            ("0PC7T3600TW03O002", {}),  # the letter O: never in a chassis number (ISO 3779, from memory)
            ("0PC7T3600TW03002", {}),
            ("0PC7M5000TW030002", {}),
            ("0PC7T3600TW030002", {"sequence": 30003}),
            ("0PC7T3600TW030002", {"shop_number": "PC7230002"}),
        ],
    )
    def test_a_number_that_does_not_fit_the_plan_is_refused(self, phone, chassis, changed):
        body = {"model": "T36", "shop_number": "PC7130002", "sequence": 30002, "planned_day": "2026-03-02", **changed}

        assert refused(phone, "unit_planned", "PL1", chassis, **body) == "wrong_chassis"

    def test_a_unit_that_is_not_planned_is_told(self, phone):
        assert (
            refused(Phone(phone.journal, DESK), "station_passed", "I1", unit_number(39999), station="S01")
            == "unknown_unit"
        )

    def test_a_record_on_the_wrong_unit_is_refused(self, phone, unit):
        other = phone.plan(30002)
        id_ = found(phone, unit)

        assert refused(phone, "recheck_accepted", "I2", other, defect=id_) == "wrong_chassis"

    def test_a_unit_goes_from_planned_to_the_end_points_and_into_rework(self, phone, unit):
        states = [story_of(phone.journal, unit).state]
        phone.must("station_passed", "PL1", unit, station="S01")
        states.append(story_of(phone.journal, unit).state)
        inspection = phone.must("inspection_begun", "I1", unit, point="D01", purpose="presentation", light="bright")
        found(phone, unit, inspection=inspection)
        states.append(story_of(phone.journal, unit).state)
        phone.must("inspection_ended", "I1", unit, inspection=inspection)
        states.append(story_of(phone.journal, unit).state)

        assert states == ["planned", "on_line", "at_end_points", "in_rework"]


class TestWhoMay:
    @pytest.mark.parametrize("author", ["PL1", "DX1", "AD1", "nobody"])
    def test_who_does_not_look_records_no_defect(self, phone, unit, author):
        where = {"point": "D01", "zone": "nearside.door", "type": "EXT-01", "severity": "minor"}

        assert refused(phone, "defect_recorded", author, unit, **where) == "not_your_role"

    def test_the_role_at_receipt_is_kept_with_the_row(self, phone, unit):
        id_ = found(phone, unit)
        phone.must("origin_suspected", "L-S06", unit, defect=id_, station="S06")

        kept = phone.journal.write(lambda c: c.execute("SELECT author, author_standing FROM journal").fetchall())
        assert kept == [("PL1", "planner"), ("I1", "inspector"), ("L-S06", "station_lead:S06")]

    def test_a_lead_notes_changes_at_the_own_stations_only(self, phone):
        body = {"change": "tool", "what": "new flaring tool", "from_day": "2026-03-02", "types": ["GAS-01"]}

        phone.must("change_noted", "L-S06", None, station="S06", **body)
        phone.must("change_noted", "QM1", None, station="S07", **body)
        assert refused(phone, "change_noted", "L-S06", None, station="S07", **body) == "not_your_role"

    def test_a_kind_whose_rules_are_not_built_says_so(self, phone, unit):
        body = {"defect": found(phone, unit), "departure": "a scratch", "until": "2026-12-31"}

        verdict = phone.do("concession_granted", "QM1", unit, **body)[1]

        assert verdict.code == "not_effective_yet"
        assert "later version" in verdict.reason


class TestSeverity:
    def test_it_may_be_raised_freely(self, phone, unit):
        id_ = found(phone, unit, severity="critical")

        assert story_of(phone.journal, unit).defect(id_).severity == "critical"

    def test_recorded_lower_than_usual_it_needs_a_reason(self, phone, unit):
        where = {"point": "D01", "zone": "nearside.door", "type": "PAN-01", "severity": "minor"}

        assert refused(phone, "defect_recorded", "I1", unit, **where) == "reason_needed"
        phone.must("defect_recorded", "I1", unit, **where, severity_reason="a finger's width")

    @pytest.mark.parametrize("severity", ["major", "minor"])
    def test_a_critical_type_is_not_recorded_lower(self, phone, unit, severity):
        where = {"point": "D01", "zone": "front.gas", "type": "GAS-01", "severity": severity, "severity_reason": "tiny"}

        assert refused(phone, "defect_recorded", "I1", unit, **where) == "only_manager_lowers_critical"

    def test_only_the_quality_manager_lowers_a_critical(self, phone, unit):
        id_ = found(phone, unit, "GAS-01", "critical")
        change = {"defect": id_, "changes": {"severity": "minor"}, "reason": "looked again"}

        assert refused(phone, "defect_corrected", "I1", unit, **change) == "only_manager_lowers_critical"
        phone.must("defect_corrected", "QM1", unit, **change)
        assert defect(phone, unit).severity == "minor"

    def test_a_critical_type_is_not_reached_sideways(self, phone, unit):
        change = {"defect": found(phone, unit), "changes": {"type": "GAS-01"}, "reason": "smells of gas"}

        assert refused(phone, "defect_corrected", "I1", unit, **change) == "only_manager_lowers_critical"
        change["changes"]["severity"] = "critical"
        phone.must("defect_corrected", "I1", unit, **change)

    def test_only_the_quality_manager_withdraws_a_critical(self, phone, unit):
        id_ = found(phone, unit, "GAS-01", "critical")
        body = {"defect": id_, "why": "not_a_defect", "reason": "it was paint"}

        assert refused(phone, "defect_withdrawn", "I1", unit, **body) == "only_manager_lowers_critical"
        phone.must("defect_withdrawn", "QM1", unit, **body)

    def test_a_critical_is_no_duplicate_of_a_minor(self, phone, unit):
        minor, critical = found(phone, unit), found(phone, unit, "GAS-01", "critical")
        twin = found(phone, unit, "GAS-01", "critical")
        body = {"defect": critical, "why": "duplicate", "reason": "the same"}

        code = refused(phone, "defect_withdrawn", "I1", unit, **body, duplicate_of=minor)
        assert code == "only_manager_lowers_critical"
        phone.must("defect_withdrawn", "I1", unit, **body, duplicate_of=twin)

    def test_two_records_are_not_withdrawn_as_duplicates_of_each_other(self, phone, unit):
        one, two = found(phone, unit), found(phone, unit)
        body = {"why": "duplicate", "reason": "the same"}
        phone.must("defect_withdrawn", "I1", unit, defect=one, duplicate_of=two, **body)

        code = refused(phone, "defect_withdrawn", "I1", unit, defect=two, duplicate_of=one, **body)
        assert code == "already_withdrawn"


class TestCorrections:
    def test_of_two_changes_to_a_field_the_last_shows_and_both_are_kept(self, phone, unit):
        id_ = found(phone, unit)
        for author, zone in (("I1", "front.gas"), ("I2", "front.plate")):
            phone.must("defect_corrected", author, unit, defect=id_, changes={"zone": zone}, reason="it is there")

        row = defect(phone, unit)
        assert (row.zone, row.changed_also_by()) == ("front.plate", ("I1",))
        assert [value for *_, value in row.changes] == ["front.gas", "front.plate"]

    def test_one_that_waited_does_not_overwrite_a_later_one(self, phone, unit):
        """The higher server number shows, though the lower came into effect after it."""
        id_ = found(phone, unit)
        photo = phone.make("photo_attached", "I1", unit, defect=id_, sha256="a" * 64, bytes=1)
        held, phone.unsent = phone.unsent, []
        other = Phone(phone.journal, "P2")
        deps = {"envelope": {"deps": [photo["id"]]}}
        body = {"defect": id_, "changes": {"zone": "front.gas"}, "reason": "it is there"}
        assert other.do("defect_corrected", "I2", unit, **body, **deps)[1].verdict == "parked"
        other.must("defect_corrected", "QM1", unit, **{**body, "changes": {"zone": "front.plate"}})
        phone.unsent = held
        phone.send()

        shown = phone.journal.write(lambda c: c.execute("SELECT zone, changed_also_by FROM defect").fetchone())
        assert shown == ("front.plate", '["I2"]')
        assert (defect(phone, unit).zone, defect(phone, unit).changed_also_by()) == ("front.plate", ("I2",))

    def test_one_person_changing_twice_is_no_conflict(self, phone, unit):
        id_ = found(phone, unit)
        for zone in ("front.gas", "front.plate"):
            phone.must("defect_corrected", "I1", unit, defect=id_, changes={"zone": zone}, reason="it is there")

        assert defect(phone, unit).changed_also_by() == ()

    def test_different_fields_are_no_conflict(self, phone, unit):
        id_ = found(phone, unit)
        phone.must("defect_corrected", "I1", unit, defect=id_, changes={"zone": "front.gas"}, reason="it is there")
        phone.must("defect_corrected", "I2", unit, defect=id_, changes={"note": "loose"}, reason="said more")

        assert defect(phone, unit).changed_also_by() == ()


class TestRepairs:
    """That conformity is verified after correction: ISO 9001, 8.7. That it is another person: common practice."""

    def test_nobody_accepts_an_own_repair(self, phone, unit):
        id_ = found(phone, unit)
        phone.must("repair_done", "I1", unit, defects=[id_], method="rework", minutes=4)

        assert refused(phone, "recheck_accepted", "I1", unit, defect=id_) == "same_person"

    def test_nor_one_that_somebody_repaired_further(self, phone, unit):
        id_ = found(phone, unit)
        for author in ("I1", "RW1"):
            phone.must("repair_done", author, unit, defects=[id_], method="rework", minutes=4)

        assert refused(phone, "recheck_accepted", "I1", unit, defect=id_) == "same_person"
        phone.must("recheck_accepted", "I2", unit, defect=id_)

    def test_what_was_not_repaired_is_not_accepted(self, phone, unit):
        assert refused(phone, "recheck_accepted", "I2", unit, defect=found(phone, unit)) == "not_repaired"

    def test_a_failed_recheck_opens_the_same_defect_again_for_a_new_cycle(self, phone, unit):
        id_ = found(phone, unit)
        phone.must("repair_done", "RW1", unit, defects=[id_], method="rework", minutes=4)
        phone.must("recheck_failed", "I1", unit, defect=id_, reason="still loose")

        assert (defect(phone, unit).state, defect(phone, unit).cycles) == ("open", 1)
        phone.must("repair_done", "RW2", unit, defects=[id_], method="rework", minutes=4)
        phone.must("recheck_accepted", "I1", unit, defect=id_)
        assert (defect(phone, unit).state, len(story_of(phone.journal, unit).defects)) == ("closed", 1)

    def test_minutes_are_shared_over_what_was_repaired_together(self, phone, unit):
        ids = [found(phone, unit) for _ in range(3)]
        phone.must("repair_done", "RW1", unit, defects=ids, method="rework", minutes=10)

        minutes = [one.repairs[0].minutes for one in story_of(phone.journal, unit).defects]
        assert minutes == [4, 3, 3]

    def test_a_repair_of_several_passes_over_what_was_withdrawn_meanwhile(self, phone, unit):
        gone, there = found(phone, unit), found(phone, unit)
        phone.must("defect_withdrawn", "I1", unit, defect=gone, why="not_a_defect", reason="a shadow")
        phone.must("repair_done", "RW1", unit, defects=[gone, there], method="rework", minutes=10)

        assert [one.state for one in story_of(phone.journal, unit).defects] == ["withdrawn", "repaired"]
        body = {"defects": [gone], "method": "rework", "minutes": 1}
        assert refused(phone, "repair_done", "RW1", unit, **body) == "already_withdrawn"

    def test_a_repair_in_another_group_voids_no_test(self, phone, unit):
        phone.test_all(unit)
        phone.must("repair_done", "RW1", unit, defects=[found(phone, unit)], method="rework", minutes=1)

        voided = {one.test for one in story_of(phone.journal, unit).tests if one.voided_by}
        assert voided == set()

    def test_a_defect_that_turns_out_to_be_gas_voids_the_tests_before_its_repair(self, phone, unit):
        phone.test_all(unit)
        id_ = found(phone, unit)
        phone.must("repair_done", "RW1", unit, defects=[id_], method="rework", minutes=1)
        changes = {"type": "GAS-02"}
        changes["severity"] = "critical"
        phone.must("defect_corrected", "I1", unit, defect=id_, changes=changes, reason="it was the pipe")

        voided = {one.test for one in story_of(phone.journal, unit).tests if one.voided_by}
        assert voided == {"G1", "G2", "G3", "G4"}


class TestTests:
    @pytest.mark.parametrize(
        ("test", "value", "passed"),
        [("G1", 10.0, True), ("G1", 10.0001, False), ("G3", 25, True), ("G3", 24.9, False), ("G3", 35.1, False)],
    )
    def test_a_measured_value_is_judged_by_the_limits_which_count_as_inside(self, phone, unit, test, value, passed):
        phone.must("test_recorded", "TB1", unit, test=test, value=value, instrument="IN-1")

        assert story_of(phone.journal, unit).tests[0].passed is passed

    def test_a_blank_is_no_pass(self, phone, unit):
        assert refused(phone, "test_recorded", "TB1", unit, test="G1", passed=True, instrument="IN-1") == "malformed"
        assert refused(phone, "test_recorded", "TB1", unit, test="G2", value=1.0, instrument="IN-1") == "malformed"

    def test_a_test_of_another_model_is_refused(self, phone, unit):
        assert refused(phone, "test_recorded", "TB1", unit, test="C2b", value=4, instrument="I") == "unknown_code"


class TestOrigins:
    def test_only_places_upstream_can_be_an_origin(self, phone, unit):
        where = {"point": "S07", "zone": "nearside.door", "type": "EXT-01", "severity": "minor"}
        id_ = phone.must("defect_recorded", "I1", unit, **where)

        assert refused(phone, "origin_suspected", "I1", unit, defect=id_, station="S10") == "not_upstream"
        for station in ("S06", "RP1", "SUP", "HND", "R01", "DSN", "UNK"):
            phone.must("origin_suspected", "I1", unit, defect=id_, station=station)

    def test_only_the_suspected_stations_lead_confirms(self, phone, unit):
        id_ = found(phone, unit)
        phone.must("origin_suspected", "I1", unit, defect=id_, station="S07")

        for author in ("L-S06", "QM1", "I1"):
            assert refused(phone, "origin_confirmed", author, unit, defect=id_, station="S07") == "not_your_role"
        assert refused(phone, "origin_confirmed", "L-S06", unit, defect=id_, station="S06") == "not_your_role"
        phone.must("origin_confirmed", "L-S07", unit, defect=id_, station="S07")
        assert (defect(phone, unit).origin.confirmed, defect(phone, unit).origin.state) == ("S07", "confirmed")

    def test_the_quality_manager_confirms_what_no_lead_answers_for(self, phone, unit):
        id_ = found(phone, unit)
        phone.must("origin_suspected", "I1", unit, defect=id_, station="SUP")

        phone.must("origin_confirmed", "QM1", unit, defect=id_, station="SUP")

    def test_a_lead_passes_on_or_disputes_and_the_manager_settles(self, phone, unit):
        id_ = found(phone, unit)
        phone.must("origin_suspected", "I1", unit, defect=id_, station="S06")
        body = {"defect": id_, "reason": "we fit no panels"}
        assert refused(phone, "origin_passed_on", "L-S07", unit, **body, station="RP1") == "not_your_role"
        phone.must("origin_passed_on", "L-S06", unit, **body, station="S07")
        phone.must("origin_disputed", "L-S07", unit, **body)
        disputed = defect(phone, unit).origin
        phone.must("origin_settled", "QM1", unit, **body, station="RP2")
        settled = defect(phone, unit).origin

        assert (disputed.suspected, disputed.confirmed, disputed.state) == ("S07", None, "disputed")
        assert (settled.suspected, settled.confirmed, settled.state) == ("S07", "RP2", "settled")
        assert refused(phone, "origin_disputed", "L-S07", unit, **body) == "not_your_role"

    def test_a_guess_that_comes_late_moves_nothing(self, phone, unit):
        id_ = found(phone, unit)
        phone.must("origin_suspected", "I1", unit, defect=id_, station="S07")
        phone.must("origin_confirmed", "L-S07", unit, defect=id_, station="S07")
        phone.must("origin_suspected", "I2", unit, defect=id_, station="S06")

        assert (defect(phone, unit).origin.confirmed, defect(phone, unit).origin.state) == ("S07", "confirmed")


class TestWorkDays:
    def work_day(self, phone):
        return phone.journal.write(lambda c: c.execute("SELECT work_day, work_day_basis FROM defect").fetchone())

    def test_without_a_scan_the_lead_time_dates_the_work(self, phone, unit):
        """Found Monday 2026-03-02; S07 works one working day before the daylight bay: Friday 2026-02-27."""
        id_ = found(phone, unit)
        phone.must("origin_suspected", "I1", unit, defect=id_, station="S07")

        assert self.work_day(phone) == ("2026-02-27", "lead")

    def test_a_scan_dates_it_and_one_that_arrives_later_dates_it_again(self, phone, unit):
        id_ = found(phone, unit)
        phone.must("origin_suspected", "I1", unit, defect=id_, station="S07")
        early = phone.journal.clock() - 5 * 24 * 3_600_000
        phone.must("station_passed", "PL1", unit, station="S07", envelope={"wall_ms": early})

        assert self.work_day(phone) == ("2026-02-25", "scan")
        phone.must("origin_passed_on", "L-S07", unit, defect=id_, station="S06", reason="not ours")
        assert self.work_day(phone) == ("2026-02-27", "lead")

    @pytest.mark.parametrize("station", ["SUP", "HND", "DSN", "UNK", "R01"])
    def test_what_is_no_station_of_the_line_has_no_work_day(self, phone, unit, station):
        id_ = found(phone, unit)
        phone.must("origin_suspected", "I1", unit, defect=id_, station=station)

        assert self.work_day(phone) == (None, "")
