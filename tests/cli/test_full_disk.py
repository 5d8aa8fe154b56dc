"""On a disk that is full to its last byte each command says so, and nothing of a record that it could not even read.

SQLite lays an index beside a record in WAL to read it. The limit on a file's size stands for the full disk: SQLite
meets it there with the same answer (SQLITE_IOERR_SHMSIZE), seen on a small file system that was full.
"""

import resource
import shutil
import signal
import sys
from contextlib import contextmanager

import pytest
from click.testing import CliRunner

from qc.assets import folder as asset_folder
from qc.cli import main
from tests.store.record_kit import Phone, open_journal


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("full") / "plant"
    shutil.copytree(asset_folder("demo_data") / "plant", folder / "plant")
    with open_journal(folder) as journal:
        Phone(journal).plan()
    return folder


@contextmanager
def full_disk():
    held = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    is_off, sys.dont_write_bytecode = sys.dont_write_bytecode, True  # of which Python would keep the first 1,000 bytes
    resource.setrlimit(resource.RLIMIT_FSIZE, (1_000, held[1]))
    try:
        yield
    finally:
        sys.dont_write_bytecode = is_off
        resource.setrlimit(resource.RLIMIT_FSIZE, held)
        signal.signal(signal.SIGXFSZ, before)


COMMANDS = {
    "verify": (["verify", "{folder}"], 2),
    "verify as JSON": (["verify", "{folder}", "--json"], 2),
    "doctor": (["doctor", "{folder}"], 2),
    "backup": (["backup", "{folder}", "{folder}/../copy"], 1),
    "drill": (["drill", "{folder}"], 1),
    "user list": (["user", "list", "{folder}"], 1),
    "user add": (["user", "add", "{folder}", "IV1", "--name", "Ivo", "--role", "inspector"], 1),
    "rebuild": (["rebuild", "{folder}"], 1),
    "new-release-key": (["new-release-key", "{folder}"], 1),
    "export": (["export", "{folder}", "{folder}/../out.zip"], 1),
    "mail": (["mail", "{folder}", "--to", "QM1"], 1),
}


@pytest.mark.parametrize("command", COMMANDS)
def test_a_disk_full_to_its_last_byte_is_told_and_no_judgement_on_the_record(folder, command):
    words, code = COMMANDS[command]
    with full_disk():
        answer = CliRunner().invoke(main, [word.format(folder=folder) for word in words])

    assert (answer.exit_code, type(answer.exception)) == (code, SystemExit), answer.output
    assert "no room left for what SQLite lays beside a record" in answer.output
    assert "nothing is known of the record by that" in answer.output
    assert "NOT what was written" not in answer.output


@pytest.mark.parametrize(
    "command", [["init", "{folder}/../other"], ["certificate", "{folder}/../c", "a.plant.example"]]
)
def test_a_file_that_the_disk_has_no_room_for_is_told(folder, command, monkeypatch):
    """Python names no file where the writing fails and not the opening."""

    def full(self, *_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_text", full)
    monkeypatch.setattr("qc.web.certificate._write", full)
    answer = CliRunner().invoke(main, [word.format(folder=folder) for word in command])

    assert (answer.exit_code, type(answer.exception)) == (1, SystemExit)
    assert "the disk is full" in answer.output


def test_with_room_again_it_is_verified(folder):
    assert CliRunner().invoke(main, ["verify", str(folder)]).exit_code == 0
