"""The unit that keeps a folder served: systemd accepts it, its words arrive whole, it may write where it must.

Held to systemd's own check where there is one, and read everywhere by a small reader of its syntax: quoting, %% and $$
(manual pages systemd.syntax, systemd.unit and systemd.service, from memory).
"""

import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from urllib.request import urlopen

import pytest
from click.testing import CliRunner

from qc.assets import folder as asset_folder
from qc.cli import main, service
from tests.ports import free_port
from tests.store.record_kit import open_journal

ODD = 'Haus 7, 50 % $HOME "neu" \\ ü'


@pytest.fixture
def plant(tmp_path):
    def made(name="plant", backups=""):
        folder = tmp_path / name
        shutil.copytree(asset_folder("demo_data") / "plant", folder / "plant")
        if backups:
            with (folder / "plant" / "plant.toml").open("a", encoding="utf-8") as tables:
                tables.write(f'\n[backup]\nfolder = "{backups}"\nat = "02:30"\nkeep = 7\n')
        return folder

    return made


@pytest.fixture
def program(tmp_path, monkeypatch):
    """A program that is there and may be run, in a folder with blanks and a percent sign."""
    program = tmp_path / "the 100 % tools" / "qc"
    program.parent.mkdir()
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    monkeypatch.setattr(service, "_program", lambda: program)
    return program


def printed(*asked):
    answer = CliRunner().invoke(main, ["service", *map(str, asked)])
    assert answer.exit_code == 0, answer.output
    return answer.stdout


def settings(unit):
    """Return the settings of a unit as systemd splits them, each with its values in order."""
    found = {}
    for line in unit.splitlines():
        if "=" in line and not line.startswith(("#", "[")):
            name, _, value = line.partition("=")
            found.setdefault(name, []).append(value)
    return found


def words(value, dollars=False):
    """Return the words of a value as systemd reads them."""
    told = [re.sub(r"\\(.)", r"\1", one) for one in re.findall(r'"((?:[^"\\]|\\.)*)"', value)]
    return [one.replace("%%", "%").replace("$$", "$") if dollars else one.replace("%%", "%") for one in told]


def checked(unit, tmp_path):
    """Have systemd check a unit, where it is installed: not a word of it may be about this one."""
    if not (analyze := shutil.which("systemd-analyze")):
        return
    file = tmp_path / "quality-record-tried.service"
    file.write_text(unit)
    answer = subprocess.run([analyze, "verify", str(file)], capture_output=True, text=True, timeout=60, check=False)
    told = [line for line in (answer.stdout + answer.stderr).splitlines() if file.name in line]
    assert told == []


def test_it_serves_the_folder_with_the_options_and_systemd_accepts_it(plant, program, tmp_path):
    folder = plant()
    unit = printed(folder, "--port", "9000", "--name", "record.plant.example", "--user", "daemon")
    told = settings(unit)

    assert words(told["ExecStart"][0]) == [
        *(str(program), "serve", str(folder), "--host", "127.0.0.1", "--port", "9000"),
        *("--name", "record.plant.example"),
    ]
    assert told["User"] == ["daemon"]
    hard = {"NoNewPrivileges": "yes", "ProtectSystem": "strict", "Restart": "on-failure", "CapabilityBoundingSet": ""}
    assert {name: told[name] for name in hard} == {name: [value] for name, value in hard.items()}
    checked(unit, tmp_path)


@pytest.mark.skipif(sys.platform == "win32", reason="such a name is none there")
def test_blanks_percent_signs_and_quotes_in_a_path_arrive_whole(plant, program, tmp_path):
    folder = plant(ODD)
    unit = printed(folder, "--user", "daemon")
    told = settings(unit)

    assert words(told["ExecStart"][0], dollars=True)[2] == str(folder)
    assert words(told["ReadWritePaths"][0])[0] == str(folder)
    assert f"Description=Quality record in {str(folder).replace('%', '%%')}" in unit
    checked(unit, tmp_path)


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd's own check is not installed here")
def test_systemds_check_sees_a_path_that_is_not_quoted(plant, program, tmp_path, monkeypatch):
    """The planted fault, or the check above would prove nothing."""
    monkeypatch.setattr(service, "_quoted", str)
    unit = printed(plant(), "--user", "daemon")

    with pytest.raises(AssertionError):
        checked(unit, tmp_path)


def test_it_may_write_to_its_folder_and_its_backups_and_nowhere_else(plant, program, monkeypatch):
    told = settings(printed(plant(backups="/srv/copies of 1 %"), "--user", "daemon"))

    assert words(told["ReadWritePaths"][0])[1] == "-/srv/copies of 1 %"
    monkeypatch.setattr(sys, "prefix", "/opt/qc")
    monkeypatch.setattr(sys, "base_prefix", "/usr")
    only = settings(service._unit(["/opt/qc/bin/qc"], Path("/srv/p"), [], [], "record", 8443))["ReadWritePaths"]
    assert only == ['"/srv/p"']


def test_a_home_and_a_room_for_passing_files_are_hidden_only_where_nothing_of_its_own_is_there(monkeypatch):
    monkeypatch.setattr(sys, "prefix", "/opt/qc")
    monkeypatch.setattr(sys, "base_prefix", "/usr")

    def told(folder):
        return settings(service._unit(["/opt/qc/bin/qc", "serve"], Path(folder), [], [], "record", 8443))

    hidden = told("/srv/plant")
    assert "PrivateTmp" not in told("/tmp/plant")
    assert words(told("/tmp/plant")["ReadWritePaths"][0]) == ["/tmp/plant", "-/tmp", "-/var/tmp"]
    assert told("/home/plant/data")["ProtectHome"] == ["read-only"]
    assert (hidden["ProtectHome"], hidden["PrivateTmp"]) == (["yes"], ["yes"])


def test_a_port_that_needs_a_right_gets_that_right_alone():
    unit = service._unit(["/opt/qc/bin/qc"], Path("/srv/p"), [], [], "record", 443)

    assert settings(unit)["CapabilityBoundingSet"] == ["CAP_NET_BIND_SERVICE"]
    assert settings(unit)["AmbientCapabilities"] == ["CAP_NET_BIND_SERVICE"]


@pytest.mark.parametrize(
    ("more", "words_"),
    [
        (("--host", "0.0.0.0"), "plain HTTP on 0.0.0.0 is refused"),
        (("--cert", "no.crt", "--key", "no.key"), "no.crt is not there"),
        (("--user", "a b\nExecStart=/bin/sh"), "is no name of an account"),
        (("--name", "a\nb"), "no unit can hold"),
        (("--port", "0"), "0 is not in the range"),
    ],
)
def test_what_the_server_would_refuse_or_no_unit_can_hold_is_told_and_nothing_is_printed(plant, more, words_):
    answer = CliRunner().invoke(main, ["service", str(plant()), "--user", "daemon", *more])

    assert answer.exit_code != 0
    assert words_ in answer.output
    assert "[Service]" not in answer.stdout


def test_wrong_tables_are_told_with_the_command_that_lists_them(plant):
    folder = plant()
    (folder / "plant" / "zones.csv").write_text("x\n")
    answer = CliRunner().invoke(main, ["service", str(folder)])

    assert answer.exit_code == 1
    assert "qc check-plant" in answer.output


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="children are found by /proc")
def worker_of(pid: int) -> int:
    """Return the child that holds the record: the largest. The others are the starting method's helpers."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return int(max(children, key=lambda child: int(Path(f"/proc/{child}/statm").read_text().split()[1])))


def test_a_server_whose_worker_ended_ends_as_failed_so_that_it_is_started_again(plant):
    """On-failure means nothing where the end looks like a stop: the worker ends itself when the record stays closed."""
    folder = plant()
    open_journal(folder).close()
    port = free_port()
    asked = [sys.executable, "-c", "from qc.cli import main; main()", "serve", str(folder), "--port", str(port)]
    with subprocess.Popen(asked, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as served:
        try:
            assert any("Pages for a desk" in line for line in served.stdout)
            urlopen(f"http://127.0.0.1:{port}/health", timeout=60).close()  # the worker is there, and nobody starts it
            os.kill(worker_of(served.pid), signal.SIGTERM)
            assert served.wait(timeout=60) == 1
        finally:
            served.kill()


@pytest.mark.skipif(os.name == "nt", reason="no owners of files there")
def test_an_account_that_the_folder_is_kept_from_is_told_what_it_lacks(plant, program):
    """The unit was printed as if all were well, and its server ended at each start."""
    folder = plant("Haus 7")
    other = "nobody" if os.geteuid() == 0 else "root"
    own = Path(folder).owner()

    assert "chown" not in printed(folder)
    assert "chown" not in printed(folder, "--user", own)
    told = printed(folder, "--user", other)
    assert f"# Give it what it must read, as root: chown -R {other} '{folder}'\n" in told
    stranger = printed(folder, "--user", "quality-record")
    assert "# This machine has no account quality-record yet; make it first.\n" in stranger
    assert f"chown -R quality-record '{folder}'\n" in stranger
    assert settings(stranger)["User"] == ["quality-record"]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() != 0, reason="only root gives files away")
def test_one_file_that_another_account_made_in_the_folder_is_told(plant, program):
    folder = plant()
    for path in (folder, *folder.rglob("*")):
        os.chown(path, 65534, -1)
    assert "chown" not in printed(folder, "--user", "nobody")
    os.chown(folder / "plant" / "zones.csv", 0, -1)

    assert f"chown -R nobody {folder}\n" in printed(folder, "--user", "nobody")
