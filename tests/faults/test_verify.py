"""Verify finds what was changed by hand or by decay, wherever it was, and is quiet about a record that is whole."""

import hashlib
import io
import random
import shutil
import sqlite3
from contextlib import closing

import pytest
from PIL import Image

from qc.store.checking.verify import CannotVerify, verify
from qc.store.folder.photos import PhotoStore
from tests.store.record_kit import Phone, open_journal


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A record with two units, a release, a parked and a refused operation, and a photo."""
    folder = tmp_path_factory.mktemp("whole")
    with open_journal(folder) as journal:
        phone = Phone(journal)
        unit, other = phone.plan(), phone.plan(30002, "M50")
        phone.look(unit)
        phone.test_all(unit)
        assert phone.sign(unit).verdict == "applied"
        where = {"point": "D01", "zone": "front.gas", "type": "EXT-01", "severity": "minor"}
        defect = phone.must("defect_recorded", "I1", other, **where)
        data = picture()
        sha = hashlib.sha256(data).hexdigest()
        phone.must("photo_attached", "I1", other, defect=defect, sha256=sha, bytes=len(data))
        PhotoStore(folder, journal.write, journal.clock).append(sha, 0, len(data), data)
        phone.must("photo_attached", "I1", other, defect=defect, sha256="a" * 64, bytes=10)
        assert phone.do("recheck_accepted", "I2", other, defect=defect)[1].verdict == "refused"
        late = "01900000-0000-7000-8000-000000000000"
        assert phone.do("recheck_accepted", "I2", other, defect=late)[1].verdict == "parked"
    return folder


def picture():
    out = io.BytesIO()
    Image.effect_noise((64, 64), 60).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def record(whole, tmp_path):
    shutil.copytree(whole, tmp_path / "record")
    return tmp_path / "record"


def by_hand(folder, *statements):
    """Change the record as somebody with the file and a tool would: without our triggers, then with them again."""
    with closing(sqlite3.connect(folder / "record.sqlite", isolation_level=None)) as conn:
        triggers = [sql for (sql,) in conn.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger'")]
        for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            conn.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert conn.execute(statement).rowcount != 0, statement
        for sql in triggers:
            conn.execute(sql)


def faulty(folder):
    return {check.name for check in verify(folder).checks if check.faults}


def test_a_whole_record_is_whole_and_what_has_not_arrived_is_no_fault(record):
    report = verify(record)

    assert (report.is_whole, report.exit_code) == (True, 0), report
    assert report.notes[0] == "1 photos are named by a record and have not arrived"
    assert report.notes[1].startswith("release keys, to compare with what was noted elsewhere: ")
    looked_at = {check.name: check.looked_at for check in report.checks}
    assert (looked_at["journal chain"], looked_at["releases judged again"], looked_at["photos"]) == (38, 1, 1)


CHAIN, AGAINST = "journal chain", "releases judged again"


@pytest.mark.parametrize(
    ("statement", "found"),
    [
        ("UPDATE journal SET author = 'I2' WHERE number = 5", {CHAIN}),
        ("UPDATE journal SET received_ms = received_ms - 1 WHERE number = 5", {CHAIN}),
        ("UPDATE journal SET clock_suspect = 1 WHERE number = 5", {CHAIN}),
        ("UPDATE journal SET admission = 'late' WHERE number = 5", {CHAIN}),
        ("UPDATE journal SET author_standing = 'quality_manager' WHERE number = 5", {CHAIN}),
        ("UPDATE journal SET unit = NULL WHERE number = 5", {CHAIN}),
        ("UPDATE journal SET bytes = CAST(replace(CAST(bytes AS TEXT), 'D01', 'T01') AS BLOB)", {CHAIN}),
        ("DELETE FROM journal WHERE number = 10", {CHAIN}),
        ("UPDATE journal SET previous = zeroblob(32) WHERE number = 5", {CHAIN}),
        ("UPDATE journal SET hash = previous WHERE number = 7", {CHAIN}),
        ("UPDATE unit SET state = 'released' WHERE chassis LIKE '%30002'", {"table unit"}),
        ("UPDATE defect SET severity = 'major'", {"table defect"}),
        ("UPDATE test_result SET passed = 0 WHERE test = 'G1'", {"table test_result"}),
        ("UPDATE test_result SET value = value + 0.001 WHERE test = 'G1'", {"table test_result"}),
        ("DELETE FROM zone_look WHERE zone = 'front.gas'", {"table zone_look"}),
        ("UPDATE verdict SET verdict = 'applied' WHERE verdict = 'refused'", {"table verdict"}),
        ("DELETE FROM parked", {"table parked"}),
        ("UPDATE stream SET next_seq = 3", {"table stream"}),
        ("UPDATE release_record SET signed_by = 'I1'", {AGAINST}),
        ("UPDATE release_record SET story = replace(story, 'QM1', 'I1')", {"releases", AGAINST}),
        ("DELETE FROM release_record", {AGAINST}),
        ("UPDATE release_signature SET signature = zeroblob(64)", {"release signatures"}),
        ("DELETE FROM release_signature", {"release signatures"}),
        ("UPDATE release_key SET public = zeroblob(32)", {"release signatures", "release keys"}),
        ("UPDATE photo SET bytes = bytes + 1", {"photos"}),
        ("UPDATE plant_revision SET tables = replace(tables, 'mbar', 'kbar')", {"plant revisions"}),
    ],
)
def test_each_change_by_hand_is_found(record, statement, found):
    by_hand(record, statement)

    assert faulty(record) >= found


def test_a_rewritten_chain_is_found_by_what_it_derives_or_by_its_head(record):
    """Whoever rewrites a row and every hash after it meets the tables; the phones keep the head they saw."""
    from qc.store.record.chain import HASHED_COLUMNS, row_hash

    by_hand(record, "UPDATE journal SET author = 'I2' WHERE number = 3")
    with closing(sqlite3.connect(record / "record.sqlite")) as conn:
        conn.execute("DROP TRIGGER journal_no_update")
        previous = bytes(32)
        for row in conn.execute(f"SELECT {', '.join(HASHED_COLUMNS)} FROM journal ORDER BY number").fetchall():
            digest = row_hash(previous, row)
            conn.execute("UPDATE journal SET previous = ?, hash = ? WHERE number = ?", (previous, digest, row[0]))
            previous = digest
        conn.commit()

    found = faulty(record)
    assert "tables and triggers" in found
    assert found & {CHAIN, "table inspection", AGAINST}


def test_a_release_made_by_hand_with_a_right_digest_has_no_signature(record):
    """Story and digest agree, but who can only write the file has no key."""
    with closing(sqlite3.connect(record / "record.sqlite")) as conn:
        (story,) = conn.execute("SELECT story FROM release_record").fetchone()
    forged = story.replace("QM1", "I1")
    digest = hashlib.sha256(forged.encode()).hexdigest()
    by_hand(record, f"UPDATE release_record SET story = '{forged}', story_digest = '{digest}'")

    assert {"release signatures", AGAINST} <= faulty(record)


def test_a_missing_trigger_is_found(record):
    with closing(sqlite3.connect(record / "record.sqlite")) as conn:
        conn.execute("DROP TRIGGER journal_no_delete")

    assert faulty(record) == {"tables and triggers"}


@pytest.mark.parametrize("harm", ["gone", "changed", "cut"])
def test_a_photo_that_is_not_what_was_kept_is_found(record, harm):
    (path,) = [path for path in (record / "photos").rglob("*") if path.is_file()]
    data = bytearray(path.read_bytes())
    if harm == "gone":
        path.unlink()
    elif harm == "cut":
        path.write_bytes(data[:-1])
    else:
        data[len(data) // 2] ^= 1
        path.write_bytes(data)

    assert faulty(record) == {"photos"}


def used_pages(path):
    """Return (offset, size) of each page that a table of ours uses, free pages left out."""
    with closing(sqlite3.connect(path)) as conn:
        (size,) = conn.execute("PRAGMA page_size").fetchone()
        (count,) = conn.execute("PRAGMA page_count").fetchone()
    return size, count


def test_one_changed_byte_in_the_journals_rows_is_found(record):
    """In every one of 40 places: within the bytes received, wherever their pages lie."""
    path = record / "record.sqlite"
    whole = path.read_bytes()
    chance = random.Random(7)
    places = [at for at in range(len(whole)) if whole.startswith(b'"session":"s1"', at)]
    for at in chance.sample(places, min(40, len(places))):
        changed = bytearray(whole)
        changed[at + 11] ^= 1  # s1 → r1: still JSON, still a page that SQLite finds nothing wrong with
        path.write_bytes(changed)
        assert faulty(record), at
    path.write_bytes(whole)
    assert verify(record).is_whole


def test_a_torn_page_is_found(record):
    path = record / "record.sqlite"
    size, count = used_pages(path)
    data = bytearray(path.read_bytes())
    data[size * (count // 2) : size * (count // 2 + 1)] = bytes(size)
    path.write_bytes(data)

    assert not verify(record).is_whole


def test_a_file_that_is_no_record_is_told_as_broken(record):
    (record / "record.sqlite").write_bytes(b"not a database" * 1000)

    assert faulty(record) == {"file"}


def test_without_a_record_there_is_nothing_to_verify(tmp_path):
    with pytest.raises(CannotVerify, match="no record"):
        verify(tmp_path)


def test_a_server_may_go_on_meanwhile(record):
    with open_journal(record) as journal:
        Phone(journal, "P7").plan(30007)

        assert verify(record).is_whole


@pytest.mark.parametrize(
    "edit",
    [
        "UPDATE plant_revision SET tables = 'garbage'",
        "UPDATE plant_revision SET tables = '[]'",
        "UPDATE release_record SET story = 'garbage'",
        "UPDATE release_record SET story_digest = ''",
        "UPDATE release_signature SET signature = x''",
        "UPDATE release_signature SET signature = zeroblob(9)",
        "UPDATE release_key SET public = x'00ff'",
        "UPDATE journal SET bytes = 'garbage' WHERE number = 3",
        "UPDATE journal SET bytes = x'ff00' WHERE number = 3",
        "UPDATE journal SET plant_revision = 'garbage' WHERE number = 3",
        "UPDATE journal SET author_standing = 'garbage' WHERE number = 3",
        "UPDATE photo SET bytes = -5",
        "DELETE FROM plant_revision",
    ],
)
def test_garbage_is_a_finding_and_never_a_trace_of_the_program(record, edit):
    try:
        by_hand(record, edit)
    except sqlite3.IntegrityError:  # the tables' own checks stop a tool too
        return

    report = verify(record)

    assert report.exit_code == 1
    assert any(check.told for check in report.checks)


@pytest.mark.parametrize(
    "failure",
    [
        OSError(28, "No space left on device"),
        pytest.param("full", id="SQLite is told that the disk is full"),
    ],
)
def test_no_room_to_check_in_says_nothing_of_the_record(record, monkeypatch, failure):
    """It once said that the file cannot be read, and somebody would have restored a backup over a whole record."""

    def full(source, target):
        error = sqlite3.OperationalError("database or disk is full")
        error.sqlite_errorcode = sqlite3.SQLITE_FULL
        raise error if failure == "full" else failure

    monkeypatch.setattr("qc.store.checking.verify._copy", full)

    with pytest.raises(CannotVerify, match="nothing is known of the record"):
        verify(record)
