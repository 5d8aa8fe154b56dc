"""Commands for copies of a data folder: make one, restore one, and try both."""

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from qc.store.keeping.backup import Copied

EXISTING = click.Path(path_type=Path, exists=True, file_okay=False)
NEW = click.Path(path_type=Path, file_okay=False)
HAND_IN_FIRST = (
    "Before phones reach it, give people again the roles that they were given since that backup: what somebody records "
    "without one is refused for good. Then hand in again what came in at desks since: work on units waits for their "
    "plans."
)
KEYS = 'The folder "keys" is not in a backup: keep it apart, and put it back after a restore.'


@click.command(short_help="Copy a data folder while it is served, and verify the copy.")
@click.argument("folder", type=EXISTING)
@click.argument("target", type=NEW)
def backup(folder: Path, target: Path) -> None:
    """Copy FOLDER to the new folder TARGET: plant tables, record and photos. It counts once the copy is verified."""
    from qc.store.keeping.backup import back_up, lies_within, note_backup
    from qc.store.record.connection import RECORD

    try:
        copied = _tried(lambda: back_up(folder, target))
    except click.ClickException as failed:
        if (folder / RECORD).is_file():  # else there is no plant here that a note would be of
            with contextlib.suppress(OSError):  # the failure itself is what is told
                note_backup(folder, None, failed.message)
        raise
    _tell(copied, "Backed up to")
    if lies_within(folder, str(target)):
        click.echo(f"It lies in {folder} itself: what destroys one destroys both. Make one on another disk.")
    try:
        note_backup(folder, copied)
    except OSError as error:
        click.echo(f"That it was made could not be noted in {folder} ({error}); qc doctor will not know of it.")


@click.command(short_help="Make a data folder from a backup.")
@click.argument("backup", type=EXISTING)
@click.argument("folder", type=NEW)
def restore(backup: Path, folder: Path) -> None:
    """Make the new or empty FOLDER from BACKUP, verified. Phones then offer again what they kept since."""
    from qc.store.keeping.backup import restore as restored

    _tell(_tried(lambda: restored(backup, folder)), "Restored to")
    click.echo(HAND_IN_FIRST)


@click.command(short_help="Try a backup and a restore, and throw both away.")
@click.argument("folder", type=EXISTING)
def drill(folder: Path) -> None:
    """Back FOLDER up, restore that backup, verify both, and leave nothing behind: a backup that was never restored
    is a hope.
    """
    from qc.store.keeping.backup import drill as drilled

    done = _tried(lambda: drilled(folder))
    click.echo(f"Backed up and restored {done.operations} operations and {done.photos} photos; both copies verified.")


def _tried(act: "Callable[[], Copied]") -> "Copied":
    from qc.store.keeping.backup import NotABackup, PlaceTaken

    try:
        return act()
    except (NotABackup, PlaceTaken) as error:
        raise click.ClickException(str(error)) from error


def _tell(copied: "Copied", words: str) -> None:
    click.echo(f"{words} {copied.folder}: {copied.operations} operations, {copied.photos} photos, verified.")
    last = f"{copied.operations}:{copied.head}" if copied.head else "(none)"  # as verify --noted asks for it
    click.echo(f"Last row {last}; note it where nobody can change it.")
    click.echo(KEYS)
