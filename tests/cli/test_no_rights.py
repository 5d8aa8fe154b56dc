"""What a command says that another account was given, or a path that is none: in words, and nothing of the record.

Root may read everything, so as root the program is run without the two rights that make it so (capabilities(7)).
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from qc.cli import main

pytestmark = pytest.mark.skipif(os.name == "nt", reason="rights of files are others on Windows")
RIGHTS = "-dac_override,-dac_read_search"
CALLED = "from qc.cli import main; main(prog_name='qc')"


def called(*words: object) -> tuple[int, str]:
    """Call a command by an account that files keep out. Returns its exit code and all that it said."""
    kept_out: list[str] = []
    if os.geteuid() == 0:
        if not shutil.which("setpriv"):
            pytest.skip("root may read everything, and setpriv is not here")
        kept_out = ["setpriv", f"--bounding-set={RIGHTS}", f"--inh-caps={RIGHTS}"]
    program = [*kept_out, sys.executable, "-c", CALLED, *map(str, words)]
    answer = subprocess.run(program, capture_output=True, text=True, timeout=120, check=False)
    return answer.returncode, answer.stdout + answer.stderr


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a data folder with a record and one person."""
    folder = tmp_path / "works"
    for words in (["init", folder], ["user", "add", folder, "AD1", "--name", "A", "--role", "administrator"]):
        answer = CliRunner().invoke(main, list(map(str, words)))
        assert answer.exit_code == 0, answer.output
    return folder


def test_a_file_that_this_account_may_not_write_is_told_with_whose_it_is(folder):
    (folder / "writer.lock").chmod(0o400)

    code, said = called("user", "list", folder)

    assert (code, "Traceback" in said) == (1, False)
    assert f"{folder / 'writer.lock'} may not be read or written by" in said
    assert f"it is {folder.owner()}'s" in said


@pytest.fixture
def locked(folder: Path):
    """Return the folder with all in it to be read by this account and written by none."""
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o500 if path.is_dir() else 0o400)
    yield folder
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o700 if path.is_dir() else 0o600)


@pytest.mark.parametrize(
    "words",
    [
        ("user", "list"),
        ("device", "list"),
        ("token", "list"),
        ("rebuild",),
        ("new-release-key",),
        ("user", "end", "AD1"),
    ],
)
def test_a_folder_that_this_account_may_not_write_is_told_with_whose_it_is(locked, words):
    group = words[:-1] if words[-1] == "AD1" else words

    code, said = called(*group, locked, *words[len(group) :])

    assert code == 1
    assert "Traceback" not in said
    assert "may not be read or written by" in said or "the record may not be written by" in said
    assert "as the account that the server runs under" in said


def test_a_new_folder_where_none_may_be_made_is_told(locked):
    for words in (("init", locked / "new"), ("certificate", locked / "tls", "record.plant.example")):
        code, said = called(*words)

        assert (code, "Traceback" in said) == (1, False)
        assert f"{words[1]} may not be read or written by" in said


def test_a_new_folder_below_a_file_is_told(tmp_path):
    (tmp_path / "file").write_text("mine")

    answer = CliRunner().invoke(main, ["init", str(tmp_path / "file" / "works")])

    assert answer.exit_code == 1
    assert "lies below what is a file" in answer.output


@pytest.mark.parametrize("kept_out", ["keys/release.key", "record.sqlite"])
def test_what_may_not_be_read_says_nothing_of_the_record(folder, kept_out):
    """It was told as a record that is not what was written, with the advice to restore an older one."""
    CliRunner().invoke(main, ["new-release-key", str(folder)])
    (folder / kept_out).chmod(0)

    code, said = called("verify", folder)

    assert code == 2
    assert f"Cannot verify: {folder / kept_out} may not be read by this account" in said
    assert "nothing is known of the record by that" in said
    assert "NOT what was written" not in said
    (folder / kept_out).chmod(0o600)
    assert called("verify", folder)[0] == 0


def test_a_photo_that_may_not_be_read_says_nothing_of_the_record(folder):
    import hashlib
    import sqlite3

    data = b"no picture, and not looked at"
    name = hashlib.sha256(data).hexdigest()
    place = folder / "photos" / name[:2] / name
    place.parent.mkdir(parents=True)
    place.write_bytes(data)
    with sqlite3.connect(folder / "record.sqlite") as conn:
        columns = [row[1] for row in conn.execute("PRAGMA table_info(photo)")]
        given = {"sha256": name, "bytes": len(data), "media_type": "image/webp", "width": 1, "height": 1}
        row = {column: given.get(column, 0) for column in columns}
        marks = ", ".join("?" * len(row))
        conn.execute(f"INSERT INTO photo ({', '.join(row)}) VALUES ({marks})", tuple(row.values()))
    place.chmod(0)

    code, said = called("verify", folder)

    assert code == 2, said
    assert f"Cannot verify: {place} may not be read by this account" in said


def test_a_record_beside_which_nothing_may_be_written_says_nothing_of_it(locked):
    """In WAL even reading makes a file beside the record (sqlite.org, Write-Ahead Logging, read-only databases)."""
    code, said = called("verify", locked)

    assert code == 2
    assert f"Cannot verify: this account may not write in {locked}" in said


def test_the_doctor_says_which_file_it_may_not_read(folder):
    (folder / "writer.lock").chmod(0o400)

    code, said = called("doctor", folder)
    as_json = called("doctor", "--json", folder)

    assert code == 2
    assert f"Cannot tell: {folder / 'writer.lock'} may not be read by this account" in said
    assert (as_json[0], json.loads(as_json[1])["well"]) == (2, None)


def test_the_doctor_sends_nobody_to_verify_for_want_of_rights(locked):
    code, said = called("doctor", locked)

    assert code == 2
    assert f"Cannot tell: this account may not write in {locked}" in said
    assert "qc verify" not in said


def test_a_server_says_what_is_kept_from_its_account(locked):
    from tests.ports import free_port

    code, said = called("serve", locked, "--port", free_port())

    assert code == 1
    assert f"{locked} is kept from this account" in said
    assert "give the folder and all in it to the one that serves" in said


def test_a_backup_of_a_folder_without_a_record_leaves_no_note_there(tmp_path):
    """It left last-backup.json, and of a mistyped folder a new one."""
    (tmp_path / "other").mkdir()

    answer = CliRunner().invoke(main, ["backup", str(tmp_path / "other"), str(tmp_path / "copy")])

    assert answer.exit_code == 1
    assert "give the data folder that the server uses" in answer.output
    assert not any((tmp_path / "other").iterdir())


@pytest.mark.parametrize("given", ["", "plant"])
def test_a_folder_without_any_table_is_one_fault(folder, given, tmp_path):
    place = folder / given if given else tmp_path / "none"
    place.mkdir(exist_ok=True)

    answer = CliRunner().invoke(main, ["check-plant", str(place)])

    assert answer.exit_code == 1
    assert f"plant.toml and every other table is missing from {place / 'plant'}; give the folder" in answer.output
    assert "1 fault;" in answer.output


def test_an_offer_without_an_address_says_how_a_code_to_read_is_had(folder):
    plain = CliRunner().invoke(main, ["device", "enrol", str(folder)]).output
    drawn = CliRunner().invoke(main, ["device", "enrol", str(folder), "--address", "https://a.example"]).output

    assert "--address shows a QR code" in plain
    assert "Or open" not in plain
    assert "Or open the app" in drawn
