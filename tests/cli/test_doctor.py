"""The doctor tells each need that is not met, in words that say what would do, and ends with 0, 1 or 2."""

import json
import os
import shutil
import sqlite3

import pytest
from click.testing import CliRunner

from qc.assets import folder as asset_folder
from qc.cli import main
from qc.store.intake.journal import wall_ms
from qc.store.keeping import needs
from qc.store.keeping.backup import backup_trouble
from qc.web import certificate
from tests.store.record_kit import Phone, open_journal


@pytest.fixture(scope="module")
def well(tmp_path_factory):
    """A folder that lacks nothing: people, a release, keys, a backup that was made just now."""
    folder = tmp_path_factory.mktemp("well")
    shutil.copytree(asset_folder("demo_data") / "plant", folder / "plant")
    with open_journal(folder) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        phone.look(unit)
        phone.test_all(unit)
        assert phone.sign(unit).verdict == "applied"
    asked = ["user", "add", str(folder), "OL1", "--name", "Olga", "--role", "inspector"]
    assert CliRunner().invoke(main, asked).exit_code == 0
    for path in (folder / "record.sqlite", folder / "writer.lock"):
        path.chmod(0o600)
    assert CliRunner().invoke(main, ["backup", str(folder), str(folder.parent / "copy")]).exit_code == 0
    return folder


@pytest.fixture
def folder(well, tmp_path):
    shutil.copytree(well, tmp_path / "plant")
    return tmp_path / "plant"


def asked(folder, *options):
    answer = CliRunner().invoke(main, ["doctor", str(folder), "--json", *options])
    told = json.loads(answer.stdout)
    return answer.exit_code, {one["name"]: (one["state"], one["words"]) for one in told.get("needs", [])}


def test_where_nothing_is_amiss_it_says_so_and_ends_with_0(folder):
    answer = CliRunner().invoke(main, ["doctor", str(folder)])

    assert answer.exit_code == 0, answer.output
    assert "Every need that was looked at is met." in answer.output
    assert "WRONG" not in answer.output


def test_it_changes_nothing_and_a_server_may_go_on(folder):
    with open_journal(folder):
        before = {path: path.stat().st_mtime_ns for path in folder.rglob("*") if path.is_file()}
        assert asked(folder)[1]["writer"] == ("met", f"served by process {os.getpid()}")

        assert {path: path.stat().st_mtime_ns for path in folder.rglob("*") if path.is_file()} == before
    assert asked(folder)[1]["writer"] == ("met", "nobody serves it now")


def damaged(folder, name):
    if name == "pepper":
        (folder / "keys" / "pepper").unlink()
    elif name == "release key":
        (folder / "keys" / "release.key").write_bytes(os.urandom(32))
    elif name == "rights":
        (folder / "keys" / "release.key").chmod(0o644)
    elif name == "backup":
        (folder / "last-backup.json").unlink()
    elif name == "plant":
        (folder / "plant" / "stations.csv").write_text("mine")
    elif name == "history":
        with sqlite3.connect(folder / "record.sqlite") as conn:
            conn.execute(
                "INSERT INTO history_alarm SELECT value, 'P3', 9, 'a', 'I1', 1, 1 FROM store_setting"
                " WHERE name = 'server_epoch'"
            )
        conn.close()


@pytest.mark.parametrize("name", ["pepper", "release key", "rights", "backup", "plant", "history"])
def test_each_need_that_is_not_met_is_told(folder, name):
    damaged(folder, name)
    code, told = asked(folder)

    assert code == 1
    assert {one for one, (state, _) in told.items() if state not in ("met", "unasked")} == {name}


def test_a_copy_of_an_upgrade_that_others_may_read_is_told(folder):
    copy = folder / "record-before-31.sqlite"
    copy.write_bytes(b"")
    copy.chmod(0o644)

    assert str(copy) in asked(folder)[1]["rights"][1]


def test_a_release_key_that_is_gone_or_garbage_is_told(folder):
    (folder / "keys" / "release.key").write_bytes(b"short")
    assert "cannot be read" in asked(folder)[1]["release key"][1]
    (folder / "keys" / "release.key").unlink()
    assert "does not start without it" in asked(folder)[1]["release key"][1]
    assert "qc new-keys" in asked(folder)[1]["release key"][1]


@pytest.mark.parametrize(("days", "state"), [(0, "met"), (1, "met"), (3, "missing"), (400, "missing")])
def test_the_age_of_the_last_backup_is_told(folder, days, state):
    noted = json.loads((folder / "last-backup.json").read_text())
    noted["at_ms"] = wall_ms() - days * 86_400_000
    (folder / "last-backup.json").write_text(json.dumps(noted))

    found, words = asked(folder)[1]["backup"]
    assert (found, f"{days}.0 days ago" in words, "verified" in words) == (state, True, True)


def test_a_backup_dated_ahead_of_the_clock_is_told(folder):
    noted = json.loads((folder / "last-backup.json").read_text())
    noted["at_ms"] = wall_ms() + 400 * 86_400_000
    (folder / "last-backup.json").write_text(json.dumps(noted))

    state, words = asked(folder)[1]["backup"]
    assert (state, "dated ahead of this clock" in words) == ("missing", True)


def test_a_backup_that_failed_after_the_last_whole_one_is_told(folder, tmp_path):
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine").write_text("mine")
    assert CliRunner().invoke(main, ["backup", str(folder), str(tmp_path / "full")]).exit_code == 1

    state, words = asked(folder)[1]["backup"]
    assert state == "missing"
    assert "the last one failed" in words
    assert "the last whole one" in words


def test_that_no_backup_was_whole_yet_is_told_with_why(folder, tmp_path):
    (folder / "last-backup.json").unlink()
    (tmp_path / "file").write_text("a file where a folder should be")
    assert CliRunner().invoke(main, ["backup", str(folder), str(tmp_path / "file" / "copy")]).exit_code == 1

    state, words = asked(folder)[1]["backup"]
    assert state == "missing"
    assert "none was whole so far, the last try failed: no copy can be made in" in words


def test_a_clock_behind_the_record_is_told(folder):
    (clock,) = [one for one in needs.needs_of(folder, now_ms=1_000_000_000_000) if one.name == "clock"]

    assert clock.state == "missing"
    assert "Set it" in clock.words


def test_a_disk_that_is_nearly_full_is_told(folder, monkeypatch):
    class Little:
        free = 100_000

    monkeypatch.setattr(needs.shutil, "disk_usage", lambda _: Little)

    found = {one.name: one.state for one in needs.needs_of(folder)}
    assert (found["disk"], found["room to verify in"]) == ("missing", "soon")


def test_the_certificate_is_looked_at_where_it_is_named(folder, tmp_path):
    one, other = (certificate.make(tmp_path / name, ("record.plant.example",)) for name in ("one", "other"))

    assert (
        "good for 824 days" in asked(folder, "--cert", str(one.leaf), "--key", str(one.leaf_key))[1]["certificate"][1]
    )
    code, told = asked(folder, "--cert", str(one.leaf), "--key", str(other.leaf_key))
    assert (code, told["certificate"][0]) == (1, "missing")
    assert asked(folder, "--cert", str(tmp_path / "none"))[1]["certificate"][0] == "missing"


def test_without_a_record_it_cannot_tell(tmp_path, folder):
    assert asked(tmp_path)[0] == 2
    (folder / "record.sqlite").write_bytes(b"not a database" * 1000)
    assert asked(folder)[0] == 2


def test_a_backup_in_the_data_folder_itself_is_none(folder):
    made = CliRunner().invoke(main, ["backup", str(folder), str(folder / "copies" / "monday")])
    assert made.exit_code == 0
    assert "what destroys one destroys both" in made.output

    code, found = asked(folder)
    assert (code, found["backup"][0]) == (1, "missing")
    assert "in the data folder itself" in found["backup"][1]
    assert "lies in the data folder itself" in backup_trouble(folder, wall_ms())


def test_a_backup_that_is_not_there_any_more_is_told(folder):
    gone = str(folder.parent / "no-copy")
    noted = json.loads((folder / "last-backup.json").read_text())
    (folder / "last-backup.json").write_text(json.dumps({**noted, "target": gone}))

    state, words = asked(folder)[1]["backup"]

    assert state == "soon"
    assert "it is not there now" in words
