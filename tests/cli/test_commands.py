"""The commands answer at once, name what is wrong, and leave what is there alone."""

import subprocess
import sys
from importlib import import_module

import click
import pytest
from click.testing import CliRunner

from qc.cli import COMMANDS, main


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
