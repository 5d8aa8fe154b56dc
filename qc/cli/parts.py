"""Commands for the parts that the program is made of: list them, write their bill, make and check the server's lock."""

import json
import sys
from pathlib import Path

import click


@click.group(short_help="List the parts of this install, check and make the server's lock.")
def parts() -> None:
    """List the parts of this install, write their bill of materials, check and make the lock of a server's install."""


@parts.command("list")
def list_parts() -> None:
    """List every part that is installed here for this program, with its version and licence."""
    from qc.parts import installed_parts

    for part in installed_parts():
        click.echo(f"{part.name}  {part.version}  {part.licence}")


@parts.command("bill")
def write_bill() -> None:
    """Write the bill of materials of this install as CycloneDX 1.5 JSON."""
    from qc.parts import bill, installed_parts, read_lock

    click.echo(json.dumps(bill(installed_parts(), read_lock()), indent=1))


@parts.command("check")
def check() -> None:
    """Check that the lock pins every part within its bounds, and tell where this install differs from it.

    Ends with 0 where the lock holds and is what is installed, 1 where it is not.
    """
    from qc.parts import differences, installed_parts, lock_faults, read_lock

    lock, here = read_lock(), installed_parts()
    faults, others = lock_faults(lock, here), differences(lock, here)
    for words in faults:
        click.echo(f"lock: {words}")
    for words in others:
        click.echo(f"install: {words}")
    if not faults and not others:
        click.echo(f"{len(lock)} parts are pinned, and {len(here)} are installed as pinned.")
    sys.exit(1 if faults or others else 0)


@parts.command("lock")
@click.argument("project", type=click.Path(path_type=Path, exists=True, file_okay=False))
def lock(project: Path) -> None:
    """Make the lock anew for the source in PROJECT, from the registry that the installer is set to."""
    from qc.parts import CannotLock, make_lock

    try:
        made = make_lock(project, project / "qc" / "server.lock")
    except CannotLock as why:
        raise click.ClickException(str(why)) from why
    click.echo(f"{len(made)} parts are pinned, {sum(len(pin.hashes) for pin in made.values())} files.")
