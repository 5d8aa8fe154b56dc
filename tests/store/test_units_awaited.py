"""Work of phones on units that the record lacks, as after a restore: it waits, and comes into effect in its order."""

import pytest

from qc.domain.line.roster import DESK
from qc.domain.unit.release import digest_of_open
from qc.store.checking.verify import verify
from qc.store.intake.awaited import Awaited, awaited, awaited_count
from qc.store.intake.rebuild import rebuild
from tests.store.record_kit import PLANT, START, Phone, open_journal, shop_number, story_of, unit_number

UNIT = unit_number()
BEGUN = {"point": "D01", "purpose": "presentation", "light": "bright"}
DEFECT = {"point": "D01", "zone": "nearside.door", "type": "OPE-02", "severity": "major"}
PLANNED = {"model": "T36", "shop_number": shop_number(PLANT, "T36", 30001), "sequence": 30001}


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path) as journal:
        yield journal


@pytest.fixture
def phone(journal):
    return Phone(journal)


@pytest.fixture
def desk(journal):
    return Phone(journal, DESK)


def waiting(journal):
    return journal.write(lambda conn: awaited(conn, 10))


def plan(desk, day="2026-03-04"):
    return desk.must("unit_planned", "PL1", UNIT, **PLANNED, planned_day=day)


def two_looks(phone):
    """Record two looks of one unit on a phone, one after the other, and send them; return the verdicts."""
    for _ in range(2):
        look = phone.make("inspection_begun", "I1", UNIT, **BEGUN)["id"]
        phone.make("defect_recorded", "I1", UNIT, **DEFECT, inspection=look)
        phone.make("inspection_ended", "I1", UNIT, inspection=look)
    return phone.send()


def test_work_waits_for_its_plan_and_comes_into_effect_in_its_order(journal, phone, desk):
    verdicts = two_looks(phone)
    assert {(one.verdict, one.code) for one in verdicts} == {("parked", "")}
    assert verdicts[0].reason == f"it waits for unit {UNIT}, which no plan on record holds yet"
    assert waiting(journal) == [Awaited(UNIT, 6, ("I1",), START)]

    plan(desk)

    record = story_of(journal, UNIT)
    assert [one.ended_ms is not None for one in record.inspections] == [True, True]
    assert len(record.defects) == 2
    assert record.not_in_effect == ()
    assert waiting(journal) == []
    places = "SELECT number, place FROM verdict WHERE place IS NOT NULL ORDER BY place"
    in_order = [number for number, _ in journal.write(lambda conn: conn.execute(places).fetchall())]
    assert in_order == [7, 1, 2, 3, 4, 5, 6]


def test_who_begins_the_unit_on_a_phone_brings_it_on_record_too(journal, phone):
    other = Phone(journal, "P2")
    two_looks(phone)

    other.must("unit_met", "I2", UNIT, model="T36")

    assert len(story_of(journal, UNIT).defects) == 2
    assert waiting(journal) == []


def test_a_unit_that_is_taken_in_by_the_manager_is_on_record_too(journal, phone):
    two_looks(phone)
    late = Phone(journal, "P2")
    met = late.make("unit_met", "I2", UNIT, model="T36", envelope={"wall_ms": START - 90 * 24 * 3_600_000})
    assert late.send()[0].verdict == "quarantined"

    Phone(journal, DESK).must("quarantine_taken", "QM1", None, operation=met["id"], reason="seen at the unit")

    assert len(story_of(journal, UNIT).defects) == 2


def test_the_phone_learns_that_what_waited_is_in_effect(journal, phone, desk):
    phone.make("inspection_begun", "I1", UNIT, **BEGUN)
    asked = list(phone.unsent)
    assert phone.send()[0].verdict == "parked"
    phone.unsent = list(asked)
    assert [(one.verdict, one.code) for one in phone.send()] == [("duplicate", "parked")]

    plan(desk)
    phone.unsent = list(asked)

    assert [(one.verdict, one.code) for one in phone.send()] == [("duplicate", "applied")]


def test_what_does_not_fit_the_unit_that_comes_is_refused_then_and_what_rests_on_it(journal, phone, desk):
    look = phone.make("inspection_begun", "I1", UNIT, **{**BEGUN, "point": "D09"})["id"]
    phone.make("defect_recorded", "I1", UNIT, **DEFECT, inspection=look)
    assert {one.verdict for one in phone.send()} == {"parked"}

    plan(desk)

    assert [one.verdict for one in story_of(journal, UNIT).not_in_effect] == ["refused", "refused"]
    assert waiting(journal) == []


def test_a_signature_does_not_wait(phone):
    """It is for what its signer saw."""
    _, verdict = phone.do("unit_released", "QM1", UNIT, open_digest=digest_of_open([]), against="the rule")

    assert (verdict.verdict, verdict.code) == ("refused", "unknown_unit")


def test_a_page_is_told_at_once(desk):
    _, verdict = desk.do("station_passed", "I1", UNIT, station="S01")

    assert (verdict.verdict, verdict.code) == ("refused", "unknown_unit")
    assert verdict.reason == f"{UNIT} is not planned here; read the number off the metal again"


def test_whose_work_is_told_once_each_and_what_waits_for_an_entry_is_no_awaited_unit(journal, phone, desk):
    other = Phone(journal, "P2")
    planned = unit_number(30002)
    body = {**PLANNED, "shop_number": shop_number(PLANT, "T36", 30002), "sequence": 30002, "planned_day": "2026-03-04"}
    desk.must("unit_planned", "PL1", planned, **body)
    phone.make("defect_recorded", "I1", planned, **DEFECT, inspection="019cad58-bd80-7685-94b6-013d61f03cea")
    for author in ("I2", "I1", "I2"):
        other.make("station_passed", author, UNIT, station="S01")
    assert {one.verdict for one in phone.send() + other.send()} == {"parked"}

    assert waiting(journal) == [Awaited(UNIT, 3, ("I1", "I2"), START)]
    assert journal.write(awaited_count) == 1


def test_the_record_is_whole_and_comes_out_the_same_when_derived_anew(tmp_path, journal, phone, desk):
    two_looks(phone)
    other = unit_number(30002)
    phone.do("station_passed", "I1", other, station="S01")
    plan(desk)
    before, waits = story_of(journal, UNIT), waiting(journal)
    journal.close()
    assert verify(tmp_path).is_whole

    rebuild(tmp_path, PLANT)

    assert verify(tmp_path).is_whole
    with open_journal(tmp_path) as again:
        assert story_of(again, UNIT) == before
        assert waiting(again) == waits == [Awaited(other, 1, ("I1",), START)]
