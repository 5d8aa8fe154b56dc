"""A unit that somebody meets before the plan: one for two who meet it, marked, counted, not released, then planned."""

from datetime import date

import pytest

from qc.domain.counted.counts import Slice
from qc.domain.plant.chassis import full_number, shop_number
from qc.domain.unit.release import blockers, open_digest
from qc.reports.units.build_plan import build_plan_report
from qc.reports.units.time_line import time_line
from qc.store.checking.verify import verify
from qc.store.counts import LINE, Counts
from qc.store.intake.rebuild import rebuild
from qc.store.plan_intake import planned_units, take_plan
from qc.store.reading.reads import Reads
from tests.store.record_kit import PLANT, START, Phone, open_journal, story_of, unit_number

DAY = 24 * 3_600_000
WEEK = Slice(date(2026, 3, 2), date(2026, 3, 9))
UNIT = unit_number()


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path) as journal:
        yield journal


@pytest.fixture
def phone(journal):
    return Phone(journal)


@pytest.fixture
def reads(journal):
    reads = Reads(journal.folder, PLANT)
    yield reads
    reads.close()


def plan_of(day="2026-03-04", model="T36", sequence=30001):
    chassis, shop = full_number(PLANT, model, sequence), shop_number(PLANT, model, sequence)
    return chassis, {"model": model, "shop_number": shop, "sequence": sequence, "planned_day": day}


def present(phone, unit):
    for point in ("T01", "T02", "D01"):
        look = phone.must("inspection_begun", "I1", unit, point=point, purpose="presentation", light="bright")
        phone.must("inspection_ended", "I1", unit, inspection=look)


def test_two_who_meet_it_without_signal_make_one_unit(journal, phone, reads):
    other = Phone(journal, "P2")
    made = other.make("unit_met", "I2", UNIT, model="T36")
    begun = {"point": "D01", "purpose": "presentation", "light": "bright"}
    other.make("inspection_begun", "I2", UNIT, **begun)
    phone.must("unit_met", "I1", UNIT, model="T36")
    phone.must("inspection_begun", "I1", UNIT, **begun)
    assert [one.verdict for one in other.send()] == ["applied", "applied"]

    assert [one.chassis for one in reads.unit_list("at_end_points")] == [UNIT]
    record = story_of(journal, UNIT)
    assert (record.met.by, record.is_unplanned, len(record.inspections)) == ("I1", True, 2)
    assert made["id"] != ""
    assert verify(journal.folder).is_whole


@pytest.mark.parametrize(
    ("unit", "model", "code"),
    [
        (UNIT, "M50", "wrong_chassis"),
        ("0PC7T3600TW0300O1", "T36", "wrong_chassis"),
        ("XXX7T3600TW030001", "T36", "wrong_chassis"),
        ("0PC7T3600TW03000A", "T36", "wrong_chassis"),
        ("0PC7T3600TW000000", "T36", "wrong_chassis"),
        (UNIT, "Z99", "unknown_code"),
    ],
)
def test_a_number_that_cannot_be_and_a_model_that_is_none_are_refused(phone, unit, model, code):
    assert phone.do("unit_met", "I1", unit, model=model)[1].code == code


@pytest.mark.parametrize("author", ["PL1", "DX1", "AD1"])
def test_only_who_finds_meets(phone, author):
    assert phone.do("unit_met", author, UNIT, model="T36")[1].code == "not_your_role"


def test_one_that_is_planned_is_met_without_a_change(journal, phone):
    unit = phone.plan()
    before = story_of(journal, unit)
    phone.must("unit_met", "I1", unit, model="T36")

    assert story_of(journal, unit).met is None
    assert story_of(journal, unit).planned_day == before.planned_day
    assert phone.do("unit_met", "I1", unit, model="M50")[1].code == "model_differs"


def test_it_counts_as_any_other_and_in_no_count_of_planned_ones(journal, phone):
    counts = Counts(journal)
    phone.must("unit_met", "I1", UNIT, model="T36")
    present(phone, UNIT)

    assert counts.week_counts(WEEK, LINE, START + 9 * DAY).inspected == (1,)
    assert counts.data_quality(WEEK, START + 9 * DAY).no_record == (0, 0)
    chassis, plan = plan_of()
    phone.must("unit_planned", "PL1", chassis, **plan)
    assert counts.week_counts(WEEK, LINE, START + 9 * DAY).inspected == (1,)
    assert counts.data_quality(WEEK, START + 9 * DAY).no_record == (0, 1)
    assert verify(journal.folder).is_whole


def test_the_plan_finds_it_and_keeps_what_was_recorded(journal, phone, reads):
    phone.must("unit_met", "I1", UNIT, model="T36")
    present(phone, UNIT)
    assert phone.do("plan_changed", "PL1", UNIT, changes={"options": ["awning"]})[1].code == "not_planned"
    assert planned_units(reads.connection())[UNIT].met_by == "I1"
    data = f"chassis,planned day,options\n{UNIT},2026-03-04,awning\n".encode()
    report = build_plan_report(data, reads, PLANT, journal.clock())
    assert [(one.outcome, one.words) for one in report.lines] == [
        ("new", "met by I1 before the plan; planned for 2026-03-04")
    ]
    take_plan(journal, report.lines, "PL1", "s1", journal.clock)

    record = story_of(journal, UNIT)
    assert (record.is_unplanned, record.options, record.planned_day) == (False, ("awning",), "2026-03-04")
    assert len(record.inspections) == 3
    assert "as planned already" in build_plan_report(data, reads, PLANT, journal.clock()).summary
    told = [one.words for one in time_line(record, reads.operations_of(UNIT), PLANT)]
    assert told[0] == "Met before the plan, as T36"
    chassis, plan = plan_of()
    assert phone.do("unit_planned", "PL1", chassis, **plan)[1].code == "unit_exists"
    assert verify(journal.folder).is_whole
    journal.close()
    rebuild(journal.folder, PLANT)
    assert story_of(journal, UNIT).met.planned


def test_nobody_signs_it_until_it_is_planned(journal, phone):
    phone.must("unit_met", "I1", UNIT, model="T36")
    phone.test_all(UNIT)
    phone.look(UNIT)
    record = story_of(journal, UNIT)
    assert [one.code for one in blockers(record, PLANT)] == ["unplanned"]
    verdict = phone.do("unit_released", "I1", UNIT, open_digest=open_digest(record), against="the list")[1]
    assert (verdict.code, "no plan holds the unit" in verdict.reason) == ("release_blocked", True)
    chassis, plan = plan_of()
    phone.must("unit_planned", "PL1", chassis, **plan)

    assert phone.sign(UNIT).verdict == "applied"


def test_a_slip_is_cancelled_and_stays_out_of_the_plan_until_it_is_taken_up(journal, phone, reads):
    phone.must("unit_met", "I1", UNIT, model="T36")
    phone.must("unit_cancelled", "PL1", UNIT, reason="read wrongly")
    data = f"chassis,planned day\n{UNIT},2026-03-04\n".encode()

    assert [one.outcome for one in build_plan_report(data, reads, PLANT, journal.clock()).lines] == ["wrong"]
