"""Each frozen release is signed with Ed25519 by a key outside the record; a new key is vouched for by the old one."""

import errno
import os
import shutil
from contextlib import closing

import orjson
import pytest

from qc.store.checking.verify import verify
from qc.store.intake import journal as journals
from qc.store.keeping.backup import back_up, restore
from qc.store.keeping.lost_keys import NothingLost, replace_lost_keys
from qc.store.record import signing
from qc.store.record.connection import open_reader
from qc.store.record.key_file import write_key
from qc.store.record.signing import KeyLost, is_signed, key_id_in, message_of
from tests.store.record_kit import PLANT, TABLES, Phone, open_journal


def released(journal, sequence):
    phone = Phone(journal, f"P{sequence}")
    unit = phone.plan(sequence)
    phone.test_all(unit)
    phone.look(unit)
    assert phone.sign(unit).verdict == "applied"


def keys_of_signatures(folder):
    with closing(open_reader(folder / "record.sqlite")) as conn:
        query = "SELECT key_id FROM release_signature AS s JOIN release_record AS r ON r.id = s.release ORDER BY number"
        return [row[0] for row in conn.execute(query)]


def test_a_signature_of_another_program_verifies_and_a_changed_message_does_not():
    """RFC 8032, 7.1, test 2: public key, message and signature as printed there (from memory)."""
    public = bytes.fromhex("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c")
    signature = bytes.fromhex(
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )

    assert is_signed(public, signature, b"\x72")
    assert not is_signed(public, signature, b"\x73")
    assert not is_signed(b"", signature, b"\x72")


def test_the_key_is_made_with_the_record_and_only_its_owner_reads_it(tmp_path):
    with open_journal(tmp_path):
        pass

    assert (tmp_path / "keys" / "release.key").stat().st_mode & 0o777 == 0o600


def test_the_same_key_signs_after_the_server_starts_again(tmp_path):
    for sequence in (30001, 30002):
        with open_journal(tmp_path) as journal:
            released(journal, sequence)

    one, two = keys_of_signatures(tmp_path)
    assert one == two
    assert verify(tmp_path).is_whole


def test_a_new_key_is_vouched_for_and_old_signatures_go_on_verifying(tmp_path):
    with open_journal(tmp_path) as journal:
        released(journal, 30001)
        new = journal.change_release_key()
        released(journal, 30002)

    old, now = keys_of_signatures(tmp_path)
    report = verify(tmp_path)
    assert (now, old != now) == (new, True)
    assert (report.is_whole, len(report.notes)) == (True, 1), report
    assert (tmp_path / "keys" / f"release.key.{old}").exists()


def test_a_lost_key_stops_the_record_and_has_a_way_on_that_is_told(tmp_path):
    with open_journal(tmp_path) as journal:
        released(journal, 30001)
    (tmp_path / "keys" / "release.key").unlink()
    with pytest.raises(KeyLost, match="qc new-keys"):
        open_journal(tmp_path)

    made = replace_lost_keys(tmp_path, PLANT, TABLES)
    with open_journal(tmp_path) as journal:
        released(journal, 30002)

    old, now = keys_of_signatures(tmp_path)
    assert (now, old != now) == (made.key_id, True)
    report = verify(tmp_path)
    assert report.is_whole, report
    assert "came without the word of the one before it" in report.notes[-1]
    with closing(open_reader(tmp_path / "record.sqlite")) as conn:
        ((author, told),) = conn.execute("SELECT author, bytes FROM journal WHERE kind = 'key_changed'").fetchall()
    assert (author, orjson.loads(told)["body"]["key_id"]) == ("SERVER", now)
    with pytest.raises(NothingLost):
        replace_lost_keys(tmp_path, PLANT, TABLES)


def test_the_keys_of_another_plant_are_refused_and_leave_the_record_whole(tmp_path):
    for plant in ("ours", "theirs"):
        with open_journal(tmp_path / plant) as journal:
            released(journal, 30001)
    back_up(tmp_path / "ours", tmp_path / "backup")
    again = restore(tmp_path / "backup", tmp_path / "again").folder
    shutil.copytree(tmp_path / "theirs" / "keys", again / "keys")
    foreign = key_id_in(again / "keys")

    with pytest.raises(KeyLost, match=f"{foreign}, which is none of this record's"):
        open_journal(again)

    shutil.rmtree(again / "keys")
    shutil.copytree(tmp_path / "ours" / "keys", again / "keys")
    with open_journal(again) as journal:
        released(journal, 30002)
    assert verify(again).is_whole
    assert back_up(again, tmp_path / "next").operations


def test_where_another_plants_key_is_all_there_is_new_keys_go_on_and_keep_it(tmp_path):
    with open_journal(tmp_path) as journal:
        released(journal, 30001)
    (tmp_path / "keys" / "release.key").unlink()
    write_key(tmp_path / "keys" / "release.key", bytes(range(32)))
    foreign = key_id_in(tmp_path / "keys")

    made = replace_lost_keys(tmp_path, PLANT, TABLES)

    assert key_id_in(tmp_path / "keys") == made.key_id != foreign
    assert (tmp_path / "keys" / f"release.key.{foreign}").read_bytes() == bytes(range(32))
    open_journal(tmp_path).close()
    assert verify(tmp_path).is_whole


def test_a_backup_of_before_a_change_of_the_key_goes_on_with_the_key_of_then(tmp_path):
    with open_journal(tmp_path / "ours") as journal:
        released(journal, 30001)
    then = key_id_in(tmp_path / "ours" / "keys")
    back_up(tmp_path / "ours", tmp_path / "backup")
    with open_journal(tmp_path / "ours") as journal:
        now = journal.change_release_key()
    again = restore(tmp_path / "backup", tmp_path / "again").folder
    shutil.copytree(tmp_path / "ours" / "keys", again / "keys")

    with open_journal(again) as journal:
        released(journal, 30002)

    assert keys_of_signatures(again) == [then, then]
    assert (again / "keys" / f"release.key.{now}").exists()
    assert verify(again).is_whole


class _Out(BaseException):
    """The machine went out."""


def _goes_out(*_args, **_named):
    raise _Out


@pytest.mark.parametrize("at", [(signing, "write_key"), (journals.Journal, "_tell_key"), (os, "replace")], ids=str)
def test_a_change_of_the_key_that_is_cut_short_comes_to_nothing(tmp_path, monkeypatch, at):
    with open_journal(tmp_path) as journal:
        released(journal, 30001)
    (key,) = keys_of_signatures(tmp_path)
    with open_journal(tmp_path) as journal, monkeypatch.context() as patched:
        patched.setattr(*at, _goes_out)
        with pytest.raises(_Out):
            journal.change_release_key()

    with open_journal(tmp_path) as journal:
        released(journal, 30002)
        new = journal.change_release_key()
        released(journal, 30003)

    assert keys_of_signatures(tmp_path) == [key, key, new]
    assert verify(tmp_path).is_whole


@pytest.mark.parametrize("at", [(signing, "write_key"), (journals.Journal, "_tell_key")], ids=str)
def test_new_keys_that_are_cut_short_are_made_again(tmp_path, monkeypatch, at):
    with open_journal(tmp_path) as journal:
        released(journal, 30001)
    (tmp_path / "keys" / "release.key").unlink()
    with monkeypatch.context() as patched:
        patched.setattr(*at, _goes_out)
        with pytest.raises(_Out):
            replace_lost_keys(tmp_path, PLANT, TABLES)

    made = replace_lost_keys(tmp_path, PLANT, TABLES)

    open_journal(tmp_path).close()
    report = verify(tmp_path)
    assert report.is_whole, report
    assert key_id_in(tmp_path / "keys") == made.key_id


def test_half_a_key_of_a_record_that_never_had_one_is_made_anew(tmp_path):
    (tmp_path / "keys").mkdir()
    (tmp_path / "keys" / "release.key").touch()

    with open_journal(tmp_path) as journal:
        released(journal, 30001)

    assert verify(tmp_path).is_whole


def test_half_a_key_of_a_record_that_knows_it_is_told(tmp_path):
    open_journal(tmp_path).close()
    (tmp_path / "keys" / "release.key").write_bytes(b"half")

    with pytest.raises(KeyLost, match="cannot be read as the key"):
        open_journal(tmp_path)


def test_what_can_be_read_as_no_key_keeps_its_bytes_beside_each_new_one(tmp_path):
    open_journal(tmp_path).close()
    for half in (b"half", b"another half"):
        (tmp_path / "keys" / "release.key").write_bytes(half)
        replace_lost_keys(tmp_path, PLANT, TABLES)

    kept = {one.read_bytes() for one in (tmp_path / "keys").glob("release.key.unreadable*")}
    assert kept == {b"half", b"another half"}


def test_a_full_disk_leaves_no_half_key(tmp_path, monkeypatch):
    def full(_handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_key(tmp_path / "keys" / "release.key", bytes(32))

    assert list((tmp_path / "keys").iterdir()) == []


@pytest.mark.parametrize("links", [True, False], ids=["links", "no links"])
def test_a_key_is_never_written_over(tmp_path, monkeypatch, links):
    def none(*_):
        raise OSError(errno.EPERM, "Operation not permitted")

    if not links:
        monkeypatch.setattr(os, "link", none)
    write_key(tmp_path / "key", b"first")
    with pytest.raises(FileExistsError):
        write_key(tmp_path / "key", b"second")

    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("key", b"first")]
    assert (tmp_path / "key").stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("part", ["release", "unit", "digest"])
def test_a_signature_is_over_release_unit_and_digest(part):
    values = {"release": "r", "unit": "u", "digest": "d"}

    assert message_of(*values.values()) != message_of(*{**values, part: "x"}.values())
