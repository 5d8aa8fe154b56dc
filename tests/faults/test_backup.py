"""A backup counts once it is verified, is made while the server goes on, and restores to all that it held."""

import resource
import shutil
import signal
from contextlib import closing

import pytest
from click.testing import CliRunner

from qc.cli import main
from qc.store.checking.verify import verify
from qc.store.keeping import backup
from qc.store.keeping.backup import NotABackup, PlaceTaken, back_up, drill, restore
from qc.store.record.connection import open_reader
from tests.faults.test_verify import by_hand, record, whole  # noqa: F401 - fixtures
from tests.store.record_kit import Phone, open_journal


def epoch(folder):
    with closing(open_reader(folder / "record.sqlite")) as conn:
        return conn.execute("SELECT value FROM store_setting WHERE name = 'server_epoch'").fetchone()[0]


def rows(folder):
    with closing(open_reader(folder / "record.sqlite")) as conn:
        return [tuple(row) for row in conn.execute("SELECT * FROM journal ORDER BY number")]


def test_a_backup_of_a_served_folder_restores_to_all_that_it_held(record, tmp_path):  # noqa: F811
    with open_journal(record) as journal:
        copied = back_up(record, tmp_path / "copy")
        Phone(journal, "P8").plan(30008)
    restored = restore(tmp_path / "copy", tmp_path / "again")

    assert rows(tmp_path / "again") == rows(record)[:-1]
    assert (copied.operations, copied.photos) == (restored.operations, restored.photos) == (38, 1)
    assert copied.head == rows(tmp_path / "again")[-1][-1].hex()
    assert verify(tmp_path / "again").is_whole


def test_a_restored_record_has_a_new_epoch_and_takes_again_what_phones_kept(record, tmp_path):  # noqa: F811
    back_up(record, tmp_path / "copy")
    with open_journal(record) as journal:
        phone = Phone(journal, "P8")
        phone.make("unit_planned", "PL1", **PLANNED)
        kept = list(phone.unsent)
        phone.send()
    restore(tmp_path / "copy", tmp_path / "again")
    shutil.copytree(record / "keys", tmp_path / "again" / "keys")  # kept apart, put back

    assert epoch(tmp_path / "copy") == epoch(record)
    assert epoch(tmp_path / "again") != epoch(record)
    with open_journal(tmp_path / "again") as journal:
        phone.journal, phone.unsent = journal, kept
        assert [one.verdict for one in phone.send()] == ["applied"]


PLANNED = {
    "unit": "0PC7T3600TW030008",
    "model": "T36",
    "shop_number": "PC7130008",
    "sequence": 30008,
    "planned_day": "2026-03-02",
}


def test_the_keys_are_in_no_backup(record, tmp_path):  # noqa: F811
    assert (record / "keys" / "release.key").exists()

    back_up(record, tmp_path / "copy")

    assert sorted(path.name for path in (tmp_path / "copy").iterdir()) == ["photos", "record.sqlite"]


def test_nothing_is_written_over(record, tmp_path):  # noqa: F811
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine").write_text("mine")

    for act in (back_up, restore):
        with pytest.raises(PlaceTaken, match="new or empty"):
            act(record, tmp_path / "full")
    assert (tmp_path / "full" / "mine").read_text() == "mine"


def test_a_changed_record_makes_no_backup(record, tmp_path):  # noqa: F811
    by_hand(record, "UPDATE journal SET author = 'I2' WHERE number = 5")

    with pytest.raises(NotABackup, match="row 5 was changed"):
        back_up(record, tmp_path / "copy")
    assert list(tmp_path.glob("copy*")) == []


def test_a_backup_that_decayed_is_not_restored(record, tmp_path):  # noqa: F811
    back_up(record, tmp_path / "copy")
    (photo,) = [path for path in (tmp_path / "copy" / "photos").rglob("*") if path.is_file()]
    photo.write_bytes(photo.read_bytes()[:-1])

    with pytest.raises(NotABackup, match="not the picture that was kept"):
        restore(tmp_path / "copy", tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_a_missing_photo_makes_no_backup(record, tmp_path):  # noqa: F811
    shutil.rmtree(record / "photos")

    with pytest.raises(NotABackup, match="missing"):
        back_up(record, tmp_path / "copy")


def test_a_drill_leaves_nothing_behind(record, tmp_path, monkeypatch):  # noqa: F811
    monkeypatch.setattr(backup.tempfile, "tempdir", str(tmp_path))
    before = sorted(path.name for path in tmp_path.iterdir())

    assert drill(record).operations == 38
    assert sorted(path.name for path in tmp_path.iterdir()) == before


def test_what_a_broken_off_copy_left_is_in_nobodys_way(record, tmp_path):  # noqa: F811
    (tmp_path / "copy.making").mkdir()
    (tmp_path / "copy.making" / "half").write_text("half")

    assert back_up(record, tmp_path / "copy").operations > 0
    assert [path.name for path in tmp_path.glob("copy.*")] == ["copy.making"]


def test_a_copy_is_the_server_account_s_alone(record, tmp_path):  # noqa: F811
    back_up(record, tmp_path / "copy")

    modes = {path: path.stat().st_mode & 0o777 for path in [tmp_path / "copy", *(tmp_path / "copy").rglob("*")]}
    assert {mode for path, mode in modes.items() if path.is_dir()} == {0o700}
    assert {mode for path, mode in modes.items() if path.is_file()} == {0o600}


def test_a_full_disk_breaks_a_copy_off_in_words_and_leaves_nothing(record, tmp_path, monkeypatch):  # noqa: F811
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("qc.store.keeping.backup._copy_photos", full)

    with pytest.raises(NotABackup, match="No space left"):
        back_up(record, tmp_path / "copy")
    assert list(tmp_path.glob("copy*")) == []


def test_a_disk_that_fills_as_the_record_is_copied_is_not_blamed_on_the_record(record, tmp_path):  # noqa: F811
    """The limit on a file's size stands for the full disk: SQLite meets it as it writes the copy."""
    held = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, held[1]))
    try:
        with pytest.raises(NotABackup, match=f"could not be copied to {tmp_path} .*see that the disk there has room"):
            back_up(record, tmp_path / "copy")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, held)
        signal.signal(signal.SIGXFSZ, before)
    assert list(tmp_path.glob("copy*")) == []


def test_a_sqlite_too_old_for_the_record_is_told():
    from qc.store.record.connection import SettingRefused, require_sqlite

    with pytest.raises(SettingRefused, match=r"3\.31\.1, the record needs 3\.37\.0"):
        require_sqlite((3, 31, 1))


def test_the_command_says_what_to_hand_in_again_before_phones_reach_it(record, tmp_path):  # noqa: F811
    """What phones offer of people whose role came after the backup is refused for good."""
    back_up(record, tmp_path / "copy")

    told = CliRunner().invoke(main, ["restore", str(tmp_path / "copy"), str(tmp_path / "again")])

    assert told.exit_code == 0
    assert "give people again the roles that they were given since that backup" in told.output
    assert "work on units waits for their plans" in told.output
