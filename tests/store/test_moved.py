"""Where a unit stands: told by who may, in its story, the latest by when it happened."""

import pytest

from qc.domain.facts.rule_set import PLACES_IN_ONE_LINE, UNITS_MOVED
from qc.reports.units.operation_words import OperationWords
from qc.reports.units.time_line import time_line
from qc.store.checking.verify import verify
from qc.store.intake import door
from qc.store.intake.rebuild import rebuild
from qc.store.reading.reads import Reads
from tests.store.record_kit import PLANT, START, Phone, open_journal, story_of


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path) as journal:
        yield journal


@pytest.mark.parametrize("author", ["I1", "RW1", "DX1", "QM1", "L-S07"])
def test_it_stands_where_it_was_told_last_and_the_story_says_so(journal, author):
    phone = Phone(journal)
    unit = phone.plan()
    phone.must("unit_moved", author, unit, place=" Yard, row C ", envelope={"wall_ms": START - 1000})
    phone.must("unit_moved", "I1", unit, place="Bay 4", envelope={"wall_ms": START - 2000})
    record = story_of(journal, unit)

    assert (record.place.place, record.place.by) == ("Yard, row C", author)
    assert record.state == "planned"  # where it stands is no work on it
    reads = Reads(journal.folder, PLANT)
    events = reads.operations_of(unit)
    reads.close()
    assert OperationWords(PLANT, "T36").tell(events[1]) == "moved to Yard, row C"
    assert [one.words for one in time_line(record, events, PLANT)] == ["Moved to Bay 4", "Moved to Yard, row C"]
    assert verify(journal.folder).is_whole


@pytest.mark.parametrize("place", ["Bay 4\nall is well", "Bay 4\n", "Bay\t4", "Bay 4\u2028row C"])
def test_a_place_is_told_in_one_line_and_what_an_earlier_program_took_stays(journal, monkeypatch, place):
    phone = Phone(journal)
    unit = phone.plan()
    refused = phone.do("unit_moved", "I1", unit, place=place)[1]
    monkeypatch.setattr(door, "RULES", PLACES_IN_ONE_LINE - 1)
    phone.must("unit_moved", "I1", unit, place=place)

    assert (refused.code, "in one line where the unit stands" in refused.reason) == ("malformed", True)
    journal.close()
    assert rebuild(journal.folder, PLANT)
    assert verify(journal.folder).is_whole


@pytest.mark.parametrize(("author", "code"), [("AD1", "not_your_role"), ("PL1", "not_your_role")])
def test_nobody_else_tells_it(journal, author, code):
    phone = Phone(journal)
    unit = phone.plan()

    assert phone.do("unit_moved", author, unit, place="Bay 4")[1].code == code
    assert story_of(journal, unit).place is None


@pytest.mark.parametrize("place", ["", "   ", "x" * 61, None, 4])
def test_a_place_that_says_nothing_is_refused(journal, place):
    phone = Phone(journal)
    unit = phone.plan()

    assert phone.do("unit_moved", "I1", unit, place=place)[1].code == "malformed"


def test_a_signature_stands_after_a_released_unit_is_moved(journal):
    phone = Phone(journal)
    unit = phone.plan()
    phone.test_all(unit)
    phone.look(unit)
    assert phone.sign(unit).verdict == "applied"
    phone.must("unit_moved", "DX1", unit, place="Transporter 3")
    record = story_of(journal, unit)

    assert (record.state, record.alarm, record.place.place) == ("released", "", "Transporter 3")
    assert verify(journal.folder).is_whole


def test_what_an_earlier_program_refused_stays_refused(journal, monkeypatch):
    phone = Phone(journal)
    unit = phone.plan()
    with monkeypatch.context() as then:
        then.setattr("qc.store.intake.door.RULES", UNITS_MOVED - 1)
        assert phone.do("unit_moved", "I1", unit, place="Bay 4")[1].code == "not_effective_yet"
    assert story_of(journal, unit).place is None
    journal.close()
    rebuild(journal.folder, PLANT)

    assert story_of(journal, unit).place is None
