"""The command that looks a server's machine over: what a data folder needs, and what of it is there."""

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from qc.store.keeping.needs import Need

SIGNS = {"met": "ok", "unasked": "?", "soon": "SOON", "missing": "WRONG"}


@click.command(short_help="Tell what the server needs of this machine and has.")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.option("--cert", type=click.Path(path_type=Path, dir_okay=False), help="The certificate that is served with.")
@click.option("--key", type=click.Path(path_type=Path, dir_okay=False), help="Its key.")
@click.option("--json", "as_json", is_flag=True, help="Write the answer as JSON.")
def doctor(folder: Path, cert: Path | None, key: Path | None, as_json: bool) -> None:
    """Look over what FOLDER's server needs: SQLite, rights, disk, keys, certificate, clock, lock, backup, mail.

    Changes nothing; a server may go on meanwhile. Ends with 0 where all is met, 1 where something is to be done, 2
    where it cannot tell. Whether the record is what was written is another question: qc verify.
    """
    from qc.store.keeping.needs import NotAFolder, needs_of

    try:
        needs = [_plant(folder), *needs_of(folder), _certificate(cert, key), _mail(folder)]
    except (NotAFolder, PermissionError) as error:
        cannot = str(error)
        if isinstance(error, PermissionError):
            cannot = f"{error.filename} may not be read by this account; ask as the one that the server runs under"
        click.echo(json.dumps({"well": None, "cannot": cannot}) if as_json else f"Cannot tell: {cannot}.")
        sys.exit(2)
    well = all(need.state in ("met", "unasked") for need in needs)
    if as_json:
        click.echo(json.dumps({"well": well, "needs": [asdict(need) for need in needs]}, indent=1))
    else:
        for need in needs:
            click.echo(f"{SIGNS[need.state]:<6}{need.name}: {need.words}")
        click.echo(
            "Every need that was looked at is met."
            if well
            else "Something is to be done; see the lines above that are not ok."
        )
    sys.exit(0 if well else 1)


def _plant(folder: Path) -> "Need":
    from qc.domain.tables.plant_tables import PlantFaults, read_plant
    from qc.store.folder.plant_folder import tables_folder
    from qc.store.keeping.needs import Need

    try:
        plant = read_plant(tables_folder(folder))
    except PlantFaults as wrong:
        count = len(wrong.faults)
        return Need("plant", "missing", f"its tables have {count} fault{'s' if count > 1 else ''}: qc check-plant")
    demo = ": demo data, limits not for use" if plant.demo else ""
    return Need("plant", "met", f"{plant.maker}, {plant.site}{demo}")


def _mail(folder: Path) -> "Need":
    from qc.domain.tables.plant_tables import PlantFaults, read_plant
    from qc.store.folder.plant_folder import tables_folder
    from qc.store.keeping.mail_need import mail_need
    from qc.store.keeping.needs import Need

    try:
        plan = read_plant(tables_folder(folder)).mail
    except PlantFaults:
        return Need("mail", "unasked", "not looked at: the plant's tables have faults")
    return mail_need(folder, plan)


def _certificate(cert: Path | None, key: Path | None) -> "Need":
    from qc.store.keeping.needs import Need

    if cert is None:
        return Need("certificate", "unasked", "not looked at: name the one that is served with, --cert and --key")
    from qc.web.certificate import days_left, key_fault, names_in
    from qc.web.certificate_words import SOON_DAYS

    try:
        names, days = names_in(cert), days_left(cert)
        misfit = "" if key is None else key_fault(cert, key)
    except (OSError, ValueError) as error:
        return Need("certificate", "missing", f"{cert} cannot be used: {error}")
    told = f"{cert} for {', '.join(names)}"
    if misfit:
        return Need("certificate", "missing", misfit)
    if days < 0:
        return Need("certificate", "missing", f"{told} ended {-days} days ago; phones refuse it: qc certificate")
    return Need("certificate", "soon" if days < SOON_DAYS else "met", f"{told}, good for {days} days")
