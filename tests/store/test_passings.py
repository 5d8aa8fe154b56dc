"""That a unit passed a station, and that it did not: who takes a passing back, and what then counts."""

import sqlite3
from contextlib import closing
from datetime import date

import pytest

from qc.domain.counted.counts import Slice
from qc.reports.units.operation_words import OperationWords
from qc.reports.units.time_line import time_line
from qc.store.checking.verify import verify
from qc.store.counts import LINE, Counts
from qc.store.intake.rebuild import rebuild
from qc.store.reading.reads import Reads
from qc.store.record.connection import RECORD
from tests.store.record_kit import PLANT, START, Phone, open_journal, story_of

DAY = 24 * 3_600_000
WEDNESDAY, THURSDAY = START - 5 * DAY, START - 4 * DAY  # by lead time the work would be of Friday


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path) as journal:
        yield journal


@pytest.fixture
def phone(journal):
    return Phone(journal)


def passed(phone, unit, station="S07", author="RW1", at=WEDNESDAY):
    return phone.must("station_passed", author, unit, station=station, envelope={"wall_ms": at})


def rows(journal):
    with closing(sqlite3.connect(journal.folder / RECORD)) as conn:
        return conn.execute("SELECT station, production_day FROM station_pass ORDER BY station").fetchall()


def present(phone, unit):
    for point in ("T01", "T02", "D01"):
        look = phone.must("inspection_begun", "I1", unit, point=point, purpose="presentation", light="bright")
        phone.must("inspection_ended", "I1", unit, inspection=look)


def count(counts):
    """Count the week, so that a day that is not marked anew stays as it is."""
    assert counts.week_counts(Slice(date(2026, 3, 2), date(2026, 3, 9)), LINE, START + 9 * DAY).inspected == (1,)


@pytest.mark.parametrize("author", ["RW1", "L-S07", "QM1"])
def test_who_entered_it_the_lead_and_the_manager_take_it_back(journal, phone, author):
    unit = phone.plan()
    passing = passed(phone, unit)
    phone.must("passing_withdrawn", author, unit, passing=passing)

    assert rows(journal) == []
    assert story_of(journal, unit).passes == ()
    assert story_of(journal, unit).state == "planned"


@pytest.mark.parametrize(
    ("author", "code"), [("I1", "not_your_role"), ("L-S06", "not_your_role"), ("AD1", "not_your_role")]
)
def test_nobody_else_takes_it_back(journal, phone, author, code):
    unit = phone.plan()
    passing = passed(phone, unit)

    assert phone.do("passing_withdrawn", author, unit, passing=passing)[1].code == code
    assert len(rows(journal)) == 1


def test_the_earliest_of_those_that_stand_counts_and_the_counts_follow(journal, phone):
    unit, counts = phone.plan(), Counts(journal)
    first, _ = passed(phone, unit), passed(phone, unit, author="PL1", at=THURSDAY)
    present(phone, unit)
    count(counts)
    assert rows(journal) == [("S07", "2026-02-25")]
    phone.must("passing_withdrawn", "RW1", unit, passing=first)

    assert rows(journal) == [("S07", "2026-02-26")]
    assert verify(journal.folder).is_whole
    count(counts)
    last = next(one for one in story_of(journal, unit).passings if not one.withdrawn)
    phone.must("passing_withdrawn", "PL1", unit, passing=last.id)
    assert rows(journal) == []
    assert verify(journal.folder).is_whole
    journal.close()
    rebuild(journal.folder, PLANT)
    assert rows(journal) == []


def test_one_of_another_unit_and_one_that_is_none_are_refused(phone):
    one, other = phone.plan(), phone.plan(30002)
    passing = passed(phone, one)
    look = phone.must("inspection_begun", "I1", other, point="D01", purpose="presentation", light="bright")

    refused = [phone.do("passing_withdrawn", "QM1", other, passing=id_)[1].code for id_ in (passing, look)]
    assert refused == ["wrong_chassis", "unknown_code"]


def test_one_that_has_not_arrived_is_waited_for(journal, phone):
    unit, later = phone.plan(), Phone(journal, "P2")
    made = later.make("station_passed", "I1", unit, station="S07")
    assert phone.do("passing_withdrawn", "I1", unit, passing=made["id"])[1].verdict == "parked"
    later.send()

    assert rows(journal) == []


def test_what_was_released_stays_as_it_is(journal, phone):
    unit = phone.plan()
    passing = passed(phone, unit)
    phone.settle(unit)
    phone.test_all(unit)
    phone.look(unit)
    assert phone.sign(unit).verdict == "applied"

    assert phone.do("passing_withdrawn", "RW1", unit, passing=passing)[1].code == "already_released"
    assert len(rows(journal)) == 1


def test_again_is_refused_and_the_story_tells_both(journal, phone):
    unit = phone.plan()
    passing = passed(phone, unit)
    phone.must("passing_withdrawn", "RW1", unit, passing=passing, reason="the unit before it")
    assert phone.do("passing_withdrawn", "QM1", unit, passing=passing)[1].code == "already_withdrawn"

    reads = Reads(journal.folder, PLANT)
    events = reads.operations_of(unit)
    reads.close()
    words = OperationWords(PLANT, "T36")
    assert words.tell(events[2]) == "a passing of a station taken back as a slip (the unit before it)"
    told = [one.words for one in time_line(story_of(journal, unit), events, PLANT)]
    assert told == ["Passed S07 Wall panels bond", "Passing taken back as a slip: S07 Wall panels bond"]
