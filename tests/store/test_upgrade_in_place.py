"""A data folder of the version before this one is brought up where it stands, at the first start, and nothing is lost.

The folder is the former program's record (`test_former_record`) with the rows that it derived, which are held to the
digests that were taken then. Its keys are not in it: a backup never holds them.
"""

import json
import os
import resource
import shutil
import signal
import sqlite3
import sys
from contextlib import closing

import pytest
from click.testing import CliRunner

from qc.cli import main
from qc.domain.tables.plant_tables import plant_from_tables
from qc.store.checking.verify import verify
from qc.store.intake.rebuild import rebuild
from qc.store.record.connection import RECORD, open_writer
from qc.store.record.signing import KeyLost
from qc.store.tables import migrations
from qc.store.tables.migrations import MIGRATIONS, version_of
from qc.web.house import open_house
from tests.store.test_former_record import SINCE, derived, lines, made

FORMER_VERSION = lines()[0]["version"]


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def former(tmp_path_factory):
    """The folder as the former program left it, with the tables that it derived and those of the plant."""
    folder, copy = tmp_path_factory.mktemp("former") / "record", tmp_path_factory.mktemp("derived") / "record"
    wanted, tables = made(folder)
    shutil.copytree(folder, copy)
    rebuild(copy, plant_from_tables(json.loads(tables)))
    assert derived(copy, wanted) == wanted
    with closing(sqlite3.connect(folder / RECORD, isolation_level=None)) as conn:
        conn.execute("ATTACH ? AS now", [str(copy / RECORD)])
        for name in wanted:
            columns = [row[1] for row in conn.execute(f"PRAGMA table_info({name})")]
            assert not set(columns) & SINCE.get(name, set())
            if not conn.execute(f"SELECT count(*) FROM main.{name}").fetchone()[0]:
                told = ", ".join(columns)
                conn.execute(f"INSERT INTO main.{name} ({told}) SELECT {told} FROM now.{name}")
    (folder / "plant").mkdir()
    for name, text in json.loads(tables).items():
        (folder / "plant" / name).write_text(text, encoding="utf-8")
    return folder, wanted


@pytest.fixture
def folder(former, tmp_path):
    """A copy of it to bring up."""
    return shutil.copytree(former[0], tmp_path / "record")


def version(path):
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return version_of(conn)


def brought_up(folder):
    """Start as `qc serve` does; the former program's keys were never in the folder, so it asks for them, brought up."""
    with pytest.raises(KeyLost, match="put it back"):
        open_house(folder)


def test_the_doctor_tells_before_that_the_next_start_brings_it_up(folder):
    told = run("doctor", folder)

    assert told.exit_code == 1
    assert f"of version {FORMER_VERSION}; the next start brings it to {MIGRATIONS[-1].number}" in told.output
    assert version(folder / RECORD) == FORMER_VERSION  # and changes nothing


def test_the_doctor_tells_before_that_there_is_no_room_for_the_copies(folder, monkeypatch):
    size, steps = (folder / RECORD).stat().st_size, MIGRATIONS[-1].number - FORMER_VERSION
    usage = shutil.disk_usage(folder)
    for free, told in ((steps * size - 1, "are free, make room first"), (steps * size, " in all\n")):
        monkeypatch.setattr(shutil, "disk_usage", lambda _, free=free: usage._replace(free=free))

        said = run("doctor", folder)

        assert said.exit_code == 1
        (line,) = (one for one in said.output.splitlines(keepends=True) if " record: " in one)
        assert told in line


def test_the_first_start_brings_it_up_with_a_whole_copy_before_each_step(folder, former):
    brought_up(folder)

    assert version(folder / RECORD) == MIGRATIONS[-1].number
    steps = range(FORMER_VERSION + 1, MIGRATIONS[-1].number + 1)
    assert [version(folder / f"record-before-{number}.sqlite") for number in steps] == [one - 1 for one in steps]
    assert derived(folder, former[1]) == former[1]  # what was derived then stands as it was


@pytest.mark.skipif(sys.platform == "win32", reason="rights are those of POSIX")
@pytest.mark.parametrize("command", [["new-keys"], ["rebuild"]])
def test_what_a_command_makes_as_it_brings_it_up_is_this_accounts_alone(folder, command):
    """Each copy holds the whole record; other accounts of the machine could read it."""
    before = os.umask(0o022)
    try:
        assert run(*command, folder).exit_code == 0
    finally:
        os.umask(before)

    copies = list(folder.glob("record-before-*"))
    assert len(copies) == MIGRATIONS[-1].number - FORMER_VERSION
    assert [path.name for path in copies if path.stat().st_mode & 0o077] == []


def test_then_it_is_served_and_verified_with_what_was_recorded_before(folder):
    brought_up(folder)
    assert run("new-keys", folder).exit_code == 0
    house = open_house(folder)
    try:
        units = house.reads.unit_list()
        assert len(units) == 7
        assert all(house.reads.unit_story(one.chassis) for one in units)
        assert len(house.reads.releases_of(units[0].chassis)) == 1
    finally:
        house.close()

    report = verify(folder)
    assert report.is_whole, report
    assert {check.name: check.looked_at for check in report.checks}["journal chain"] >= 509
    assert run("verify", folder).exit_code == 0


def test_one_that_ended_in_the_middle_goes_on_where_it_was(folder, former, monkeypatch):
    def ends(conn, step):
        if step.number == 15:  # all its statements are done, and not yet committed
            raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(migrations, "_require_strict", ends)
        with pytest.raises(KeyboardInterrupt):
            open_house(folder)
    assert version(folder / RECORD) == 14

    brought_up(folder)
    assert version(folder / RECORD) == MIGRATIONS[-1].number
    assert derived(folder, former[1]) == former[1]


def test_where_there_is_no_room_for_a_copy_nothing_is_changed(folder, monkeypatch):
    def full(conn, folder, number):
        raise migrations.BackupFailed("no space left on device")

    monkeypatch.setattr(migrations, "copy_before", full)
    with pytest.raises(migrations.BackupFailed):
        open_house(folder)

    assert version(folder / RECORD) == FORMER_VERSION


def half(whole):
    """Return what a power cut may leave of a file: its length, and nothing in it."""
    return bytes(len(whole) // 2)


@pytest.mark.parametrize("left", [half, lambda whole: whole[: len(whole) // 2 + 100], lambda _: b"\x07" * 5_000])
def test_half_a_copy_that_a_power_cut_left_is_made_anew(folder, former, left):
    whole = (folder / RECORD).read_bytes()
    for name in ("record-before-13.sqlite", "record-before-13.sqlite.making", "record-before-14.sqlite.making-journal"):
        (folder / name).write_bytes(left(whole))

    brought_up(folder)

    assert version(folder / RECORD) == MIGRATIONS[-1].number
    assert version(folder / "record-before-13.sqlite") == 12
    assert derived(folder, former[1]) == former[1]
    assert not list(folder.glob("*.making*"))


def test_a_full_disk_is_told_as_such_and_leaves_no_half_copy(folder):
    """The limit on a file's size stands for the full disk: SQLite meets it as it writes the copy."""
    held = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, held[1]))
    try:
        with pytest.raises(migrations.BackupFailed, match="Nothing of that step was done and the record is as it was"):
            open_house(folder)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, held)
        signal.signal(signal.SIGXFSZ, before)

    assert version(folder / RECORD) == FORMER_VERSION
    assert not list(folder.glob("record-before-*"))
    brought_up(folder)
    assert version(folder / RECORD) == MIGRATIONS[-1].number


def test_the_former_program_refuses_what_was_brought_up_and_goes_on_with_the_copy(folder, former, monkeypatch):
    brought_up(folder)
    monkeypatch.setattr(migrations, "MIGRATIONS", MIGRATIONS[:FORMER_VERSION])

    with closing(open_writer(folder / RECORD)) as conn, pytest.raises(migrations.NewerRecord):
        migrations.migrate(conn, folder)
    assert version(folder / RECORD) == MIGRATIONS[-1].number
    shutil.copy(folder / f"record-before-{FORMER_VERSION + 1}.sqlite", folder / RECORD)
    with closing(open_writer(folder / RECORD)) as conn:
        assert migrations.migrate(conn, folder) == FORMER_VERSION
        assert conn.execute("SELECT count(*) FROM journal").fetchone() == (509,)
        assert conn.execute("SELECT count(*) FROM defect").fetchone()[0] == former[1]["defect"][0]
