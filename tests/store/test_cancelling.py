"""A unit that is cancelled: its reason in the story, no list of work, no release; what was seen stays counted.

Common practice, no source: a record is not rewritten because its unit is not sold.
"""

from datetime import date

import pytest

from qc.domain.counted.counts import Slice
from qc.domain.unit.release import blockers, open_digest
from qc.reports.units.operation_words import OperationWords
from qc.store.checking.verify import verify
from qc.store.counts import LINE, Counts
from qc.store.intake.rebuild import rebuild
from qc.store.reading.reads import Reads
from tests.store.record_kit import PLANT, Phone, open_journal, story_of

WEEK = Slice(date(2026, 3, 2), date(2026, 3, 9))
WHY = {"reason": "the order was withdrawn"}


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path) as journal:
        yield journal


@pytest.fixture
def phone(journal):
    return Phone(journal)


def refused(phone, author, kind, unit, **body):
    verdict = phone.do(kind, author, unit, **body)[1]
    assert verdict.verdict == "refused", verdict
    return verdict


def present(phone, unit, *points):
    """Present a unit, and find a critical on the walk-round."""
    for point in points:
        look = phone.must("inspection_begun", "I1", unit, point=point, purpose="presentation", light="bright")
        if point == "D01":
            what = {"point": "D01", "zone": "front.gas", "type": "GAS-01", "severity": "critical"}
            phone.must("defect_recorded", "I1", unit, inspection=look, **what)
        phone.must("inspection_ended", "I1", unit, inspection=look)


def later(phone):
    return phone.journal.clock() + 9 * 24 * 3_600_000


def test_it_tells_by_whom_and_why_and_stands_so_after_a_rebuild(journal, phone):
    unit = phone.plan()
    phone.must("unit_cancelled", "PL1", unit, **WHY)
    record = story_of(journal, unit)

    assert (record.state, record.cancelled.by, record.cancelled.reason) == ("cancelled", "PL1", WHY["reason"])
    with Reading(journal) as reads:
        assert reads.unit_line(unit).state == "cancelled"
        assert OperationWords(PLANT, "T36").tell(reads.operations_of(unit)[-1]) == "cancelled (the order was withdrawn)"
    journal.close()
    rebuild(journal.folder, PLANT)
    with Reading(journal) as reads:
        assert [line.chassis for line in reads.unit_list("cancelled")] == [unit]
    assert verify(journal.folder).is_whole


class Reading:
    """Reads of a journal, closed in the end."""

    def __init__(self, journal):
        self.reads = Reads(journal.folder, PLANT)

    def __enter__(self):
        return self.reads

    def __exit__(self, *_):
        self.reads.close()


@pytest.mark.parametrize("author", ["I1", "RW1", "AD1", "nobody"])
def test_only_who_plans_cancels_and_takes_up(phone, author):
    unit = phone.plan()

    assert refused(phone, author, "unit_cancelled", unit, **WHY).code == "not_your_role"
    phone.must("unit_cancelled", "QM1", unit, **WHY)
    assert refused(phone, author, "unit_taken_up", unit, **WHY).code == "not_your_role"


@pytest.mark.parametrize("reason", ["", "no", None])
def test_without_a_reason_nothing_is_cancelled(phone, reason):
    unit = phone.plan()

    assert refused(phone, "PL1", "unit_cancelled", unit, reason=reason).code == "malformed"
    assert story_of(phone.journal, unit).state == "planned"


def test_twice_is_refused_and_taken_up_it_stands_where_it_stood(journal, phone):
    unit = phone.plan()
    phone.must("station_passed", "PL1", unit, station="S01")
    phone.must("unit_cancelled", "PL1", unit, **WHY)
    again = refused(phone, "QM1", "unit_cancelled", unit, reason="once more")

    assert again.code == "already_cancelled"
    assert "PL1 (the order was withdrawn)" in again.reason
    assert refused(phone, "PL1", "plan_changed", unit, changes={"options": ["awning"]}).code == "unit_cancelled"
    phone.must("unit_taken_up", "PL1", unit, reason="ordered anew")
    assert story_of(journal, unit).state == "on_line"
    assert refused(phone, "PL1", "unit_taken_up", unit, reason="ordered anew").code == "not_cancelled"
    phone.must("plan_changed", "PL1", unit, changes={"options": ["awning"]})


def test_one_that_is_ready_to_leave_is_not_released_until_it_is_taken_up(journal, phone):
    unit = phone.plan()
    for point in ("T01", "T02"):
        present(phone, unit, point)
    phone.test_all(unit)
    phone.look(unit)
    assert blockers(story_of(journal, unit), PLANT) == ()
    digest = open_digest(story_of(journal, unit))
    phone.must("unit_cancelled", "PL1", unit, **WHY)

    no = refused(phone, "I1", "unit_released", unit, open_digest=digest, against="the list")
    assert no.code == "release_blocked"
    assert "cancelled by PL1 (the order was withdrawn)" in no.reason
    phone.must("unit_taken_up", "PL1", unit, reason="ordered anew")
    phone.must("unit_released", "I1", unit, open_digest=digest, against="the list")
    assert refused(phone, "PL1", "unit_cancelled", unit, **WHY).code == "already_released"


def test_a_signer_who_did_not_see_that_it_was_cancelled_signs_anew(journal, phone):
    unit = phone.plan()
    for point in ("T01", "T02"):
        present(phone, unit, point)
    phone.test_all(unit)
    phone.look(unit)
    digest, seen = open_digest(story_of(journal, unit)), Phone(journal, "P2")
    seen.seen_through = story_of(journal, unit).last_number
    phone.must("unit_cancelled", "PL1", unit, **WHY)
    phone.must("unit_taken_up", "PL1", unit, reason="ordered anew")

    no = refused(seen, "I1", "unit_released", unit, open_digest=digest, against="the list")
    assert no.code == "sign_off_stale"
    assert "unit cancelled by PL1" in no.reason


def test_one_that_was_never_presented_counts_nowhere_and_waits_nowhere(journal, phone):
    unit, counts = phone.plan(), Counts(journal)
    present(phone, unit, "T01")
    assert [one.unit for one in counts.under_way(WEEK.end)] == [unit]
    phone.must("unit_cancelled", "PL1", unit, **WHY)

    assert counts.under_way(WEEK.end) == ()
    assert counts.week_counts(WEEK, LINE, later(phone)).inspected == (0,)
    assert counts.open_origins(later(phone), field=False).total == 0


def test_one_that_was_presented_stays_in_what_was_seen_and_its_critical_stays_listed(journal, phone):
    unit, counts = phone.plan(), Counts(journal)
    present(phone, unit, "T01", "T02", "D01")
    before = counts.week_counts(WEEK, LINE, later(phone))
    assert (before.inspected, before.defects) == ((1,), (1,))
    assert [one.on_cancelled for one in counts.open_criticals()] == [False]
    phone.must("unit_cancelled", "PL1", unit, **WHY)

    assert counts.week_counts(WEEK, LINE, later(phone)) == before
    assert [(one.unit, one.on_cancelled) for one in counts.open_criticals()] == [(unit, True)]


def test_what_is_found_on_it_is_taken_down_and_it_stays_cancelled(journal, phone):
    unit = phone.plan()
    phone.must("unit_cancelled", "PL1", unit, **WHY)
    present(phone, unit, "D01")

    record = story_of(journal, unit)
    assert (record.state, len(record.defects)) == ("cancelled", 1)


def test_a_record_of_before_knows_the_new_state_after_its_step(tmp_path, monkeypatch):
    from qc.store.tables import migrations

    with monkeypatch.context() as earlier:
        earlier.setattr(migrations, "MIGRATIONS", migrations.MIGRATIONS[:19])
        with open_journal(tmp_path) as journal:
            # what the present program writes beside; step 20 makes the table anew without it
            journal.write(lambda conn: conn.execute("ALTER TABLE unit ADD COLUMN met_by TEXT"))
            journal.write(lambda conn: conn.execute("ALTER TABLE unit ADD COLUMN line TEXT NOT NULL DEFAULT ''"))
            unit = Phone(journal).plan()
    with open_journal(tmp_path) as journal:
        phone = Phone(journal, "P2")
        phone.must("unit_cancelled", "PL1", unit, **WHY)
        phone.plan(30002)
        with Reading(journal) as reads:
            assert {line.state for line in reads.unit_list()} == {"cancelled", "planned"}
    assert verify(tmp_path).is_whole
