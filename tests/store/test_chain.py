"""The chain: a row's hash changes with anything in it, and with where one value ends and the next begins."""

import hashlib

import pytest

from qc.store.record.chain import GENESIS, HASHED_COLUMNS, row_hash
from tests.store.record_kit import Phone, open_journal

ROW = (1, "id", "P1", "e1", 1, "kind", "unit", "I1", "inspector", 5, 6, 0, "", "rev", 1, b"{}")


def test_every_column_of_the_journal_but_the_hash_itself_is_hashed(tmp_path):
    with open_journal(tmp_path) as journal:
        columns = journal.write(lambda c: [row[1] for row in c.execute("PRAGMA table_info (journal)")])

    assert {*HASHED_COLUMNS, "previous", "hash"} == set(columns)


@pytest.mark.parametrize("place", range(len(ROW)))
def test_a_change_in_any_column_changes_the_hash(place):
    value = ROW[place]
    other = value + 1 if isinstance(value, int) else value + (b"x" if isinstance(value, bytes) else "x")

    assert row_hash(GENESIS, (*ROW[:place], other, *ROW[place + 1 :])) != row_hash(GENESIS, ROW)


def test_values_that_join_to_the_same_bytes_are_told_apart():
    assert row_hash(GENESIS, ("P1", "2")) != row_hash(GENESIS, ("P", "12"))
    assert row_hash(GENESIS, (None,)) != row_hash(GENESIS, ("",))


def test_the_hash_is_what_another_program_computes():
    """By the words of the docstring, with SHA-256 (FIPS 180-4) from the standard library."""
    wanted = hashlib.sha256(
        b"\x00" + bytes(32) + (2).to_bytes(8) + b"P1" + (2**64 - 1).to_bytes(8) + (1).to_bytes(8) + b"7"
    ).digest()

    assert row_hash(bytes(32), ("P1", None, 7)) == wanted


def test_each_row_holds_the_hash_before_it_and_the_bytes_as_they_came(tmp_path):
    with open_journal(tmp_path) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        phone.make("station_passed", "I1", unit, station="S01")
        (sent, _), *_ = phone.unsent
        phone.send()
        rows = journal.write(lambda c: c.execute("SELECT bytes, previous, hash FROM journal").fetchall())

    assert rows[0][1] == GENESIS
    assert rows[1][1] == rows[0][2]
    assert rows[1][0] == sent
