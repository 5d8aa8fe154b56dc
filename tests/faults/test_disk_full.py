"""A full disk is told, acknowledges nothing, loses nothing, and the record goes on when there is room."""

import contextlib
import sqlite3

import pytest

from qc.store.checking.verify import verify
from qc.store.intake import writer
from qc.store.intake.journal import Journal, StorageFailed, StorageFull, WriterClosed
from tests.store.record_kit import PEOPLE, PLANT, TABLES, Clock, Phone, open_journal, story_of, unit_number


@pytest.fixture
def phone(tmp_path):
    with open_journal(tmp_path) as journal:
        yield Phone(journal)


def record_until_full(phone, unit):
    for _ in range(10_000):
        phone.make(
            "defect_recorded",
            "I1",
            unit,
            point="D01",
            zone="front.gas",
            type="EXT-01",
            severity="minor",
            note="x" * 900,
        )
        unsent = list(phone.unsent)
        try:
            phone.send()
        except StorageFull as full:
            return unsent, full
    raise AssertionError("the disk was never full")


def allow_pages(journal, pages):
    def limit(conn):
        (now,) = conn.execute("PRAGMA page_count").fetchone()
        conn.execute(f"PRAGMA max_page_count = {now + pages}")

    journal.write(limit)


def test_a_full_disk_is_told_and_what_was_sent_can_be_sent_again(phone):
    unit = phone.plan()
    allow_pages(phone.journal, 20)
    unsent, full = record_until_full(phone, unit)
    stored = len(story_of(phone.journal, unit).defects)

    assert "stays on the phone" in str(full)
    assert stored == phone.seq - 2
    phone.unsent = list(unsent)
    with pytest.raises(StorageFull):
        phone.send()
    allow_pages(phone.journal, 1000)
    phone.unsent = list(unsent)
    assert [one.verdict for one in phone.send()] == ["applied"]
    assert len(story_of(phone.journal, unit).defects) == stored + 1


def test_nothing_else_of_a_full_disks_group_is_acknowledged(phone):
    """Requests that share the transaction fail with it: none of them is on disk."""
    allow_pages(phone.journal, 5)
    kept = []

    def small(conn):
        conn.execute("CREATE TABLE IF NOT EXISTS kept (a)")
        kept.append(1)

    def large(conn):
        conn.execute(
            "CREATE TABLE large AS WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n"
            " WHERE i < 1000) SELECT hex(zeroblob(500)) AS a FROM n"
        )

    record = phone.journal._writer
    with record._gate:  # hold the door, so that both wait together
        blocker = writer.Future()
        record._queue.put((lambda conn: blocker.result(), writer.Future()))
    first, second = record.submit(small), record.submit(large)
    blocker.set_result(None)

    for future in (first, second):
        with pytest.raises(StorageFull):
            future.result(5)
    assert kept == [1]
    tables = phone.journal.write(lambda conn: conn.execute("SELECT name FROM sqlite_master").fetchall())
    assert ("kept",) not in tables


def test_a_failed_disk_acknowledges_nothing_and_the_record_is_opened_again(phone):
    unit = phone.plan()

    def failing(conn):
        conn.execute("UPDATE unit SET alarm = 'written'")
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR_FSYNC
        raise error

    before = phone.journal._writer._conn
    with pytest.raises(StorageFailed, match="nothing was acknowledged"):
        phone.journal.write(failing)

    assert phone.journal._writer._conn is not before
    assert story_of(phone.journal, unit).alarm == ""
    assert phone.journal.write(lambda conn: conn.execute("SELECT alarm FROM unit").fetchone()) == ("",)
    phone.must("station_passed", "I1", unit, station="S01")


def test_a_commit_that_fails_acknowledges_nothing(phone, monkeypatch):
    unit = phone.plan()
    record = phone.journal._writer

    class Failing:
        """The connection, with a COMMIT whose sync fails."""

        def __init__(self, conn):
            self._conn = conn

        def execute(self, statement, *values):
            if statement == "COMMIT":
                error = sqlite3.OperationalError("disk I/O error")
                error.sqlite_errorcode = sqlite3.SQLITE_IOERR_FSYNC
                raise error
            return self._conn.execute(statement, *values)

        def __getattr__(self, name):
            return getattr(self._conn, name)

    monkeypatch.setattr(record, "_conn", Failing(record._conn))
    made = phone.make("station_passed", "I1", unit, station="S01")
    again = list(phone.unsent)
    with pytest.raises(StorageFailed):
        phone.send()

    phone.unsent = again
    (verdict,) = phone.send()
    assert (verdict.id, verdict.verdict) == (made["id"], "applied")


def test_a_disk_that_stays_gone_leaves_nobody_waiting_and_is_back_when_it_is(phone, monkeypatch):
    def gone(path):
        raise sqlite3.OperationalError("unable to open database file")

    def failing(conn):
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR
        raise error

    monkeypatch.setattr(writer, "open_writer", gone)
    record = phone.journal._writer
    first = record.submit(failing)
    with pytest.raises(StorageFailed):
        first.result(5)
    with pytest.raises(StorageFailed, match="cannot be written since"):
        record.submit(lambda conn: None).result(5)
    assert phone.journal.away_seconds() > 0

    monkeypatch.undo()
    phone.plan()
    assert phone.journal.away_seconds() == 0


def test_a_foreign_lock_of_longer_than_the_writer_waits_is_outlived(phone, monkeypatch):
    """Once pushes were answered 503 until the server was started again."""
    phone.plan()
    phone.journal.write(lambda conn: conn.execute("PRAGMA busy_timeout = 50"))
    opened = writer.open_writer

    def impatient(path):
        conn = opened(path)
        conn.execute("PRAGMA busy_timeout = 50")
        return conn

    monkeypatch.setattr(writer, "open_writer", impatient)
    with contextlib.closing(sqlite3.connect(phone.journal.folder / "record.sqlite", isolation_level=None)) as foreign:
        foreign.execute("BEGIN IMMEDIATE")
        for _ in range(3):
            with pytest.raises(StorageFailed):
                phone.journal.write(lambda conn: None)
        foreign.execute("ROLLBACK")

    phone.plan(30002)
    assert phone.journal.away_seconds() == 0
    assert verify(phone.journal.folder).is_whole


def test_a_failed_sync_while_somebody_reads_is_outlived(phone, monkeypatch):
    """Writing through waits for readers; once they are gone the record opens again by itself."""
    phone.plan()
    opened = writer.open_writer

    def impatient(path):
        conn = opened(path)
        conn.execute("PRAGMA busy_timeout = 50")
        return conn

    def failing(conn):
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR_FSYNC
        raise error

    monkeypatch.setattr(writer, "open_writer", impatient)
    with contextlib.closing(sqlite3.connect(phone.journal.folder / "record.sqlite", isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM journal").fetchone()
        phone.plan(30002)
        with pytest.raises(StorageFailed):
            phone.journal.write(failing)
        with pytest.raises(StorageFailed, match=r"cannot be written since .* UTC"):
            phone.journal.write(lambda conn: None)
        reader.execute("COMMIT")

    phone.plan(30003)
    assert phone.journal.away_seconds() == 0


def test_a_fault_of_the_program_in_the_writer_leaves_nobody_waiting(phone, monkeypatch):
    """A writer's thread that ends by it would leave each later request without an answer for ever."""

    def broken(self, conn, group):
        raise TypeError("a fault that nobody foresaw")

    phone.plan()
    with monkeypatch.context() as patched:
        patched.setattr(writer.Writer, "_settle", broken)
        waiting = phone.journal._writer.submit(lambda conn: None)
        with pytest.raises(StorageFailed, match="a fault of its own"):
            waiting.result(timeout=10)

    phone.plan(30002)
    assert phone.journal.away_seconds() == 0


def test_after_a_failed_sync_all_that_the_memory_holds_is_written_through(phone):
    """Else the kernel may call pages clean that never reached the disk, and a later sync would skip them."""
    phone.plan()

    def failing(conn):
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR_FSYNC
        raise error

    with pytest.raises(StorageFailed):
        phone.journal.write(failing)

    data = (phone.journal.folder / "record.sqlite").read_bytes()
    assert unit_number().encode() in data


def test_a_closed_record_takes_nothing(tmp_path):
    journal = open_journal(tmp_path)
    journal.close()
    journal.close()

    with pytest.raises(WriterClosed):
        Phone(journal).do("station_passed", "I1", unit_number(), station="S01")


def test_a_request_that_fails_takes_no_other_with_it(phone):
    def wrong(conn):
        conn.execute("CREATE TABLE half (a)")
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        phone.journal.write(wrong)
    with pytest.raises(sqlite3.OperationalError, match="no such table"):
        phone.journal.write(lambda conn: conn.execute("SELECT * FROM half"))
    phone.plan()


def test_a_push_that_fails_halfway_leaves_the_chain_as_it_was(tmp_path):
    """What was remembered of the chain's head is forgotten with the rows that were undone."""
    asked = []

    def people(code):
        asked.append(code)
        if code == "I2" and asked.count("I2") == 1:
            raise RuntimeError("the list of people cannot be read")
        return PEOPLE.get(code)

    with Journal(tmp_path, PLANT, TABLES, Clock(), people) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        phone.make("station_passed", "I1", unit, station="S01")
        phone.make("station_passed", "I2", unit, station="S02")
        again = list(phone.unsent)
        with pytest.raises(RuntimeError, match="list of people"):
            phone.send()
        phone.unsent = again

        assert [(one.verdict, one.number) for one in phone.send()] == [("applied", 2), ("applied", 3)]
    assert verify(tmp_path).is_whole
