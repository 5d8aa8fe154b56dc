"""The gate lets a unit through for none of the blocked cases, and for a unit with nothing open it does.

The rule: planned arrangements done before release (ISO 9001, 8.6), conformity verified after correction (ISO 9001,
8.7); every zone looked at, open minors only under concession, another person than the repairer: common practice, no
source.
"""

from contextlib import closing

import pytest

from qc.domain.facts.rule_set import CODES_NAMED
from qc.store.intake import door
from qc.store.intake.rebuild import rebuild
from qc.store.record.connection import RECORD, open_writer
from tests.store.record_kit import PLANT, Phone, open_journal, story_of


@pytest.fixture
def phone(tmp_path):
    with open_journal(tmp_path) as journal:
        yield Phone(journal)


@pytest.fixture
def unit(phone):
    """A unit with nothing open: tested, looked at all over, not yet released."""
    chassis = phone.plan()
    phone.test_all(chassis)
    phone.look(chassis)
    return chassis


def defect(phone, unit, type_="EXT-01", severity="minor", **more):
    return phone.must(
        "defect_recorded", "I1", unit, point="D01", zone="nearside.door", type=type_, severity=severity, **more
    )


def test_a_unit_with_nothing_open_is_released(phone, unit):
    verdict = phone.sign(unit)

    record = story_of(phone.journal, unit)
    assert verdict.verdict == "applied"
    assert (record.state, record.releases[0].signed_by) == ("released", "QM1")


def test_a_unit_repaired_and_looked_at_by_another_is_released(phone, unit):
    id_ = defect(phone, unit, "GAS-01", "critical")
    phone.must("repair_done", "RW1", unit, defects=[id_], method="rework", minutes=10)
    phone.must("recheck_accepted", "I2", unit, defect=id_)
    phone.test_all(unit)

    assert phone.sign(unit).verdict == "applied"


def test_only_an_inspector_or_the_quality_manager_releases(phone, unit):
    for author in ("TB1", "RW1", "L-S06", "DX1", "AD1", "PL1", "nobody"):
        assert phone.sign(unit, author).code == "not_your_role"
    assert phone.sign(unit, "I2").verdict == "applied"


def open_minor(phone, unit):
    defect(phone, unit)


def open_major(phone, unit):
    defect(phone, unit, "PAN-01", "major")


def open_critical(phone, unit):
    defect(phone, unit, "GAS-01", "critical")


def repaired_and_nobody_looked(phone, unit):
    id_ = defect(phone, unit)
    phone.must("repair_done", "RW1", unit, defects=[id_], method="rework", minutes=1)


def recheck_failed(phone, unit):
    repaired_and_nobody_looked(phone, unit)
    id_ = story_of(phone.journal, unit).defects[0].id
    phone.must("recheck_failed", "I2", unit, defect=id_, reason="still loose")


def repaired_short_of_the_requirement(phone, unit):
    id_ = defect(phone, unit)
    phone.must("repair_done", "RW1", unit, defects=[id_], method="repair", minutes=1)
    phone.must("recheck_accepted", "I2", unit, defect=id_)


def repaired_again_after_it_was_accepted(phone, unit):
    id_ = defect(phone, unit)
    phone.must("repair_done", "RW1", unit, defects=[id_], method="rework", minutes=1)
    phone.must("recheck_accepted", "I2", unit, defect=id_)
    phone.must("repair_done", "RW2", unit, defects=[id_], method="rework", minutes=1)


def test_failed(phone, unit):
    phone.must("test_recorded", "TB1", unit, test="W1", value=0.11, instrument="IN-1")


def test_failed_in_words_though_the_value_is_inside(phone, unit):
    phone.must("test_recorded", "TB1", unit, test="W1", value=0.05, passed=False, instrument="IN-1")


def test_voided_by_a_repair_in_its_group(phone, unit):
    id_ = defect(phone, unit, "GAS-01", "critical")
    phone.must("repair_done", "RW1", unit, defects=[id_], method="rework", minutes=10)
    phone.must("recheck_accepted", "I2", unit, defect=id_)


def test_taken_before_the_repair_and_sent_after_it(phone, unit):
    early = phone.journal.clock()
    phone.journal.clock.after(30)
    test_voided_by_a_repair_in_its_group(phone, unit)
    phone.journal.clock.after(30)
    for test in PLANT.tests_of("T36"):
        if "GAS" in test.voided_by:
            value = {} if test.kind == "pass" else {"value": test.upper}
            passed = {"passed": True} if test.kind == "pass" else {}
            body = {"test": test.id, "instrument": "IN-1", **value, **passed}
            phone.must("test_recorded", "TB1", unit, **body, envelope={"wall_ms": early})


def instrument_out_of_calibration(phone, unit):
    phone.must("test_recorded", "TB1", unit, test="M1", value=0.1, instrument="IN-7", calibrated_until="2026-03-01")


def zone_not_looked_at_after_all(phone, unit):
    inspection = phone.must("inspection_begun", "I2", unit, point="D01", purpose="presentation", light="lamps")
    body = {"inspection": inspection, "zone": "roof.mid", "reason": "no_safe_access"}
    phone.must("zone_not_looked_at", "I2", unit, **body)
    phone.must("inspection_ended", "I2", unit, inspection=inspection)


def inspection_still_running(phone, unit):
    phone.must("inspection_begun", "I2", unit, point="D01", purpose="relook", light="bright")


BLOCKED = {
    open_minor: "defect",
    open_major: "defect",
    open_critical: "defect",
    repaired_and_nobody_looked: "recheck",
    recheck_failed: "defect",
    repaired_short_of_the_requirement: "concession",
    repaired_again_after_it_was_accepted: "recheck",
    test_failed: "test",
    test_failed_in_words_though_the_value_is_inside: "test",
    test_voided_by_a_repair_in_its_group: "test",
    test_taken_before_the_repair_and_sent_after_it: "test",
    instrument_out_of_calibration: "test",
    zone_not_looked_at_after_all: "zone",
    inspection_still_running: "inspection_running",
}
for _case in BLOCKED:
    _case.__test__ = False


@pytest.mark.parametrize("case", BLOCKED, ids=lambda case: case.__name__)
def test_each_blocked_case_is_refused(phone, unit, case):
    from qc.domain.unit.release import blockers

    case(phone, unit)

    verdict = phone.sign(unit)

    record = story_of(phone.journal, unit)
    assert (verdict.verdict, verdict.code) == ("refused", "release_blocked")
    assert {one.code for one in blockers(record, PLANT)} == {BLOCKED[case]}
    assert record.state != "released"
    assert record.releases == ()


def test_a_unit_never_looked_at_is_blocked_by_identity_and_every_zone(phone):
    unit = phone.plan()
    phone.test_all(unit)

    verdict = phone.sign(unit)

    blocked = [one.code for one in blocked_by(phone, unit)]
    assert verdict.code == "release_blocked"
    assert blocked.count("identity") == 1
    assert blocked.count("zone") == len(PLANT.zones_of("T36")) - 1


def line_of(phone, unit):
    """Return the unit as lists show it."""
    from qc.store.reading.reads import Reads

    reads = Reads(phone.journal.folder, PLANT)
    line = reads.unit_line(unit)
    reads.close()
    return line


def blocked_by(phone, unit):
    from qc.domain.unit.release import blockers

    return blockers(story_of(phone.journal, unit), PLANT)


def test_zones_looked_at_elsewhere_do_not_count(phone):
    unit = phone.plan()
    phone.test_all(unit)
    phone.look(unit, point="T01")

    assert {one.code for one in blocked_by(phone, unit)} == {"identity", "zone"}


@pytest.mark.parametrize("left_out", [test.id for test in PLANT.tests_of("T36")])
def test_each_missing_test_blocks(phone, left_out):
    unit = phone.plan()
    for test in PLANT.tests_of("T36"):
        value = {"passed": True} if test.kind == "pass" else {"value": test.lower if test.upper is None else test.upper}
        if test.id != left_out:
            phone.make("test_recorded", "TB1", unit, test=test.id, instrument="IN-1", **value)
    phone.look(unit)

    assert [(one.code, one.ref) for one in blocked_by(phone, unit)] == [("test", left_out)]
    assert phone.sign(unit).code == "release_blocked"


def test_a_signature_on_another_open_list_is_stale(phone, unit):
    defect(phone, unit)

    verdict = phone.sign(unit, open_digest="e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")

    assert verdict.code == "sign_off_stale"
    assert "minor EXT-01 Trim loose or lifting in Entry door is open" in verdict.reason


def test_what_another_phone_sent_after_the_signer_looked_makes_the_signature_stale(phone, unit):
    """Even when it is settled already, so that the open list is the same."""
    other = Phone(phone.journal, "P2")
    phone.seen_through = phone.seq
    id_ = defect(other, unit)
    other.must("defect_withdrawn", "I1", unit, defect=id_, why="not_a_defect", reason="a shadow")

    verdict = phone.sign(unit)

    assert verdict.code == "sign_off_stale"
    assert "defect recorded EXT-01 Trim loose or lifting by I1" in verdict.reason
    phone.seen_through = 2**40
    assert phone.sign(unit).verdict == "applied"


def test_what_does_not_touch_the_release_leaves_a_signature_standing(phone, unit):
    phone.seen_through = phone.seq
    Phone(phone.journal, "P2").must("station_passed", "I1", unit, station="X01")

    assert phone.sign(unit).verdict == "applied"


def test_a_released_unit_is_not_released_twice(phone, unit):
    phone.sign(unit)

    assert phone.sign(unit).code == "already_released"


def late_defect(phone, unit):
    defect(phone, unit)


def late_failed_test(phone, unit):
    phone.must("test_recorded", "TB1", unit, test="G1", value=99, instrument="IN-1")


LATE = {
    late_defect: "A minor defect (EXT-01 Trim loose or lifting in Entry door, by I1)",
    late_failed_test: "A failed test (G1 Gas soundness, pressure drop, by TB1)",
}


@pytest.mark.parametrize("case", LATE, ids=lambda case: case.__name__)
def test_what_arrives_after_release_holds_the_unit_until_it_is_looked_at_and_released_anew(phone, unit, case):
    phone.sign(unit)
    case(phone, unit)

    record = story_of(phone.journal, unit)
    assert record.alarm.startswith(LATE[case])
    assert "That release is no longer in force: the unit is not released" in record.alarm
    assert "hold" not in record.alarm  # holds are not kept yet
    assert record.state != "released"
    assert (line_of(phone, unit).alarm, line_of(phone, unit).state) == (record.alarm, record.state)
    phone.settle(unit)
    phone.test_all(unit)
    assert [one.code for one in blocked_by(phone, unit)] == ["alarm"]
    assert phone.sign(unit).code == "release_blocked"
    phone.look(unit, "I2")
    assert phone.sign(unit).verdict == "applied"
    assert story_of(phone.journal, unit).alarm == ""


def test_a_critical_field_finding_raises_the_alarm_and_others_do_not(phone, unit):
    phone.sign(unit)
    finding = {"zone": "front.gas", "found_day": "2026-03-02"}
    phone.must("field_finding", "DX1", unit, type="EXT-01", severity="minor", **finding)
    quiet = story_of(phone.journal, unit)
    phone.must("field_finding", "DX1", unit, type="GAS-03", severity="critical", **finding)
    loud = story_of(phone.journal, unit)

    assert (quiet.alarm, quiet.state) == ("", "released")
    assert loud.alarm.startswith(
        "A critical defect (GAS-03 Gas locker vent blocked in Gas locker, by DX1) was found after dispatch"
    )
    assert "The record still says released, and it keeps no holds" in loud.alarm
    assert loud.state == "released"


def test_the_release_record_is_frozen_with_what_it_was_released_against(phone, unit):
    import hashlib
    import json

    from qc.store.reading.reads import Reads

    phone.sign(unit, against="plant rule, revision 7")
    reads = Reads(phone.journal.folder, PLANT)
    (kept,) = reads.releases_of(unit)
    size, _ = reads.chain()
    reads.close()

    story = json.loads(kept.story)
    assert hashlib.sha256(kept.story.encode()).hexdigest() == kept.story_digest
    assert (story["released"]["by"], story["released"]["against"]) == ("QM1", "plant rule, revision 7")
    assert story["chain"]["size"] == size - 1
    assert (len(story["tests"]), story["tests"][0]["lower"], story["tests"][0]["upper"]) == (27, None, 10.0)
    assert story["demo_limits_not_for_use"] is True
    assert "safe" not in kept.story.lower().replace("no_safe_access", "")


def test_a_unit_that_only_a_table_tells_cannot_be_released(phone):
    """A hand that writes a clean unit into the table gets no release: the gate reads the operations."""
    columns = "chassis, shop_number, sequence, model, planned_day, state, last_number"
    values = "'0PC7T3600TW030009', 'PC7130009', 30009, 'T36', '2026-03-02', 'at_end_points', 1"
    phone.journal.write(lambda conn: conn.execute(f"INSERT INTO unit ({columns}) VALUES ({values})"))
    digest = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"

    _, verdict = phone.do("unit_released", "QM1", "0PC7T3600TW030009", open_digest=digest, against="the rule")

    assert (verdict.verdict, verdict.code) == ("refused", "unknown_unit")


def test_a_status_column_changed_by_hand_releases_nothing(phone, unit):
    defect(phone, unit, "GAS-01", "critical")
    phone.journal.write(lambda conn: conn.execute("UPDATE defect SET state = 'closed', severity = 'minor'"))

    assert phone.sign(unit).code == "release_blocked"


def test_what_an_earlier_program_told_by_codes_stays_as_it_was_and_new_words_name_them(phone, unit, monkeypatch):
    """Its alarm and its refusal come out of a rebuild word for word, and so does what is told since."""
    with monkeypatch.context() as earlier:
        earlier.setattr(door, "RULES", CODES_NAMED - 1)
        phone.sign(unit)
        defect(phone, unit)
        refused = phone.sign(unit)

    assert story_of(phone.journal, unit).alarm.startswith("A minor defect (EXT-01 in nearside.door, by I1)")
    assert "minor EXT-01 in nearside.door is open" in refused.reason
    assert "EXT-01 Trim loose or lifting in Entry door is open" in phone.sign(unit).reason
    kept = phone.journal.write(lambda c: c.execute("SELECT * FROM verdict JOIN unit ORDER BY number").fetchall())
    phone.journal.close()
    rebuild(phone.journal.folder, PLANT)
    with closing(open_writer(phone.journal.folder / RECORD)) as conn:
        assert conn.execute("SELECT * FROM verdict JOIN unit ORDER BY number").fetchall() == kept
