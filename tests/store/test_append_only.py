"""The journal and the frozen releases cannot be changed through SQL, not even by replacing a row."""

import sqlite3
from contextlib import closing

import pytest

from qc.store.record.connection import open_reader, open_writer
from tests.store.record_kit import Phone, open_journal


@pytest.fixture
def record(tmp_path):
    with open_journal(tmp_path) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        phone.look(unit)
        phone.test_all(unit)
        assert phone.sign(unit).verdict == "applied"
    return tmp_path / "record.sqlite"


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE journal SET author = 'X' WHERE number = 1",
        "DELETE FROM journal WHERE number = 1",
        "REPLACE INTO journal SELECT * FROM journal WHERE number = 1",
        "INSERT OR REPLACE INTO journal SELECT * FROM journal WHERE number = 1",
        (
            "INSERT OR REPLACE INTO journal SELECT number + 1000, id, device, install_epoch, seq, kind, unit, author,"
            " author_standing, happened_ms, received_ms, clock_suspect, admission, plant_revision, rules, bytes,"
            " previous, hash FROM journal WHERE number = 1"
        ),
        "UPDATE OR REPLACE journal SET number = 1 WHERE number = 2",
        "INSERT INTO journal SELECT * FROM journal WHERE number = 1 ON CONFLICT DO UPDATE SET author = 'X'",
        "UPDATE release_record SET signed_by = 'X'",
        "DELETE FROM release_record",
        "INSERT OR REPLACE INTO release_record SELECT * FROM release_record",
    ],
)
def test_no_statement_changes_a_row(record, statement):
    with closing(open_writer(record)) as conn:
        before = conn.execute("SELECT * FROM journal ORDER BY number").fetchall()

        with pytest.raises(sqlite3.IntegrityError, match=r"append-only|frozen"):
            conn.execute(statement.replace("= 1 ON CONFLICT", "= 1 AND true ON CONFLICT"))

        assert conn.execute("SELECT * FROM journal ORDER BY number").fetchall() == before


def test_without_recursive_triggers_a_row_would_be_replaced(record):
    """The setting is what holds: this is the fault that the test above would find."""
    with closing(open_writer(record)) as conn:
        conn.execute("PRAGMA recursive_triggers = OFF")

        conn.execute("INSERT OR REPLACE INTO journal SELECT * FROM journal WHERE number = 1")


def test_a_reader_cannot_write(record):
    with closing(open_reader(record)) as conn, pytest.raises(sqlite3.OperationalError, match="readonly"):
        conn.execute("DELETE FROM dirty_day")


def test_a_reader_that_takes_too_long_is_stopped(record):
    forever = "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT count(*) FROM n"

    with closing(open_reader(record, 0.05)) as conn, pytest.raises(sqlite3.OperationalError, match="interrupted"):
        conn.execute(forever)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("journal_mode", "wal"),
        ("synchronous", 2),
        ("temp_store", 2),
        ("foreign_keys", 1),
        ("recursive_triggers", 1),
        ("trusted_schema", 0),
        ("busy_timeout", 5000),
    ],
)
def test_the_writer_has_the_settings_that_the_promises_rest_on(tmp_path, name, value):
    with open_journal(tmp_path) as journal:
        assert journal.write(lambda conn: conn.execute(f"PRAGMA {name}").fetchone()) == (value,)


def test_a_setting_that_does_not_hold_is_told(tmp_path, monkeypatch):
    from qc.store.record import connection

    monkeypatch.setitem(connection._WRITER, "synchronous", 7)

    with pytest.raises(connection.SettingRefused, match="synchronous"):
        open_writer(tmp_path / "record.sqlite")
