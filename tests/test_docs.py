"""What exists is written down: a command, an option, a page or a kind of operation that the docs miss fails here."""

import re
from pathlib import Path

import click
import pytest

from qc.cli import COMMANDS, main
from qc.domain.acts.kinds import KINDS
from qc.domain.facts.operations import VERDICTS
from qc.store.tables.migrations import MIGRATIONS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()


def commands() -> dict[str, click.Command]:
    """Return every command, those of a group too, by the words that call it."""
    found: dict[str, click.Command] = {}
    for name in COMMANDS:
        command = main.get_command(click.Context(main), name)
        found[name] = command
        # the statistics have a page of their own, which tests/cli runs
        if isinstance(command, click.Group) and name != "stat":
            inner = click.Context(command)
            found |= {f"{name} {sub}": command.get_command(inner, sub) for sub in command.list_commands(inner)}
    return found


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_stands_in_the_readme(name):
    assert f"`qc {name}" in README


@pytest.mark.parametrize("name", commands())
def test_a_command_tells_what_it_is_for(name):
    assert (commands()[name].help or "").strip()


def test_the_settings_of_the_commands_stand_in_the_developers_page():
    options = {
        (name, option)
        for name, command in commands().items()
        for parameter in command.params
        if isinstance(parameter, click.Option)
        for option in parameter.opts
        if option.startswith("--") and option != "--help"
    }

    assert [pair for pair in sorted(options) if not re.search(rf"`{re.escape(pair[1])}[ `]", DEVELOPERS)] == []


@pytest.mark.parametrize("name", KINDS)
def test_a_kind_of_operation_stands_in_the_developers_page(name):
    assert f"`{name}`" in DEVELOPERS


@pytest.mark.parametrize("verdict", VERDICTS)
def test_a_verdict_stands_in_the_developers_page(verdict):
    assert f"`{verdict}`" in DEVELOPERS


def test_a_kind_that_has_no_effect_yet_is_named_as_such():
    later = {name for name, kind in KINDS.items() if not kind.effective}
    (told,) = re.findall(r"Without effect yet.*?says so\):(.*?)\n\n", DEVELOPERS, re.S)

    assert set(re.findall(r"`(\w+)`", told)) == later


def test_a_migration_stands_in_the_developers_page():
    assert [step.number for step in MIGRATIONS if f"| {step.number} | " not in DEVELOPERS] == []


def test_a_page_stands_in_the_developers_page(tmp_path):
    from tests.web.plant_server import PlantServer

    server = PlantServer(tmp_path / "plant")
    try:
        rules = {rule.rule for rule in server.app.url_map.iter_rules() if not rule.rule.startswith(("/api/", "/a/"))}
    finally:
        server.house.close()

    assert [rule for rule in sorted(rules) if f"`{rule}`" not in DEVELOPERS] == []


def test_the_readme_opens_with_the_job_in_one_paragraph_and_then_two_commands():
    title, job, commands_heading = re.split(r"\n\n", README)[:3]

    assert title.startswith("# ")
    assert len(job.split()) > 80
    assert "## Two commands" in README
    assert re.findall(r"```sh\n(.*?)\n```", README, re.S)[:2] == [
        "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/qc demo",
        "tests/run",
    ]
    assert not commands_heading.startswith("```")
