"""The command that shows what the server would mail to a person."""

import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from qc.reports.mails.letter import Letter

NO_LINKS = "https://record.plant.example"  # where plant.toml names none yet


@click.command(short_help="Show the mail that the server would write to a person.")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.option("--to", "code", required=True, help="The code of a quality manager or a station lead.")
@click.option("--monday", is_flag=True, help="Monday's mail, not the daily one.")
def mail(folder: Path, code: str, monday: bool) -> None:
    """Show what the server in FOLDER would mail to a person now. Nothing is sent; a server may go on meanwhile."""
    letter = _letter(folder, code, monday)
    click.echo(f"Subject: {letter.subject}\n\n{letter.text}", nl=False)


def _letter(folder: Path, code: str, monday: bool) -> "Letter":
    import tempfile

    from qc.domain.plant.mail_plan import WRITTEN_FOR
    from qc.domain.tables.plant_tables import PlantFaults, read_plant
    from qc.reports.mails.own_letters import Letters
    from qc.store.counts import Counts
    from qc.store.folder.plant_folder import folder_clock, tables_folder
    from qc.store.intake.journal import wall_ms
    from qc.store.keeping.snapshot import snapshot
    from qc.store.people.persons import people_in
    from qc.store.reading.reads import Reads
    from qc.store.record.connection import no_room_beside
    from qc.store.tables.migrations import NewerRecord

    try:
        plant = read_plant(tables_folder(folder))
        clock = folder_clock(folder) if plant.demo else wall_ms
        links = plant.mail.links if plant.mail else NO_LINKS
        with snapshot(folder, plant, Path(tempfile.gettempdir())) as copy:
            reads = Reads(copy.folder, plant)
            people = people_in(reads.connection())
            person = next((one for one in people if one.code == code), None)
            if person is None or not person.has(*WRITTEN_FOR):
                known = ", ".join(one.code for one in people if one.has(*WRITTEN_FOR)) or "nobody yet"
                raise click.ClickException(f"no mail is written to {code!r}; it is to: {known}")
            try:
                letters = Letters(Counts(copy), reads, plant, people, links, clock())
                return letters.to(person, "monday" if monday else "daily")
            finally:
                reads.close()
    except PlantFaults as why:
        raise click.ClickException(f"the plant's tables have faults; check them with: qc check-plant {folder}") from why
    except (NewerRecord, OSError, sqlite3.Error) as why:
        raise click.ClickException(
            f"not written: {no_room_beside(why, folder) or why}. The record is as it was"
        ) from why
