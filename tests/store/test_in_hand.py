"""Units are kept folded between pushes: the same as folded anew, however few are kept and whatever was undone."""

import sqlite3
from contextlib import closing

import pytest

from qc.domain.acts.unit import folded, record_of
from qc.store.intake import in_hand, settling
from qc.store.intake.journal import Journal
from qc.store.intake.rebuild import rebuild
from qc.store.record.events import events_of
from qc.store.tables import derived_rows
from qc.store.tables.migrations import PROJECTION_TABLES
from tests.store.random_days import a_random_day
from tests.store.record_kit import PLANT, Phone, open_journal, story_of

DEFECT = {"point": "D01", "zone": "nearside.door", "type": "EXT-01", "severity": "minor"}


def tables(folder):
    with closing(sqlite3.connect(folder / "record.sqlite")) as conn:
        return {name: sorted(conn.execute(f"SELECT * FROM {name}"), key=repr) for name in PROJECTION_TABLES}


def kept(journal):
    """Return the units that the journal's door has in hand."""
    return dict(journal._door._settler._hand._units)


@pytest.mark.parametrize("seed", range(4))
def test_a_unit_in_hand_is_the_unit_that_its_operations_tell(tmp_path, seed):
    with open_journal(tmp_path) as journal:
        day = a_random_day(journal, seed, 160)
        held = kept(journal)
        anew = journal.write(lambda conn: {unit: events_of(conn, unit, journal._revisions.of) for unit in day.units})

    assert set(held) == set(day.units)
    for unit, events in anew.items():
        assert record_of(held[unit]) == record_of(folded(unit, events)[0])
        assert not any(room.before for room in (held[unit].defects, held[unit].inspections, held[unit].tests))


def test_with_room_for_one_unit_the_tables_are_the_same(tmp_path, monkeypatch):
    monkeypatch.setattr(in_hand, "UNITS", 1)
    with open_journal(tmp_path) as journal:
        a_random_day(journal, 3, 160)
        assert len(kept(journal)) == 1
    grown = tables(tmp_path)
    monkeypatch.setattr(in_hand, "UNITS", 256)
    rebuild(tmp_path, PLANT)

    assert tables(tmp_path) == grown


def failing_push(journal, phone, unit, monkeypatch):
    """Push a defect, a note and a mute that are undone when they are written; return what was pushed."""
    made = phone.make("defect_recorded", "I1", unit, **DEFECT)
    signal = {"station": "S07", "type": "PAN-06", "direction": "up"}
    phone.make("signal_muted", "QM1", None, **signal, reason="a jig is ordered", until="2026-03-30")
    held = list(phone.unsent)
    with monkeypatch.context() as broken:
        broken.setattr(derived_rows, "mark_dirty", lambda conn, days: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            phone.send()
    phone.unsent = held
    return made["id"]


def test_what_was_undone_leaves_no_trace(tmp_path, monkeypatch):
    with open_journal(tmp_path) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        defect = failing_push(journal, phone, unit, monkeypatch)

        assert story_of(journal, unit).defects == ()
        other = Phone(journal, "P2")
        assert other.do("origin_suspected", "I1", unit, defect=defect, station="S07")[1].verdict == "parked"
        assert [one.verdict for one in phone.send()] == ["applied", "applied"]
        assert [one.origin.suspected for one in story_of(journal, unit).defects] == ["S07"]
    grown = tables(tmp_path)
    rebuild(tmp_path, PLANT)
    assert tables(tmp_path) == grown


def test_a_door_that_keeps_what_was_undone_is_found(tmp_path, monkeypatch):
    """The test before this one can fail: planted, the door forgets nothing."""
    monkeypatch.setattr(Journal, "_forget", lambda self: None)
    with open_journal(tmp_path) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        failing_push(journal, phone, unit, monkeypatch)

        assert kept(journal)[unit].defects


def test_plans_of_one_push_are_held_against_each_other(tmp_path):
    with open_journal(tmp_path) as journal:
        phone = Phone(journal)
        phone.plan()
        body = {"model": "T36", "shop_number": "PC7130002", "sequence": 30002, "planned_day": "2026-03-02"}
        for _ in range(2):
            phone.make("unit_planned", "PL1", "0PC7T3600TW030002", **body)

        assert [one.code for one in phone.send()] == ["", "unit_exists"]


def test_a_release_is_judged_from_the_operations_and_not_from_the_unit_in_hand(tmp_path, monkeypatch):
    with open_journal(tmp_path) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        phone.must("defect_recorded", "I1", unit, **DEFECT)
        kept(journal)[unit].defects.clear()

        assert phone.sign(unit).code == "release_blocked"


def test_a_kind_of_the_line_that_names_a_unit_changes_nothing_there(tmp_path):
    note = {"station": "S07", "change": "tool", "what": "a new jig", "from_day": "2026-03-02"}
    with open_journal(tmp_path) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        before = story_of(journal, unit)
        phone.must("change_noted", "QM1", unit, **note)

        assert story_of(journal, unit) == before
    assert settling.KINDS["change_noted"].on_unit is False


def test_a_unit_that_nobody_planned_is_looked_for_once_and_can_still_be_planned(tmp_path, monkeypatch):
    """What waits for its plan grows the journal: read at each operation, a phone with a wrong number would slow all."""
    asked = []
    monkeypatch.setattr(in_hand, "events_of", lambda *given: asked.append(given) or events_of(*given))
    with open_journal(tmp_path) as journal:
        phone, unit = Phone(journal), "0PC7T3600TW030001"
        for _ in range(5):
            phone.make("defect_recorded", "I1", unit, **DEFECT)
        assert {one.verdict for one in phone.send()} == {"parked"}
        phone.plan()
        phone.must("defect_recorded", "I1", unit, **DEFECT)
        assert len(asked) == 1
        assert len(story_of(journal, unit).defects) == 6
