"""Paired re-looks: which of two inspectors found what. Invented rows; expected values counted by hand."""

from datetime import date, timedelta

import pytest
from record_rows import HOUR, RowRecord, noon
from relook_rows import found, relook

from qc.domain.counted.counts import Slice
from qc.domain.counted.relook_counts import FalseCalls, RelookPair
from qc.store.counts import Counts

MONDAY = date(2026, 3, 2)
WEEK = Slice(MONDAY, MONDAY + timedelta(weeks=1))
DAY = "2026-03-03"


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def cells(record, asked=WEEK):
    return [
        (c.first, c.second, c.shift, c.type, c.only_first, c.only_second, c.both)
        for c in Counts(record).relooks(asked).cells
    ]


def test_a_defect_stands_with_both_or_with_one_of_the_two(record):
    relook(record, "U1", DAY, both=3, only_first=1, only_second=2)

    assert cells(record) == [("I1", "I2", "early", "EXT-01", 1, 2, 3)]
    assert Counts(record).relooks(WEEK).pairs == (RelookPair("I1", "I2", "early", 1),)


def test_a_unit_on_which_nobody_found_anything_is_a_pair_all_the_same(record):
    relook(record, "U1", DAY)

    counts = Counts(record).relooks(WEEK)
    assert counts.cells == ()
    assert counts.pairs[0].units == 1


def test_units_that_only_one_person_saw_are_in_no_pair(record):
    record.seen_through("U1", DAY)
    found(record, "a", "U1", DAY, "U1-D01", "I1")

    assert Counts(record).relooks(WEEK).pairs == ()


def test_the_same_person_twice_or_no_first_look_is_no_pair_and_told(record):
    relook(record, "U1", DAY, second="I1", both=1)
    record.unit("U2")
    record.looked("U2-again", "U2", DAY, purpose="relook")

    counts = Counts(record).relooks(WEEK)
    assert (counts.pairs, counts.unpaired) == ((), 2)


def test_a_zone_that_only_one_looked_at_is_left_out_and_told(record):
    relook(record, "U1", DAY, both=1, only_second=2, zones=("front.panel",), second_zones=("front.panel", "front.gas"))

    assert cells(record) == [("I1", "I2", "early", "EXT-01", 0, 0, 1)]
    assert Counts(record).relooks(WEEK).one_zone == 2


def test_a_unit_repaired_between_the_looks_is_left_out_and_told(record):
    relook(record, "U1", DAY, both=1, only_first=2)
    record.put(
        "defect_repair", repair="r", defect="U1-f0", number=1, cycle=1, repairer="RW1", method="rework", minutes=5,
        repaired_ms=noon(DAY) + HOUR // 2,
    )  # fmt: skip

    counts = Counts(record).relooks(WEEK)
    assert (counts.pairs, counts.repaired_between) == ((), 1)


def test_a_repair_after_both_looks_changes_nothing(record):
    relook(record, "U1", DAY, both=1, only_first=2)
    record.put(
        "defect_repair", repair="r", defect="U1-f0", number=1, cycle=1, repairer="RW1", method="rework", minutes=5,
        repaired_ms=noon(DAY) + 2 * HOUR,
    )  # fmt: skip

    assert cells(record) == [("I1", "I2", "early", "EXT-01", 2, 0, 1)]


def test_what_was_no_defect_is_in_no_share(record):
    relook(record, "U1", DAY, both=1)
    found(record, "no1", "U1", DAY, "U1-D01", "I1", why="not_a_defect")
    found(record, "no2", "U1", DAY, "U1-again", "I2", why="not_a_defect")

    assert cells(record) == [("I1", "I2", "early", "EXT-01", 0, 0, 1)]


def test_a_twin_joined_the_other_way_round_is_found_by_both_too(record):
    relook(record, "U1", DAY)
    found(record, "again", "U1", DAY, "U1-again", "I2")
    found(record, "first", "U1", DAY, "U1-D01", "I1", duplicate_of="again")

    assert cells(record) == [("I1", "I2", "early", "EXT-01", 0, 0, 1)]


def test_a_twin_of_a_twin_leads_to_the_one_that_stands(record):
    relook(record, "U1", DAY, both=1)
    found(record, "third", "U1", DAY, "U1-again", "I2", duplicate_of="U1-b0-again")

    assert cells(record) == [("I1", "I2", "early", "EXT-01", 0, 0, 1)]


def test_twins_that_name_each_other_come_to_an_end(record):
    relook(record, "U1", DAY)
    found(record, "a", "U1", DAY, "U1-D01", "I1", duplicate_of="b")
    found(record, "b", "U1", DAY, "U1-again", "I2", duplicate_of="a")

    assert sum(sum(cell[4:]) for cell in cells(record)) <= 2


def test_what_somebody_else_recorded_before_charges_nobody(record):
    relook(record, "U1", DAY, both=1)
    found(record, "bay", "U1", DAY, "U1-T01", "TB1")
    found(record, "again", "U1", DAY, "U1-again", "I2", duplicate_of="bay")

    assert cells(record) == [("I1", "I2", "early", "EXT-01", 0, 0, 1)]
    assert Counts(record).relooks(WEEK).known_before == 1


def test_records_alike_that_nobody_has_joined_are_told(record):
    relook(record, "U1", DAY)
    found(record, "a", "U1", DAY, "U1-D01", "I1")
    found(record, "b", "U1", DAY, "U1-again", "I2")
    found(record, "c", "U1", DAY, "U1-again", "I2", type_="PAN-03")

    assert Counts(record).relooks(WEEK).alike == 1
    assert ("I1", "I2", "early", "EXT-01", 1, 1, 0) in cells(record)


def test_types_that_only_a_test_finds_are_marked(record):
    relook(record, "U1", DAY, both=1)
    relook(record, "U2", DAY, only_second=1, type_="GAS-01")

    assert {c.type: c.by_look for c in Counts(record).relooks(WEEK).cells} == {"EXT-01": True, "GAS-01": False}


def test_a_slice_narrows_to_days_models_and_shifts(record):
    relook(record, "U1", DAY, both=1)
    relook(record, "U2", "2026-03-10", both=1, shift="late")
    wide = Slice(MONDAY, MONDAY + timedelta(weeks=2))

    assert len(Counts(record).relooks(WEEK).pairs) == 1
    assert len(Counts(record).relooks(wide).pairs) == 2
    assert [pair.shift for pair in Counts(record).relooks(Slice(wide.first, wide.end, (), ("late",))).pairs] == ["late"]
    assert Counts(record).relooks(Slice(wide.first, wide.end, ("H62",))).pairs == ()


def test_false_calls_are_what_was_no_defect_and_no_twin(record):
    relook(record, "U1", DAY, both=2, only_second=1)
    found(record, "no", "U1", DAY, "U1-D01", "I1", why="not_a_defect")
    record.defect("bay", "U1", DAY, "T01", "U1-T01", state="withdrawn", withdrawn_why="not_a_defect")

    assert Counts(record).false_calls(WEEK) == (FalseCalls("I1", 3, 1), FalseCalls("I2", 1, 0))
