"""Commands for the people and the phones: the first administrator begins here, no password is ever built in.

Each act is told in the journal as the console's, with the machine's account. They write beside a running server, which
looks each sign-in up at every request.
"""

import os
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import click

from qc.domain.facts.people import InRoles, Person, Role, Roles, words_of

if TYPE_CHECKING:
    from qc.store.intake.journal import Journal
    from qc.store.people.devices import Devices
    from qc.store.people.machines import Machines
    from qc.store.people.persons import People
    from qc.store.people.telling import Beside
    from qc.store.record.own_word import By

FOLDER = click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
ALSO = click.option("--also", multiple=True, type=click.Choice(get_args(Role)), help="A further role; repeatable.")


@click.group(short_help="Add, change and list the people who may sign in.")
def user() -> None:
    """Add, change and list the people who may sign in. People are ended, never deleted."""


@user.command("add")
@FOLDER
@click.argument("code")
@click.option("--name", required=True, help="The person's name.")
@click.option("--role", required=True, type=click.Choice(get_args(Role)))
@ALSO
@click.option("--station", "stations", multiple=True, help="A station that a station lead answers for; repeatable.")
@click.option("--ask", is_flag=True, help="Type the PIN or passphrase instead of being given one.")
def add(
    folder: Path, code: str, name: str, role: Role, also: tuple[Role, ...], stations: tuple[str, ...], ask: bool
) -> None:
    """Add a person to FOLDER under CODE, in capitals, and show the PIN or passphrase once."""
    from qc.domain.facts.operations import new_code, text
    from qc.store.people.pins import new_secret

    code = code.upper()
    for value, check, what in ((code, new_code(32), "CODE"), (name, text(80), "--name")):
        if why := check(value):
            raise click.ClickException(f"{what} {why}; nothing was added")
    person = Person(code, name, role, stations, also)
    _demand_fit(folder, person, stations)
    secret = _typed() if ask else new_secret(person, code)
    with accounts(folder) as office:
        people = office.people
        told(lambda: people.add(person, secret, console()))
    click.echo(f"Added {code}, {person.role_words}.")
    _show_once(secret, ask)


@user.command("secret")
@FOLDER
@click.argument("code")
@click.option("--ask", is_flag=True, help="Type the PIN or passphrase instead of being given one.")
def new_pin(folder: Path, code: str, ask: bool) -> None:
    """Give CODE a new PIN or passphrase; their sign-ins end and wrong tries are forgotten."""
    from qc.store.people.pins import new_secret

    with accounts(folder) as office:
        people = office.people
        code = _person(people, code)
        person = people.get(code)
        secret = _typed() if ask else new_secret(person or Roles(), code)
        told(lambda: people.change_secret(code, secret, console()))
    click.echo(f"{code} has a new one; earlier sign-ins have ended.")
    _show_once(secret, ask)


@user.command("role")
@FOLDER
@click.argument("code")
@click.argument("role", type=click.Choice(get_args(Role)), metavar="ROLE")
@ALSO
@click.option("--station", "stations", multiple=True, help="A station that a station lead answers for; repeatable.")
@click.option("--ask", is_flag=True, help="Type the passphrase that the role needs instead of being given one.")
def change_role(
    folder: Path, code: str, role: Role, also: tuple[Role, ...], stations: tuple[str, ...], ask: bool
) -> None:
    """Give CODE another ROLE from now on, and of further ones those named; what they did before stays as it was.

    Who becomes quality manager or administrator and has a PIN is given a passphrase in the same step.
    """
    from qc.store.people.pins import new_secret

    roles = Roles(role, also)
    _demand_fit(folder, roles, stations)
    with accounts(folder) as office:
        people = office.people
        code = _person(people, code)
        is_needed = people.needs_passphrase(code, roles)
        secret = (_typed() if ask else new_secret(roles, code)) if is_needed else None
        told(lambda: people.assign(code, role, stations, console(), secret, also))
    click.echo(f"{code} is {roles.role_words} from now on.")
    if secret:
        click.echo("The PIN no longer signs them in; a passphrase does.")
        _show_once(secret, ask)


@user.command("end")
@FOLDER
@click.argument("code")
@click.option("--undo", is_flag=True, help="Let them sign in again, with the PIN or passphrase that they had.")
def end(folder: Path, code: str, undo: bool) -> None:
    """Let CODE sign in no longer; what they did stays under their name."""
    with accounts(folder) as office:
        people = office.people
        code = _person(people, code)
        told(lambda: (people.take_back if undo else people.end)(code, console()))
    click.echo(f"{code} can sign in again." if undo else f"{code} can sign in no longer.")


@user.command("list")
@FOLDER
def list_people(folder: Path) -> None:
    """List the people of FOLDER."""
    with accounts(folder) as office:
        people = office.people
        active = {person.code for person in people.all()}
        for person in people.all(ended=True):
            left = "" if person.code in active else ", has left"
            click.echo(f"{person.code}  {person.name}, {words_of(person.roles, person.stations)}{left}")
        if not people.all(ended=True):
            click.echo("Nobody yet. Begin with: qc user add FOLDER CODE --name NAME --role administrator")


@click.group(short_help="List the phones, enrol one, take one out of use.")
def device() -> None:
    """List the phones, enrol one and take one out of use."""


@device.command("list")
@FOLDER
def list_devices(folder: Path) -> None:
    """List the phones that have signed in to FOLDER, oldest first; times in UTC."""
    from datetime import UTC, datetime

    with accounts(folder) as office:
        devices = office.devices
        for one in devices.all():
            seen = datetime.fromtimestamp(one.last_seen_ms / 1000, UTC).strftime("%Y-%m-%d %H:%M UTC")
            told = f"last signed in {seen}" if one.last_seen_ms else "nobody has signed in on it yet"
            click.echo(f"{one.code}  {told}{', out of use' if one.revoked else ''}")
        if not devices.all():
            click.echo("No phone is enrolled yet. Begin with: qc device enrol FOLDER")


@device.command("enrol")
@FOLDER
@click.argument("code", required=False)
@click.option("--address", help="Where phones find the server, as https://record.plant.example:8443, for the QR code.")
def enrol(folder: Path, code: str | None, address: str | None) -> None:
    """Offer one phone more to be enrolled in FOLDER, or the phone CODE to be given a new secret.

    The offer serves one phone, once, within ten minutes: as a QR code for its camera, or as letters to type.
    """
    from qc.store.people.enrolment import Enrolment, parted

    with accounts(folder) as office:
        devices = office.devices
        if code and code not in {one.code for one in devices.all()}:
            raise click.ClickException(f"no phone has the code {code}; leave it out to enrol one phone more")
        record = devices.record
        offer = Enrolment(record, record.certificates).offer(console(), code or "")
    click.echo(f"For {code or 'one phone more'}, once, within ten minutes.")
    if address:
        import segno

        link = enrolment_link(address, offer.letters)
        segno.make(link, error="m").terminal(compact=True)
        click.echo(link)
    how = "Or open the app" if address else "Open the app on the phone (--address shows a QR code to read instead)"
    click.echo(f"{how}, then Enrol this phone, and type: {parted(offer.letters)}")


def enrolment_link(address: str, letters: str) -> str:
    """Return what a phone opens to be enrolled; the letters stand behind #, which no server is sent."""
    return f"{address.rstrip('/')}/app/#/enrol/{letters}"


@device.command("revoke")
@FOLDER
@click.argument("code")
@click.option("--undo", is_flag=True, help="Take it back into use.")
def revoke(folder: Path, code: str, undo: bool) -> None:
    """Take the phone CODE out of use at its next request; what it still sends is kept aside, without effect."""
    with accounts(folder) as office:
        devices = office.devices
        told(lambda: devices.revoke(code, not undo, console()))
    click.echo(f"{code} is {'back in use' if undo else 'out of use'}.")


@dataclass(frozen=True, slots=True)
class Office:
    """Who and what acts in a folder, open for a command."""

    people: "People"
    devices: "Devices"
    machines: "Machines"


@contextmanager
def accounts(folder: Path) -> Iterator[Office]:
    """Open a folder's people, phones and machines beside a server that has it open; its record is made if need be."""
    from qc.store.people.devices import Devices
    from qc.store.people.machines import Machines
    from qc.store.people.persons import People
    from qc.store.people.pins import PepperMissing
    from qc.store.record.connection import RECORD, RecordInUse, SettingRefused, open_reader
    from qc.store.record.signing import KeyLost

    os.umask(0o077)  # the record holds names and what was found: it is the server account's alone
    try:
        with record_of(folder) as record, closing(open_reader(folder / RECORD)) as reader:
            people = People(folder / "keys", record, lambda: reader)
            yield Office(people, Devices(record, lambda: reader), Machines(record, lambda: reader, record.clock))
    except (PepperMissing, RecordInUse, SettingRefused, KeyLost) as why:
        raise click.ClickException(str(why)) from why


def record_of(folder: Path) -> "Journal | Beside":
    """Return a folder's record to be written to, beside a server where one runs. Raises RecordInUse, KeyLost."""
    from qc.domain.tables.plant_tables import PlantFaults, plant_from_tables, tables_of
    from qc.store.folder.plant_folder import folder_clock, tables_folder
    from qc.store.intake.journal import Journal
    from qc.store.people.telling import Beside, latest_tables
    from qc.store.record.connection import RecordInUse

    try:
        tables = latest_tables(folder) or tables_of(tables_folder(folder))
        plant = plant_from_tables(tables)
    except (PlantFaults, OSError) as why:
        raise click.ClickException(f"{folder} holds no plant that can be used; begin with: qc init FOLDER") from why
    try:
        return Journal(folder, plant, tables, folder_clock(folder))
    except RecordInUse:
        return Beside(folder, folder_clock(folder))


def console() -> "By":
    """Return on whose word a command acts: the server's own, told with the machine's account it ran under."""
    from getpass import getuser

    from qc.store.record.own_word import By

    try:
        return By(at_console=getuser())
    except (OSError, KeyError):
        return By(at_console=f"account {os.getuid()}")


def _person(people: "People", code: str) -> str:
    """Return a person's code as it is kept: codes are given in capitals and may be typed in small letters."""
    return code if people.get(code) else code.upper()


def _demand_fit(folder: Path, roles: InRoles, stations: tuple[str, ...]) -> None:
    if twice := [one for one in get_args(Role) if roles.roles.count(one) > 1]:
        raise click.ClickException(f"{words_of(twice)} is named twice; name each role once. Nothing was changed")
    if led := [one for one in dict.fromkeys(stations) if stations.count(one) > 1]:
        raise click.ClickException(f"{led[0]} is named twice with --station; name each once. Nothing was changed")
    if stations and not roles.has("station_lead"):
        raise click.ClickException(f"--station is for a station lead, not for a {roles.role_words}")
    if roles.has("station_lead") and not stations:
        raise click.ClickException("a station lead answers for a station; name one or more with --station")
    from qc.domain.tables.plant_tables import PlantFaults, read_plant
    from qc.store.folder.plant_folder import tables_folder

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


def told(work: Callable[[], None]) -> None:
    """Do something; a refusal is told in its words and ends the command."""
    from qc.store.people.devices import NoSuchDevice
    from qc.store.people.persons import NoSuchPerson, NotTold, PersonExists, WeakSecret

    try:
        work()
    except (NoSuchPerson, NotTold, PersonExists, WeakSecret, NoSuchDevice) as why:
        raise click.ClickException(str(why)) from why
