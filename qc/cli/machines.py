"""Commands for the tokens of machines: a planning system hands in plans, a plant's reports read the tables."""

from datetime import UTC, datetime
from pathlib import Path

import click

from qc.cli.people import FOLDER, accounts, console, told
from qc.domain.line.machines import SCOPES


@click.group(short_help="Make, list and end the tokens of machines.")
def token() -> None:
    """Make, list and end the tokens with which machines ask this server. What each opens stands in the docs."""


@token.command("make")
@FOLDER
@click.argument("name")
@click.option("--may", multiple=True, required=True, type=click.Choice(SCOPES), help="What it may do; repeatable.")
@click.option("--in-name-of", metavar="CODE", default="", help="The planner in whose name its plans come in.")
def make(folder: Path, name: str, may: tuple[str, ...], in_name_of: str) -> None:
    """Make a token called NAME in FOLDER and show it once; only its SHA-256 is kept."""
    from qc.domain.facts.operations import new_code

    for value, what in ((name, "NAME"), (in_name_of or "X", "--in-name-of")):
        if why := new_code(32)(value):
            raise click.ClickException(f"{what} {why}; nothing was made")
    if "plan" in may and not in_name_of:
        words = "a plan comes in under somebody's name; name a planner with --in-name-of CODE"
        raise click.ClickException(f"{words}. Nothing was made")
    made: list[str] = []
    with accounts(folder) as office:
        scopes = tuple(dict.fromkeys(may))
        told(lambda: made.append(office.machines.make(name, scopes, in_name_of.upper(), console())))
    whose = f" in the name of {in_name_of.upper()}" if in_name_of else ""
    click.echo(f"Made {name}, which may {' and '.join(scopes)}{whose}. End it with: qc token end {folder} {name}")
    click.echo(f"Shown once: {made[0]}")


@token.command("list")
@FOLDER
def list_tokens(folder: Path) -> None:
    """List the tokens of FOLDER, those in use first; times in UTC."""
    with accounts(folder) as office:
        tokens, wrong = office.machines.all(), office.machines.wrong_tokens()
    for one in tokens:
        used = f"last used {_minute(one.last_used_ms)}" if one.last_used_ms else "not used yet"
        whose = f" in the name of {one.in_name_of}" if one.in_name_of else ""
        trouble = f"; hands in nothing: {one.trouble}" if one.trouble and not one.ended else ""
        click.echo(f"{one.code}  {' and '.join(one.may)}{whose}, {used}{', ended' if one.ended else ''}{trouble}")
    if not tokens:
        click.echo("No machine has a token. Begin with: qc token make FOLDER NAME --may read")
    for tries in wrong:
        click.echo(f"Wrong tokens from {tries.address}: {tries.tries}, last {_minute(tries.last_ms)}")


@token.command("end")
@FOLDER
@click.argument("name")
def end(folder: Path, name: str) -> None:
    """Let the token NAME open nothing from its next request on. What came in by it stays."""
    with accounts(folder) as office:
        told(lambda: office.machines.end(name, console()))
    click.echo(f"{name} opens nothing any more.")


def _minute(ms: int) -> str:
    return datetime.fromtimestamp(ms / 1000, UTC).strftime("%Y-%m-%d %H:%M UTC")
