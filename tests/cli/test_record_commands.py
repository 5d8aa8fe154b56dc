"""The record's commands: verify tells by its exit, rebuild brings the tables back, import is the phones' door."""

import base64
import hashlib
import json
import re
import shutil
import sqlite3
from contextlib import closing
from io import BytesIO

import orjson
import pytest
from click.testing import CliRunner
from PIL import Image

from qc.cli import main
from qc.domain.facts.proof import Certificate
from qc.store.folder.photos import PhotoStore
from qc.store.people.persons import People
from qc.store.record.connection import open_reader
from tests.authors import Author, unproved
from tests.store.record_kit import PEOPLE, START, Phone, open_journal, unit_number


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "plant"
    assert run("init", folder).exit_code == 0
    return folder


@pytest.fixture
def record(folder):
    with open_journal(folder) as journal, closing(open_reader(folder / "record.sqlite")) as reader:
        People(folder / "keys", journal, lambda: reader).add(PEOPLE["I1"], "471926")
        Phone(journal, "DESK").plan()
    return folder


def test_the_row_that_a_backup_says_to_note_is_what_verify_takes(record, tmp_path):
    """It said the hash alone, which --noted refuses: what somebody had noted for years could not be asked for."""
    noted = re.search(r"Last row (\S+);", run("backup", record, tmp_path / "copy").output)[1]
    with open_journal(record) as journal:
        Phone(journal, "P8").plan(30008)

    asked = run("verify", record, "--noted", noted)

    assert asked.exit_code == 0, asked.output
    assert run("verify", record, "--noted", f"{noted[:-1]}{'0' if noted[-1] != '0' else '1'}").exit_code == 1


def test_verify_ends_with_nought_one_or_two(record, tmp_path):
    whole = run("verify", record)
    with closing(sqlite3.connect(record / "record.sqlite")) as conn:
        conn.execute("UPDATE unit SET state = 'released'")
        conn.commit()
    wrong = run("verify", record, "--json")
    (tmp_path / "empty").mkdir()
    none = run("verify", tmp_path / "empty")

    assert (whole.exit_code, wrong.exit_code, none.exit_code) == (0, 1, 2)
    assert "What was checked is what was written." in whole.output
    assert json.loads(wrong.output)["whole"] is False


def test_rebuild_brings_changed_tables_back(record):
    with closing(sqlite3.connect(record / "record.sqlite")) as conn:
        conn.execute("UPDATE unit SET state = 'released'")
        conn.commit()

    assert run("rebuild", record).exit_code == 0
    assert run("verify", record).exit_code == 0


def test_rebuild_waits_for_no_server(record):
    with open_journal(record):
        answer = run("rebuild", record)

    assert answer.exit_code == 1
    assert "in use by process" in answer.output


def exported(tmp_path, proved=True):
    """A phone's file: what it would have pushed."""

    class Apart:
        clock = staticmethod(lambda: START)

    phone = Phone(Apart())
    phone.make("station_passed", "I1", unit_number(), station="S01")
    phone.make("station_passed", "I1", unit_number(), station="S02")
    author = Author()
    with open_journal(tmp_path / "plant") as journal:
        author.certificate = journal.certificates.give(Certificate("I1", "P1", author.public, START, 2**52))
    whole = {
        "protocol": 2,
        "device": "P1",
        "install_epoch": "e1",
        "sent_ms": START,
        "server_epoch": None,
        "chain": None,
        "runs": [author.run("P1", "e1", [data for data, _ in phone.unsent]) if proved else unproved(2)],
        "operations": [raw for _, raw in phone.unsent],
    }
    file = tmp_path / "phone.json"
    file.write_bytes(orjson.dumps(whole))
    return file


def test_a_phones_file_is_taken_once(record, tmp_path):
    file = exported(tmp_path)

    assert run("import", record, file).output == "applied: 2, taken in\n"
    assert run("import", record, file).output == "duplicate: 2, taken in before, as it is\n"
    assert run("verify", record).exit_code == 0


def photo_file(tmp_path, photos, captures=()):
    file = exported(tmp_path)
    whole = {**orjson.loads(file.read_bytes()), "photos": photos, "captures": list(captures)}
    file.write_bytes(orjson.dumps(whole))
    return file


def picture():
    out = BytesIO()
    Image.new("RGB", (40, 30), (200, 30, 30)).save(out, "JPEG")
    return out.getvalue()


def written(data):
    return {"sha256": hashlib.sha256(data).hexdigest(), "base64": base64.b64encode(data).decode()}


def test_the_photos_of_a_lost_phone_come_with_its_file(record, tmp_path):
    data = picture()
    sha256 = hashlib.sha256(data).hexdigest()
    with open_journal(record) as journal:  # the phone had sent a part of it
        PhotoStore(record, journal.write, journal.clock).append(sha256, 0, len(data), data[:100])

    file = photo_file(tmp_path, [written(data)])
    first, again = run("import", record, file), run("import", record, file)

    assert (first.exit_code, first.output) == (0, "applied: 2, taken in\nphotos kept: 1\n")
    assert (again.exit_code, again.output) == (0, "duplicate: 2, taken in before, as it is\nphotos kept: 1\n")
    assert PhotoStore(record).path(sha256).read_bytes() == data


@pytest.mark.parametrize(
    "photo",
    [
        {**written(picture()), "base64": base64.b64encode(picture()[:300]).decode()},
        {**written(picture()), "base64": "no base64!"},
        {"sha256": "0" * 64},
        {**written(picture()), "sha256": "../../plant.toml"},
        7,
    ],
)
def test_a_broken_photo_is_told_and_the_records_are_taken_all_the_same(record, tmp_path, photo):
    answer = run("import", record, photo_file(tmp_path, [photo, written(picture())]))

    assert answer.exit_code == 1
    assert "applied: 2, taken in\nphotos kept: 1\n" in answer.output
    assert "photo 1 of 2 is not taken: " in answer.output


def test_pictures_that_have_no_operation_yet_are_told(record, tmp_path):
    answer = run("import", record, photo_file(tmp_path, [], [{"id": "x"}]))

    assert answer.exit_code == 1
    assert "pictures that the phone had not made ready, not taken, keep this file: 1" in answer.output


def test_what_nothing_proves_is_kept_without_effect(record, tmp_path):
    answer = run("import", record, exported(tmp_path, proved=False))

    assert answer.exit_code == 1
    assert "quarantined: 2, set aside without effect" in answer.output
    assert "unverified_author" in answer.output


NO_PHOTOS = b'{"device": "P1", "install_epoch": "e1", "sent_ms": 1, "photos": 7, "operations": []}'
NO_FRAME = b'{"device": "P1", "operations": []}'


@pytest.mark.parametrize("words", [b"", b"[]", b"{}", b'{"operations": 1}', NO_FRAME, NO_PHOTOS])
def test_a_file_that_is_no_export_is_refused_in_words(record, tmp_path, words):
    file = tmp_path / "phone.json"
    file.write_bytes(words)

    answer = run("import", record, file)

    assert answer.exit_code == 1
    assert "phone.json is not as a phone's outbox exports it; choose that file" in answer.output
    assert "Nothing was taken." in answer.output


def test_a_new_release_key_is_told_and_the_record_stays_whole(record):
    first, second = run("new-release-key", record), run("new-release-key", record)

    assert (first.exit_code, second.exit_code) == (0, 0)
    assert first.output != second.output
    assert run("verify", record).exit_code == 0


def test_a_lost_keys_folder_has_a_way_on(record):
    keys = record / "keys"
    assert "nothing was changed" in run("new-keys", record).output
    shutil.rmtree(keys)
    assert "qc new-keys" in run("user", "list", record).output
    assert "qc new-keys" in run("new-release-key", record).output

    answer = run("new-keys", record)

    assert answer.exit_code == 0, answer.output
    assert "1 people need a new PIN" in answer.output
    assert run("user", "secret", record, "I1").exit_code == 0
    verified = run("verify", record)
    assert verified.exit_code == 0, verified.output
    assert "came without the word of the one before it" in verified.output
