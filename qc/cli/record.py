"""Commands for the record: verify it, derive its tables anew, take in what a phone exported."""

import base64
import json
import re
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, NoReturn

import click

if TYPE_CHECKING:
    from qc.domain.plant.plant import Plant
    from qc.store.checking.verify import VerifyReport
    from qc.store.folder.photos import PhotoStore
    from qc.store.record.verdicts import Verdict
    from qc.web.house import House
    from qc.web.json_door import Part

FOLDER = click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
PIECE = 100  # operations in one push, as phones send them
# What became of an operation, by its verdict, as the pages and the app say it.
BECAME = {
    "applied": "taken in",
    "duplicate": "taken in before, as it is",
    "parked": "kept until what it builds on has come",
    "quarantined": "set aside without effect until the quality manager looks at it",
    "refused": "kept without effect, with the reason",
}
MOST_BYTES = 256_000_000  # a phone keeps some hundred photos of half a megabyte, a third longer as text


@click.command(short_help="Check that the record is what it was.")
@FOLDER
@click.option("--json", "as_json", is_flag=True, help="Write the report as JSON.")
@click.option("--noted", metavar="ROW:HASH", help="A row and its hash, noted elsewhere, that the journal must hold.")
def verify(folder: Path, as_json: bool, noted: str | None) -> None:
    """Check FOLDER's record: the chain, its tables against the journal, each release judged again, the photos.

    It says what it could check and names what it does not cover; static/docs/verify.md tells how each was tried.
    A server may go on meanwhile. Ends with 0 where nothing is wrong, 1 where something is, 2 where it cannot tell.
    """
    from qc.store.checking.verify import CannotVerify
    from qc.store.checking.verify import verify as verified

    try:
        report = verified(folder, _noted(noted))
    except CannotVerify as error:
        click.echo(
            json.dumps({"whole": None, "cannot": str(error)}) if as_json else f"Cannot verify: {error}.",
            err=not as_json,
        )
        sys.exit(2)
    if as_json:
        click.echo(json.dumps(report.as_dict(), indent=1))
    else:
        _tell(report)
    sys.exit(report.exit_code)


def _noted(text: str | None) -> tuple[int, str] | None:
    if text is None:
        return None
    number, _, digest = text.partition(":")
    if not (number.isascii() and number.isdigit() and re.fullmatch("[0-9a-f]{64}", digest)):
        raise click.BadParameter(
            "give a row's number and its hash as verify prints them: 1234:0f3a…", param_hint="--noted"
        )
    return int(number), digest


def _tell(report: "VerifyReport") -> None:
    from qc.store.checking.verify_limits import BEYOND_THE_FOLDER, NOT_COVERED

    for check in report.checks:
        found = f"{check.faults} WRONG" if check.faults else "nothing wrong"
        click.echo(f"{check.name}: {check.looked_at} looked at, {found}")
        for words in check.told:
            click.echo(f"  {words}")
    for note in report.notes:
        click.echo(f"note: {note}")
    for one in NOT_COVERED:
        click.echo(f"not covered: {one.table}{f' ({chr(44).join(one.columns)})' if one.columns else ''}: {one.why}")
    for words in BEYOND_THE_FOLDER:
        click.echo(f"not covered: {words}")
    click.echo(f"Last row {report.last_row}:{report.last_hash}; note it where nobody can change it.")
    if report.is_whole:
        click.echo("What was checked is what was written. What is not covered stands above.")
    else:
        click.echo("The record is NOT what was written. Keep this folder as it is and restore the last good backup.")


@click.command(short_help="Derive the record's tables anew from its journal.")
@FOLDER
def rebuild(folder: Path) -> None:
    """Empty FOLDER's derived tables and fill them again from the journal, which stays as it is.

    Stop the server first.
    """
    from qc.store.intake.rebuild import rebuild as rebuilt
    from qc.store.record.connection import RECORD, RecordInUse

    if not (folder / RECORD).is_file():
        raise click.ClickException(f"there is no record in {folder}; give the data folder that the server uses")
    plant, _ = _plant(folder)
    try:
        done = rebuilt(folder, plant)
    except RecordInUse as error:
        raise click.ClickException(str(error)) from error
    click.echo(f"{done.operations} operations read, {done.in_effect} in effect; every derived table is made anew.")


@click.command(name="new-release-key", short_help="Sign releases with a new key from now on.")
@FOLDER
def new_release_key(folder: Path) -> None:
    """Make a new key for FOLDER's releases, vouched for by the present one. Stop the server first.

    Old signatures go on verifying. Do this when somebody may have read the key, and note the new id elsewhere.
    """
    from qc.store.intake.journal import Journal
    from qc.store.record.connection import RecordInUse
    from qc.store.record.signing import KeyLost

    plant, tables = _plant(folder)
    try:
        with Journal(folder, plant, tables) as journal:
            click.echo(f"Releases are signed with key {journal.change_release_key()} from now on.")
    except (RecordInUse, KeyLost) as error:
        raise click.ClickException(str(error)) from error


@click.command(name="new-keys", short_help="Go on where the keys folder is lost for good.")
@FOLDER
def new_keys(folder: Path) -> None:
    """Make what FOLDER's keys folder lacks: the key that signs, and the pepper of the PINs. Stop the server first.

    Old releases go on verifying by the public keys that the record keeps. The journal tells the new key, and
    verify says that it came without the word of the old one: note its id elsewhere. Without the pepper no
    PIN can be checked: give each person a new one with qc user secret.
    """
    from qc.store.keeping.lost_keys import NothingLost, replace_lost_keys
    from qc.store.record.connection import RECORD, RecordInUse

    if not (folder / RECORD).is_file():
        raise click.ClickException(f"there is no record in {folder}; give the data folder that the server uses")
    plant, tables = _plant(folder)
    try:
        made = replace_lost_keys(folder, plant, tables)
    except (NothingLost, RecordInUse) as error:
        raise click.ClickException(str(error)) from error
    if made.key_id:
        click.echo(f"Signed with the new key {made.key_id} from now on; phones sign in anew. Note its id elsewhere.")
    if made.people:
        click.echo(f"{made.people} people need a new PIN or passphrase: qc user secret {folder} CODE")


@click.command(name="import", short_help="Take in the file that a phone exported.")
@FOLDER
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
def import_(folder: Path, file: Path) -> None:
    """Take what is unsent in FILE, exported by a phone, into FOLDER's record by the door that phones use.

    What was sent already counts once. An operation that its author's signature does not prove is kept without
    effect. Photos are checked like any other. Stop the server first. Ends with 1 where anything was not taken.
    """
    from qc.domain.words.problems import Refused
    from qc.store.record.connection import RecordInUse

    try:
        verdicts, photos = _taken(folder, file)
    except RecordInUse as error:
        raise click.ClickException(f"{error}. Nothing was taken.") from error
    except Refused as error:
        told = f"{file.name} is not as a phone's outbox exports it; choose that file, or export it again"
        raise click.ClickException(f"{told}: {error} Nothing was taken.") from error
    for verdict, count in sorted(Counter(one.verdict for one in verdicts).items()):
        click.echo(f"{verdict}: {count}, {BECAME[verdict]}" if verdict in BECAME else f"{verdict}: {count}")
    untaken = [one for one in verdicts if one.verdict not in ("applied", "duplicate", "parked")]
    for one in untaken:
        click.echo(f"  {one.id} {one.verdict} {one.code}: {one.reason}")
    if photos.kept:
        click.echo(f"photos kept: {photos.kept}")
    for words in photos.not_taken:
        click.echo(f"  {words}")
    sys.exit(1 if untaken or photos.not_taken else 0)


class _Photos(NamedTuple):
    """What became of a file's photos: how many are kept, and in words which are not."""

    kept: int
    not_taken: tuple[str, ...]


def _taken(folder: Path, file: Path) -> "tuple[list[Verdict], _Photos]":
    from qc.domain.words.problems import Problem, Refused
    from qc.web.house import open_house
    from qc.web.json_door import read_object_with_parts

    rest, parts = read_object_with_parts(file.read_bytes(), MOST_BYTES, "operations")
    for name in ("photos", "captures"):
        if not isinstance(rest.get(name, []), list):
            raise Refused(Problem("malformed", f"{name} must be a list, as a phone writes it.", name))
    house = open_house(folder)
    try:
        return _pushed(house, rest, parts), _photos(house.photos, rest)
    finally:
        house.close()


def _photos(store: "PhotoStore", rest: dict[str, Any]) -> _Photos:
    """Keep the photos that operations name; a picture that the phone had not made ready has no operation yet."""
    photos, waiting = rest.get("photos", []), rest.get("captures", [])
    wrong = [
        f"photo {number} of {len(photos)} is not taken: {why}"
        for number, photo in enumerate(photos, start=1)
        if (why := _photo_fault(store, photo))
    ]
    kept = len(photos) - len(wrong)
    if waiting:
        wrong.append(f"pictures that the phone had not made ready, not taken, keep this file: {len(waiting)}")
    return _Photos(kept, tuple(wrong))


def _photo_fault(store: "PhotoStore", photo: Any) -> str:
    """Keep one photo, going on where the phone's own sending broke off; return why it cannot be kept, "" if it is."""
    from qc.store.folder.photos import PhotoBroken

    try:
        sha256, data = photo["sha256"], base64.b64decode(photo["base64"], validate=True)
        here = store.offset(sha256)
        begun = here.offset if here is not None and here.total == len(data) else 0
        store.append(sha256, begun, len(data), data[begun:])
    except PhotoBroken as error:
        return str(error)
    except (KeyError, TypeError, ValueError):
        return "it is not written as a phone writes it; export it from the phone again"
    return ""


def _pushed(house: "House", rest: dict[str, Any], parts: "list[Part]") -> "list[Verdict]":
    from qc.domain.facts.operations import code, whole
    from qc.store.intake.journal import PushBatch
    from qc.store.record.proofs import Run, proofs_of
    from qc.web.api.push import runs_of
    from qc.web.json_door import LARGEST, fields_of

    wanted = {"device": code(32), "install_epoch": code(40), "sent_ms": whole(0, LARGEST)}
    may = {"exported_ms": whole(0, LARGEST)}
    frame = fields_of({name: rest[name] for name in (*wanted, *may) if name in rest}, wanted, may)
    exported_ms, now = frame.pop("exported_ms"), house.clock()
    if exported_ms is not None:
        frame["sent_ms"] += max(0, now - exported_ms)  # how long the file lay about says nothing of the phone's clock
    # A file of the app before proofs has no runs: what it holds is kept, and a manager looks at it.
    runs = runs_of(rest["runs"], len(parts)) if "runs" in rest else [Run(len(parts), "", "")]
    proofs = proofs_of(house.journal.certificates, frame["device"], frame["install_epoch"], runs, parts)
    verdicts: list[Verdict] = []
    for first in range(0, len(parts), PIECE):
        piece = slice(first, first + PIECE)
        batch = PushBatch(**frame, operations=parts[piece], proofs=proofs[piece])
        verdicts += house.journal.push(batch).verdicts
    return verdicts


def _plant(folder: Path) -> "tuple[Plant, dict[str, str]]":
    from qc.domain.tables.plant_tables import PlantFaults, plant_from_tables, tables_of
    from qc.store.folder.plant_folder import tables_folder

    try:
        tables = tables_of(tables_folder(folder))
        return plant_from_tables(tables), tables
    except PlantFaults as wrong:
        _fail(wrong)


def _fail(wrong: Exception) -> NoReturn:
    raise click.ClickException(f"the plant's tables are not right; run qc check-plant first:\n{wrong}") from wrong
