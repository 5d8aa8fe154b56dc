"""The server's own backups: once a day, again after a failure, old ones taken away only once a new one is whole."""

import json
import os
import sqlite3
import threading
import time as clock_time
from contextlib import closing
from dataclasses import replace
from datetime import time
from zoneinfo import ZoneInfo

import pytest

from qc.domain.plant.backup_plan import BackupPlan
from qc.store.checking.verify import verify
from qc.store.keeping.backup import NOTED, last_backup
from qc.store.keeping.backup_rotation import copies_in, drop_old
from qc.web import own_backups
from qc.web.own_backups import AGAIN_MS, OwnBackups, copying
from tests.store.record_kit import Phone, open_journal

LONDON = ZoneInfo("Europe/London")
HOUR = 3_600_000


def mini_copy(target, epoch, size):
    """Make a copy of which no more is asked than whose it is and how far its chain goes."""
    target.mkdir(parents=True)
    with closing(sqlite3.connect(target / "record.sqlite", isolation_level=None)) as conn:
        conn.execute("CREATE TABLE store_setting (name, value)")
        conn.execute("CREATE TABLE journal (number)")
        conn.execute("INSERT INTO store_setting VALUES ('server_epoch', ?)", (epoch,))
        conn.executemany("INSERT INTO journal VALUES (?)", [(number,) for number in range(1, size + 1)])


class Kept:
    """A data folder with a record, a place for its copies, and a clock that begins now."""

    def __init__(self, tmp_path, keep=3):
        self.folder, self.copies = tmp_path / "plant", tmp_path / "copies"
        self.folder.mkdir()
        self.plan = BackupPlan(str(self.copies), time(2, 30), keep)
        self.now = clock_time.time_ns() // 1_000_000
        self.tried = []
        self.whole = True
        self.size = 0

    def copy(self, target):
        self.tried.append(target.name)
        if not self.whole:
            return False
        self.size += 1
        mini_copy(target, "ours", self.size)
        noted = {"at_ms": self.now, "target": str(target), "operations": 1, "head": "head"}
        (self.folder / NOTED).write_text(json.dumps(noted))
        return True

    def own(self, copy=None):
        return OwnBackups(self.folder, self.plan, LONDON, lambda: self.now, copy or self.copy)


@pytest.fixture
def kept(tmp_path):
    return Kept(tmp_path)


def test_it_is_made_at_once_where_there_is_none_and_once_a_day_from_then(kept):
    own = kept.own()

    assert own.look()
    assert not own.look()
    kept.now += 25 * HOUR
    assert own.look()
    assert len(copies_in(kept.copies)) == 2
    assert not kept.own().look()  # a server that starts again knows of it


def test_one_made_under_a_clock_that_was_ahead_keeps_no_later_one_waiting(kept):
    kept.now += 400 * 24 * HOUR
    assert kept.own().look()
    kept.now -= 399 * 24 * HOUR

    assert kept.own().look()
    assert not kept.own().look()


def test_after_a_failure_it_tries_again_in_an_hour_and_keeps_every_old_one(kept):
    own = kept.own()
    for _ in range(3):
        own.look()
        kept.now += 25 * HOUR
    kept.whole = False

    assert not own.look()
    assert not own.look()
    assert len(kept.tried) == 4
    assert len(copies_in(kept.copies)) == 3
    kept.now += AGAIN_MS
    kept.whole = True
    assert own.look()
    assert len(copies_in(kept.copies)) == 3  # the oldest went, once the new one was whole


def test_only_copies_of_its_own_name_are_taken_away(kept):
    for day in (1, 2, 3):
        mini_copy(kept.copies / f"record-2026-03-0{day}-023000", "ours", day)
    for name in ("record-2026-02-01-023000", "record-2026-03-01-023000.making", "record-old"):
        (kept.copies / name).mkdir()
    mini_copy(kept.copies / "my copy", "ours", 1)

    assert [one.name for one in drop_old(kept.copies / "record-2026-03-03-023000", 2)] == ["record-2026-03-01-023000"]
    left = {one.name for one in kept.copies.iterdir()}
    assert {"my copy", "record-2026-02-01-023000", "record-2026-03-01-023000.making", "record-old"} < left


def test_a_restored_folder_that_is_served_takes_no_copy_of_the_record_itself_away(kept):
    """It has the same settings; whose a copy is tells its epoch, which each restore gives anew."""
    kept.own().look()
    for _ in range(2):
        kept.now += 25 * HOUR
        kept.own().look()
    ours = copies_in(kept.copies)
    for hour in (1, 2, 3, 4):
        made = kept.copies / f"record-2099-01-01-0{hour}0000"
        mini_copy(made, "restored to look at", 90 + hour)
        drop_old(made, kept.plan.keep)

    assert set(ours) < set(copies_in(kept.copies))
    assert len(copies_in(kept.copies)) == 3 + 3


def test_copies_named_under_a_clock_that_was_ahead_do_not_drive_new_ones_out(kept):
    kept.now += 400 * 24 * HOUR
    for _ in range(3):
        assert kept.own().look()
        kept.now += 25 * HOUR
    ahead = copies_in(kept.copies)
    kept.now -= 401 * 24 * HOUR

    for many in (1, 2, 3):
        assert kept.own().look()
        assert len(set(copies_in(kept.copies)) - set(ahead)) == many  # each new one is there
        assert len(copies_in(kept.copies)) == 3
        assert last_backup(kept.folder).target in {str(one) for one in copies_in(kept.copies)}
        kept.now += 25 * HOUR


def test_one_that_cannot_be_read_any_more_is_left_for_somebody_to_look_at(kept):
    broken = kept.copies / "record-2026-01-01-023000"
    broken.mkdir(parents=True)
    (broken / "record.sqlite").write_bytes(b"noise" * 1_000)
    for _ in range(4):
        kept.own().look()
        kept.now += 25 * HOUR

    assert broken in copies_in(kept.copies)
    assert len(copies_in(kept.copies)) == 3 + 1


def test_what_a_power_cut_left_of_a_copy_is_taken_away_after_a_day(kept):
    left, young = (kept.copies / f"record-2026-03-0{day}-023000.ab_12{day}.making" for day in (1, 2))
    for one, hours in ((left, 25), (young, 1)):
        (one / "photos").mkdir(parents=True)
        told = kept.now / 1_000 - hours * 3_600
        os.utime(one, (told, told))

    assert kept.own().look()

    assert not left.exists()
    assert young.exists()


def test_a_copy_is_the_programs_own_verified_backup_and_what_failed_is_noted(tmp_path):
    kept = Kept(tmp_path)
    with open_journal(kept.folder) as journal:
        Phone(journal).plan()
        assert kept.own(copying(kept.folder)).look()  # while the record is open for writing
    (copied,) = copies_in(kept.copies)

    assert verify(copied).is_whole
    assert last_backup(kept.folder).target == str(copied)
    kept.copies.rename(tmp_path / "gone")
    kept.copies.write_text("a file where the folder was")
    kept.now += 25 * HOUR
    assert not kept.own(copying(kept.folder)).look()
    assert last_backup(kept.folder).failed


def test_a_disk_that_is_gone_ends_nothing(kept, monkeypatch, caplog):
    def gone(target):
        raise OSError("no such device")

    monkeypatch.setattr(own_backups, "LOOK_SECONDS", 0.01)
    stopping = threading.Event()
    own = kept.own(gone)
    own.start(stopping)
    for _ in range(500):
        if "no such device" in caplog.text:
            break
        clock_time.sleep(0.01)
    stopping.set()

    assert "the backup folder cannot be used: no such device" in caplog.text
    assert not own.is_due()  # for an hour


def test_who_keeps_the_server_sees_what_is_wrong_with_its_backups(server):
    house = server.house
    house.plant = replace(house.plant, backup=BackupPlan("/srv/copies", time(2, 30), 3))
    noted = {"at_ms": clock_time.time_ns() // 1_000_000, "target": "/srv/copies/a", "operations": 1, "head": ""}
    pages = {role: server.page(role) for role in ("administrator", "quality_manager", "inspector")}

    def told():
        return [role for role, page in pages.items() if "Backups." in page.get("/units").text]

    assert told() == ["administrator", "quality_manager"]
    assert "No backup was made yet" in pages["administrator"].get("/units").text
    (house.folder / NOTED).write_text(json.dumps(noted))
    assert told() == []
    (house.folder / NOTED).write_text(json.dumps({**noted, "failed": "no space left"}))
    assert "The last try failed: no space left" in pages["quality_manager"].get("/units").text
    (house.folder / NOTED).write_text(json.dumps({**noted, "at_ms": noted["at_ms"] - 72 * HOUR}))
    assert "is 3.0 days old" in pages["quality_manager"].get("/units").text


def test_the_health_address_says_whether_the_record_can_be_written(server, monkeypatch):
    client = server.client()
    assert (client.get("/health").status_code, client.get("/health").text) == (200, "the record can be written\n")

    monkeypatch.setattr(server.house.journal, "away_seconds", lambda: 12.0)
    answer = client.get("/health")
    assert (answer.status_code, answer.text) == (503, "the record could not be written for 12 s\n")
