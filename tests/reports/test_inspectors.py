"""Inspectors on re-looked units, in rows that a reader can count. Invented rows; expected values by hand."""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon
from relook_rows import found, relook
from scipy.stats import binomtest

from qc.reports.asking import Asking
from qc.reports.looks.inspectors import inspectors, own_share
from qc.reports.periods import week_of, weeks_up_to
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval
from qc.store.counts import Counts

MONDAY = date(2026, 3, 2)
DAY = "2026-03-04"


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def asked(record):
    today = MONDAY + timedelta(weeks=1)
    return Asking(counts=Counts(record), plant=record.plant, now_ms=noon(today.isoformat())), weeks_up_to(
        week_of(MONDAY, today), 4
    )


def people(record):
    return {person.code: person for person in inspectors(*asked(record)).people}


def test_each_is_judged_on_what_the_other_found(record):
    relook(record, "U1", DAY, both=24, only_first=1, only_second=6)
    told = people(record)

    assert (told["I1"].found, told["I1"].whole) == (24, 30)
    assert (told["I2"].found, told["I2"].whole) == (24, 25)
    assert told["I1"].share.share == pytest.approx(0.8)
    outside = binomtest(24, 30).proportion_ci(0.95, "exact")  # scipy's interval of Clopper & Pearson (1934)
    assert (told["I1"].share.low, told["I1"].share.high) == pytest.approx((outside.low, outside.high))


def test_first_and_second_looks_of_a_person_add_up(record):
    relook(record, "U1", DAY, both=15, only_second=5)
    relook(record, "U2", DAY, first="I3", second="I1", both=18, only_first=2)
    told = people(record)

    assert (told["I1"].found, told["I1"].whole) == (33, 40)
    assert (told["I1"].first_units, told["I1"].second_units) == (1, 1)


def test_people_stand_in_code_order_whoever_finds_more(record):
    relook(record, "U1", DAY, first="I4", second="I2", both=20, only_second=30)
    relook(record, "U2", DAY, first="I1", second="I3", both=30)

    assert [person.code for person in inspectors(*asked(record)).people] == ["I1", "I2", "I3", "I4"]


def test_one_who_finds_less_beyond_chance_is_told_with_the_conditions_first(record):
    relook(record, "U1", DAY, first="I4", second="I2", both=60, only_first=4, only_second=40)
    relook(record, "U2", DAY, first="I1", second="I3", both=90, only_first=8, only_second=10)
    told = people(record)

    assert told["I4"].below
    assert "60 %" in told["I4"].sentence
    assert "before the person" in told["I4"].sentence
    assert [code for code, one in told.items() if one.below] == ["I4"]
    assert "others" not in told["I4"].own_sentence


def test_a_difference_that_chance_makes_is_no_claim(record):
    relook(record, "U1", DAY, first="I4", second="I2", both=17, only_first=2, only_second=4)
    relook(record, "U2", DAY, first="I1", second="I3", both=18, only_first=3, only_second=2)

    assert not any(one.below for one in people(record).values())


def test_few_defects_are_too_little_to_say(record):
    relook(record, "U1", DAY, both=18, only_first=2, only_second=1)
    told = people(record)

    assert isinstance(told["I1"].share, TooLittle)
    assert (told["I1"].share.have, told["I1"].share.need) == (19, 20)
    assert told["I1"].sentence.startswith("Too little to say: the other look found 19 defects")
    assert isinstance(told["I2"].share, ShareInterval)


def test_an_empty_record_says_that_nobody_can_be_compared(record):
    report = inspectors(*asked(record))

    assert report.people == ()
    assert "nobody can be compared" in report.sentence
    assert isinstance(report.missed, TooLittle)


def test_a_type_that_only_a_test_finds_is_in_no_share(record):
    relook(record, "U1", DAY, both=20)
    relook(record, "U2", DAY, only_second=3, type_="GAS-01")
    report = inspectors(*asked(record))

    assert report.people[0].whole == 20
    assert report.test_bay == (0, 3, 0)


def test_pairs_are_the_same_whoever_was_first(record):
    relook(record, "U1", DAY, first="I1", second="I2", both=10, only_first=1, only_second=2)
    relook(record, "U2", DAY, first="I2", second="I1", both=20, only_first=3, only_second=4)
    (line,) = inspectors(*asked(record)).pairs

    assert (line.a, line.b, line.units) == ("I1", "I2", 2)
    assert (line.only_a, line.only_b, line.both) == (1 + 4, 2 + 3, 30)


def test_what_neither_found_is_estimated_pair_by_pair(record):
    # (20+1)(18+1)/16 - 1 - 23 = 0.9375, Chapman (1951)
    relook(record, "U1", DAY, both=15, only_first=5, only_second=3)

    assert inspectors(*asked(record)).missed.left == pytest.approx(0.9375)


def test_a_person_who_is_nearly_always_on_one_shift_is_told_so(record):
    for n in range(6):
        relook(record, f"U{n}", DAY, first="I4", second="I2", shift="late" if n < 5 else "early", both=5)
    report = inspectors(*asked(record))

    assert any("I4 5 of 6 on late" in line for line in report.notes)
    shifts = {line.shift: line for line in report.people[1].shifts}
    assert (shifts["late"].looks, shifts["late"].whole, shifts["early"].whole) == (5, 25, 5)


def test_false_calls_stand_apart(record):
    relook(record, "U1", DAY, both=20)
    found(record, "no", "U1", DAY, "U1-D01", "I1", why="not_a_defect")
    one = people(record)["I1"]

    assert (one.found, one.whole) == (20, 20)
    assert (one.false_calls, one.recorded) == (1, 21)


def test_somebody_in_no_pair_has_an_answer_of_their_own(record):
    relook(record, "U1", DAY, both=20)
    own = own_share(*asked(record), "I9")

    assert (own.code, own.whole, own.recorded) == ("I9", 0, 0)
    assert own.own_sentence.startswith("Too little to say")


def test_the_types_that_the_other_found_are_told_for_training(record):
    relook(record, "U1", DAY, both=4, only_second=2)
    relook(record, "U2", DAY, only_second=3, type_="PAN-03")
    missed = people(record)["I1"].missed

    assert [(line.type, line.missed, line.whole) for line in missed] == [("PAN-03", 3, 3), ("EXT-01", 2, 6)]
