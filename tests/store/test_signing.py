"""Each frozen release is signed with Ed25519 by a key outside the record; a new key is vouched for by the old one."""

from contextlib import closing

import orjson
import pytest

from qc.store.checking.verify import verify
from qc.store.keeping.lost_keys import NothingLost, replace_lost_keys
from qc.store.record.connection import open_reader
from qc.store.record.signing import KeyLost, is_signed, message_of
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


@pytest.mark.parametrize("part", ["release", "unit", "digest"])
def test_a_signature_is_over_release_unit_and_digest(part):
    values = {"release": "r", "unit": "u", "digest": "d"}

    assert message_of(*values.values()) != message_of(*{**values, part: "x"}.values())
