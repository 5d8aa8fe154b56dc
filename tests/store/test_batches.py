"""A batch is what its operations are one by one: same verdicts, same chain, same tables, whatever stands in it."""

import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest

from qc.domain.unit.release import open_digest
from qc.store.checking.verify import verify
from qc.store.intake.journal import Journal, PushBatch, StorageFull
from qc.store.intake.settling import Settler
from qc.store.record.entries import Entries
from qc.store.tables.migrations import PROJECTION_TABLES
from tests.store.random_days import a_random_day
from tests.store.record_kit import MINUTE, PEOPLE, PLANT, TABLES, Clock, Phone, open_journal, story_of

DEFECT = {"point": "D01", "zone": "nearside.door", "type": "EXT-01", "severity": "minor"}


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path / "record") as journal:
        yield journal


def tables(folder):
    with closing(sqlite3.connect(folder / "record.sqlite")) as conn:
        return {name: sorted(conn.execute(f"SELECT * FROM {name}"), key=repr) for name in PROJECTION_TABLES}


def batches_of_a_random_day(folder, seed, size):
    """Return what the phones of a random day made, in batches of at most ``size``, phone by phone in turn."""
    made = {}
    with open_journal(folder) as journal:
        push = journal.push

        def noting(batch):
            made.setdefault((batch.device, batch.install_epoch), []).extend(batch.operations)
            return push(batch)

        journal.push = noting
        a_random_day(journal, seed, 160)
        end = journal.clock()
    parts = [
        PushBatch(*stream, end, operations[first : first + size])
        for stream, operations in made.items()
        for first in range(0, len(operations), size)
    ]
    parts.sort(key=lambda part: part.operations[0][1]["wall_ms"])
    return [replace(part, received_ms=end + place * MINUTE) for place, part in enumerate(parts)]


def taken(folder, batches, whole):
    """Push batches whole, or each operation by itself; return verdicts, chain, tables and whether it verifies."""
    with Journal(folder, PLANT, TABLES, Clock(), PEOPLE.get) as journal:
        verdicts = []
        for batch in batches:
            parts = [batch] if whole else [replace(batch, operations=[one]) for one in batch.operations]
            for part in parts:
                answer = journal.push(part)
                verdicts += answer.verdicts
    return verdicts, answer.chain_head, tables(folder), verify(folder).is_whole


@pytest.mark.parametrize(("seed", "size"), [(1, 7), (2, 40), (3, 500), (4, 40)])
def test_a_batch_is_its_operations_one_by_one(tmp_path, seed, size):
    batches = batches_of_a_random_day(tmp_path / "made", seed, size)
    singly = taken(tmp_path / "singly", batches, whole=False)
    verdicts, _, _, is_whole = singly

    assert taken(tmp_path / "whole", batches, whole=True) == singly
    assert is_whole
    assert {one.verdict for one in verdicts} >= {"applied", "refused", "parked"}
    assert any(len({one["unit"] for _, one in batch.operations}) > 1 for batch in batches)


def test_rows_that_wait_while_the_record_is_asked_are_found(tmp_path, monkeypatch):
    """The test before this one can fail: planted, what waits is not written before the record is asked."""
    batches = batches_of_a_random_day(tmp_path / "made", 2, 40)
    singly = taken(tmp_path / "singly", batches, whole=False)
    monkeypatch.setattr(Entries, "conn", property(lambda self: self._conn))
    monkeypatch.setattr(Settler, "write", lambda self: (self._entries.write(), self._hand.write()))

    verdicts, _, _, is_whole = taken(tmp_path / "whole", batches, whole=True)
    assert verdicts != singly[0]
    assert not is_whole


def test_one_operation_twice_in_a_batch_is_stored_once(journal):
    phone = Phone(journal)
    unit = phone.plan()
    phone.make("defect_recorded", "I1", unit, **DEFECT)
    [(raw, parsed)] = phone.unsent
    phone.unsent += [(raw, parsed), (raw.replace(b'"minor"', b'"major"'), {**parsed, "body": {**parsed["body"]}})]
    phone.make("station_passed", "I1", unit, station="S01")

    answers = phone.send()
    assert [(one.verdict, one.number) for one in answers] == [
        ("applied", 2),
        ("duplicate", 2),
        ("id_reused", None),
        ("applied", 3),
    ]
    assert len(story_of(journal, unit).defects) == 1


def test_a_refused_one_in_the_middle_undoes_nothing_beside_it(journal):
    phone = Phone(journal)
    unit, other = phone.plan(), phone.plan(30002)
    first = phone.make("defect_recorded", "I1", unit, **DEFECT)["id"]
    wrong = phone.make("defect_recorded", "I1", other, **{**DEFECT, "zone": "no.such.zone"})["id"]
    phone.make("photo_attached", "I1", other, defect=wrong, sha256="a" * 64, bytes=9)
    phone.make("photo_attached", "I1", unit, defect=first, sha256="b" * 64, bytes=9)
    phone.make("defect_recorded", "I1", other, **DEFECT)

    assert [(one.verdict, one.code) for one in phone.send()] == [
        ("applied", ""),
        ("refused", "unknown_code"),
        ("refused", "depends_on_refused"),
        ("applied", ""),
        ("applied", ""),
    ]
    assert [one.photos for one in story_of(journal, unit).defects] == [("b" * 64,)]
    assert [one.photos for one in story_of(journal, other).defects] == [()]
    assert verify(journal.folder).is_whole


def ready_for_release(phone):
    """A unit with all tests and looks, and what its release is signed with."""
    unit = phone.plan()
    phone.test_all(unit)
    phone.look(unit)
    story = story_of(phone.journal, unit)
    return unit, {"open_digest": open_digest(story), "against": "release rule of the plant"}


def test_a_defect_behind_a_release_in_one_batch_takes_it_back(journal):
    phone = Phone(journal)
    unit, signed = ready_for_release(phone)
    phone.make("unit_released", "QM1", unit, **signed)
    phone.make("defect_recorded", "I1", unit, **DEFECT)
    phone.make("unit_released", "QM1", unit, **signed)

    answers = phone.send()
    assert [(one.verdict, one.code) for one in answers][:2] == [("applied", ""), ("applied", "")]
    assert answers[2].code in ("sign_off_stale", "release_blocked")
    story = story_of(journal, unit)
    assert (story.state, len(story.releases)) == ("in_rework", 1)
    assert "is no longer in force" in story.alarm
    assert verify(journal.folder).is_whole


def test_what_stands_before_a_release_in_its_batch_is_judged_with_it(journal):
    phone = Phone(journal)
    unit, signed = ready_for_release(phone)
    phone.make("defect_recorded", "I1", unit, **{**DEFECT, "severity": "major"})
    phone.make("unit_released", "QM1", unit, **signed)

    assert [one.verdict for one in phone.send()] == ["applied", "refused"]
    assert story_of(journal, unit).releases == ()


def test_a_batch_for_which_the_disk_is_too_full_is_kept_whole_or_not_at_all(journal):
    phone = Phone(journal)
    unit = phone.plan()

    def room(pages):
        def limit(conn):
            (now,) = conn.execute("PRAGMA page_count").fetchone()
            conn.execute(f"PRAGMA max_page_count = {now + pages}")

        journal.write(limit)

    for _ in range(60):
        phone.make("defect_recorded", "I1", unit, **DEFECT, note="x" * 900)
    unsent, before = list(phone.unsent), tables(journal.folder)
    for pages in (0, 5, 20):  # the rows, the verdicts or what is derived finds no room
        room(pages)
        phone.unsent = list(unsent)
        with pytest.raises(StorageFull):
            phone.send()
        assert tables(journal.folder) == before

    room(1000)
    phone.unsent = list(unsent)
    assert [(one.verdict, one.number) for one in phone.send()] == [("applied", 2 + n) for n in range(60)]
    assert len(story_of(journal, unit).defects) == 60
    assert verify(journal.folder).is_whole
