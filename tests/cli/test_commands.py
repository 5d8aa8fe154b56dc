"""The commands answer at once, name what is wrong, and leave what is there alone."""

import subprocess
import sys
from importlib import import_module
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from qc.cli import COMMANDS, main
from tests.web.plant_server import cheap_hashes


def test_help_imports_nothing_heavy():
    watched = "numpy scipy statsmodels plotly pandas flask sqlite_utils PIL argon2 cryptography sqlite3 zoneinfo"
    code = (
        "import sys\nfrom click.testing import CliRunner\nfrom qc.cli import main\n"
        "answer = CliRunner().invoke(main, ['--help'])\nassert answer.exit_code == 0, answer.output\n"
        f"print([name for name in {watched.split()!r} if name in sys.modules])\n"
        "print([name for name in sys.modules if name.startswith('qc.') and name != 'qc.cli'])"
    )

    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert answer.stdout.split("\n")[:2] == ["[]", "[]"]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_of_the_table_exists_and_has_help(name):
    module, function = COMMANDS[name][0].split(":")

    assert isinstance(getattr(import_module(module), function), click.Command)
    assert CliRunner().invoke(main, [name, "--help"]).exit_code == 0


def test_an_unknown_command_is_refused_by_name():
    answer = CliRunner().invoke(main, ["relese"])

    assert answer.exit_code == 2
    assert "relese" in answer.output


def test_a_new_folder_passes_its_own_check(tmp_path):
    assert CliRunner().invoke(main, ["init", str(tmp_path / "works")]).exit_code == 0

    answer = CliRunner().invoke(main, ["check-plant", str(tmp_path / "works")])

    assert answer.exit_code == 0
    assert "no fault found" in answer.output
    assert "Demo data, limits not for use." in answer.output


def test_a_new_folder_says_where_its_columns_are_explained(tmp_path):
    (line,) = [one for one in CliRunner().invoke(main, ["init", str(tmp_path)]).output.splitlines() if "holds:" in one]

    assert "`can_detect`" in Path(line.partition(": ")[2]).read_text(encoding="utf-8")


def test_a_plant_that_is_there_is_not_written_over(tmp_path):
    CliRunner().invoke(main, ["init", str(tmp_path)])
    table = tmp_path / "plant" / "stations.csv"
    table.write_text("mine")

    answer = CliRunner().invoke(main, ["init", str(tmp_path)])

    assert answer.exit_code == 1
    assert "is there already" in answer.output
    assert table.read_text() == "mine"


def test_each_fault_of_a_folder_is_told_with_its_place(tmp_path):
    CliRunner().invoke(main, ["init", str(tmp_path)])
    table = tmp_path / "plant" / "stations.csv"
    table.write_text(table.read_text().replace("FU1,Furniture shop,feeder", "FU1,Furniture shop,fedder"))

    answer = CliRunner().invoke(main, ["check-plant", str(tmp_path)])

    assert answer.exit_code == 1
    assert "stations.csv, row 4, kind: 'fedder' is not one of main, feeder" in answer.output
    assert "1 fault; nothing was changed" in answer.output


@pytest.fixture
def _cheap_hashes():
    """A play's three dozen PINs take longer to hash than its one week to play; no test here tries one."""
    with cheap_hashes():
        yield


@pytest.mark.usefixtures("_cheap_hashes")
def test_the_demo_is_made_once_with_sign_ins_and_then_used_as_it_is(tmp_path):
    """One week is played; a second call shows no PIN and changes nothing."""
    call = ["demo", "--folder", str(tmp_path / "demo"), "--weeks", "1", "--seed", "3", "--no-serve"]

    made = CliRunner().invoke(main, call)
    again = CliRunner().invoke(main, call)

    assert made.exit_code == 0, made.output
    assert "Demo data, limits not for use." in made.output
    assert all(f"  {code} " in made.output for code in ("I1", "TB1", "RW1", "QM1", "L-S07", "DX1", "AD1", "PL1"))
    assert "week 1 of 1" in made.output
    assert again.exit_code == 0
    assert "is used as it is" in again.output
    assert "  I1 " not in again.output
    assert not (tmp_path / "demo.making").exists()


@pytest.mark.usefixtures("_cheap_hashes")
def test_the_demos_clock_stands_on_the_monday_after_its_last_week(tmp_path):
    from datetime import date

    from qc.domain.plant.calendar import ProductionCalendar
    from qc.domain.tables.plant_tables import read_plant
    from qc.store.folder.plant_folder import folder_clock, tables_folder

    CliRunner().invoke(main, ["demo", "--folder", str(tmp_path / "demo"), "--weeks", "1", "--no-serve"])
    plant = read_plant(tables_folder(tmp_path / "demo"))

    assert ProductionCalendar(plant).local(folder_clock(tmp_path / "demo")()).date() == date(2026, 3, 9)


def test_a_folder_that_no_demo_made_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")

    answer = CliRunner().invoke(main, ["demo", "--folder", str(tmp_path), "--no-serve"])

    assert answer.exit_code == 1
    assert "no demo made it" in answer.output
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_the_demos_variants_are_those_that_can_be_played():
    from qc.cli import demo
    from qc.demo import variants

    assert tuple(variants.VARIANTS) == demo.VARIANTS


@pytest.mark.usefixtures("_cheap_hashes")
def test_a_play_that_was_broken_off_is_begun_anew_and_anything_else_is_not_removed(tmp_path):
    call = ["demo", "--folder", str(tmp_path / "demo"), "--weeks", "1", "--no-serve"]
    (tmp_path / "demo.making").mkdir()
    (tmp_path / "demo.making" / "letters.txt").write_text("mine")

    refused = CliRunner().invoke(main, call)
    kept = (tmp_path / "demo.making" / "letters.txt").read_text()
    (tmp_path / "demo.making" / "plant").mkdir()
    made = CliRunner().invoke(main, call)

    assert refused.exit_code == 1
    assert kept == "mine"
    assert made.exit_code == 0
    assert (tmp_path / "demo" / "demo.json").is_file()
