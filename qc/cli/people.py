"""Commands for the people and the phones: the first administrator begins here, no password is ever built in.

They write beside a running server: the accounts hold nothing that the server keeps in memory, and it looks each
sign-in up at every request.
"""

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, get_args

import click

from qc.domain.people import Role

FOLDER = click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))


@click.group(short_help="Add, change and list the people who may sign in.")
def user() -> None:
    """Add, change and list the people who may sign in. People are ended, never deleted."""


@user.command("add")
@FOLDER
@click.argument("code")
@click.option("--name", required=True, help="The person's name.")
@click.option("--role", required=True, type=click.Choice(get_args(Role)))
@click.option("--station", "stations", multiple=True, help="A station that a station lead answers for; repeatable.")
@click.option("--ask", is_flag=True, help="Type the PIN or passphrase instead of being given one.")
def add(folder: Path, code: str, name: str, role: Role, stations: tuple[str, ...], ask: bool) -> None:
    """Add a person to FOLDER under CODE and show the PIN or passphrase once."""
    from qc.domain.operations import code as code_shape
    from qc.domain.operations import text
    from qc.domain.people import Person
    from qc.store.pins import new_secret

    for value, check, what in ((code, code_shape(32), "CODE"), (name, text(80), "--name")):
        if why := check(value):
            raise click.ClickException(f"{what} {why}; nothing was added")
    if stations and role != "station_lead":
        raise click.ClickException(f"--station is for a station lead, not for a {role.replace('_', ' ')}")
    _demand_stations(folder, stations)
    secret = _typed() if ask else new_secret(role, code)
    with _accounts(folder) as (people, _):
        _told(lambda: people.add(Person(code, name, role, stations), secret))
    click.echo(f"Added {code}, {role.replace('_', ' ')}.")
    _show_once(secret, ask)


@user.command("secret")
@FOLDER
@click.argument("code")
@click.option("--ask", is_flag=True, help="Type the PIN or passphrase instead of being given one.")
def new_pin(folder: Path, code: str, ask: bool) -> None:
    """Give CODE a new PIN or passphrase; their sign-ins end and wrong tries are forgotten."""
    from qc.store.pins import new_secret

    with _accounts(folder) as (people, _):
        person = people.get(code)
        secret = _typed() if ask else new_secret(person.role if person else "", code)
        _told(lambda: people.change_secret(code, secret))
    click.echo(f"{code} has a new one; earlier sign-ins have ended.")
    _show_once(secret, ask)


@user.command("role")
@FOLDER
@click.argument("code")
@click.argument("role", type=click.Choice(get_args(Role)))
@click.option("--station", "stations", multiple=True, help="A station that a station lead answers for; repeatable.")
def change_role(folder: Path, code: str, role: Role, stations: tuple[str, ...]) -> None:
    """Give CODE another ROLE from now on; what they did before stays as it was."""
    _demand_stations(folder, stations)
    with _accounts(folder) as (people, _):
        _told(lambda: people.assign(code, role, stations))
    click.echo(f"{code} is {role.replace('_', ' ')} from now on.")


@user.command("end")
@FOLDER
@click.argument("code")
def end(folder: Path, code: str) -> None:
    """Let CODE sign in no longer; what they did stays under their name."""
    with _accounts(folder) as (people, _):
        _told(lambda: people.end(code))
    click.echo(f"{code} can sign in no longer.")


@user.command("list")
@FOLDER
def list_people(folder: Path) -> None:
    """List the people of FOLDER."""
    with _accounts(folder) as (people, _):
        active = {person.code for person in people.all()}
        for person in people.all(ended=True):
            stations = f" of {', '.join(person.stations)}" if person.stations else ""
            left = "" if person.code in active else ", has left"
            click.echo(f"{person.code}  {person.name}, {person.role.replace('_', ' ')}{stations}{left}")
        if not people.all(ended=True):
            click.echo("Nobody yet. Begin with: qc user add FOLDER CODE --name NAME --role administrator")


@click.group(short_help="List the phones and take one out of use.")
def device() -> None:
    """List the phones and take one out of use. A phone is given its code at its first sign-in."""


@device.command("list")
@FOLDER
def list_devices(folder: Path) -> None:
    """List the phones that have signed in to FOLDER, oldest first; times in UTC."""
    from datetime import UTC, datetime

    with _accounts(folder) as (_, devices):
        for one in devices.all():
            seen = datetime.fromtimestamp(one.last_seen_ms / 1000, UTC).strftime("%Y-%m-%d %H:%M UTC")
            click.echo(f"{one.code}  last signed in {seen}{', out of use' if one.revoked else ''}")
        if not devices.all():
            click.echo("No phone has signed in yet.")


@device.command("revoke")
@FOLDER
@click.argument("code")
@click.option("--undo", is_flag=True, help="Take it back into use.")
def revoke(folder: Path, code: str, undo: bool) -> None:
    """Take the phone CODE out of use at its next request; what it still sends is kept aside, without effect."""
    with _accounts(folder) as (_, devices):
        _told(lambda: devices.revoke(code, not undo))
    click.echo(f"{code} is {'back in use' if undo else 'out of use'}.")


class _accounts:  # noqa: N801 - used as a function in a with statement
    """Opens a folder's accounts, its record made where there is none yet."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def __enter__(self) -> Any:
        from qc.store.connection import RECORD, RecordInUse, SettingRefused, open_reader, open_writer
        from qc.store.devices import Devices
        from qc.store.people import People
        from qc.store.pins import PepperMissing
        from qc.store.plant_folder import folder_clock

        path = self._folder / RECORD
        try:
            if not path.exists():
                _make_record(self._folder)
            self._writer = open_writer(path)
            self._reader = open_reader(path)
            people = People(self._folder / "keys", self._write, lambda: self._reader, folder_clock(self._folder))
        except (PepperMissing, RecordInUse, SettingRefused) as why:
            raise click.ClickException(str(why)) from why
        return people, Devices(self._write, lambda: self._reader)

    def _write(self, work: Callable[[sqlite3.Connection], Any]) -> Any:
        self._writer.execute("BEGIN IMMEDIATE")
        try:
            answer = work(self._writer)
        except BaseException:
            self._writer.execute("ROLLBACK")
            raise
        self._writer.execute("COMMIT")
        return answer

    def __exit__(self, *_: object) -> None:
        self._reader.close()
        self._writer.close()


def _make_record(folder: Path) -> None:
    from qc.domain.plant_tables import PlantFaults, plant_from_tables, tables_of
    from qc.store.journal import Journal
    from qc.store.plant_folder import tables_folder

    os.umask(0o077)  # the record holds names and what was found: it is the server account's alone
    try:
        tables = tables_of(tables_folder(folder))
        with closing(Journal(folder, plant_from_tables(tables), tables)):
            pass
    except (PlantFaults, OSError) as why:
        raise click.ClickException(f"{folder} holds no plant that can be used; begin with: qc init FOLDER") from why


def _demand_stations(folder: Path, stations: tuple[str, ...]) -> None:
    from qc.domain.plant_tables import PlantFaults, read_plant
    from qc.store.plant_folder import tables_folder

    if not stations:
        return
    try:
        known = read_plant(tables_folder(folder)).stations
    except PlantFaults as why:
        raise click.ClickException(f"the plant's tables have faults; check them with: qc check-plant {folder}") from why
    for station in stations:
        if station not in known:
            raise click.ClickException(f"the plant has no station {station!r}; it has {', '.join(known)}")


def _typed() -> str:
    return str(click.prompt("PIN or passphrase", hide_input=True, confirmation_prompt=True))


def _show_once(secret: str, typed: bool) -> None:
    if not typed:
        click.echo(f"Shown once: {secret}")


def _told(work: Callable[[], None]) -> None:
    from qc.store.devices import NoSuchDevice
    from qc.store.people import NoSuchPerson, PersonExists, WeakSecret

    try:
        work()
    except (NoSuchPerson, PersonExists, WeakSecret, NoSuchDevice) as why:
        raise click.ClickException(str(why)) from why
