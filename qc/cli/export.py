"""The command that writes the record's figures as files for a plant's own reports."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from qc.reports.export.files import Form, TableForm

# The ending of the file tells the form: of everything, or of one table.
FORMS: "dict[str, Form]" = {".parquet.zip": "parquet", ".zip": "csv", ".xlsx": "xlsx", ".jsonl": "jsonl"}
TABLE_FORMS: "dict[str, TableForm]" = {".csv": "csv", ".parquet": "parquet"}


@click.command(short_help="Write the record's figures as CSV, Parquet, a workbook, or JSON lines.")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--names", is_flag=True, help="With people's names, not their codes alone.")
@click.option("--table", metavar="TABLE", help="One table alone, as .csv or .parquet.")
def export(folder: Path, file: Path, names: bool, table: str | None) -> None:
    """Write FOLDER's units, inspections, defects, tests, releases and weeks to FILE, with each column explained.

    FILE ends in .zip (CSV files), .parquet.zip (Parquet files), .xlsx (a workbook) or .jsonl (the journal, a line for
    each row); with --table in .csv or .parquet. A server may go on meanwhile: what is written is of one moment. People
    stand by their codes unless --names is given; notes and reasons are as they were typed.
    """
    form = _form(file, table, names)
    if file.exists():
        raise click.ClickException(f"{file} is there already; choose another name, or move it. Nothing was written")
    if not file.parent.is_dir():
        raise click.ClickException(f"{file.parent} is no folder; make it first. Nothing was written")
    part = file.with_name(f".{file.name}.{os.getpid()}.part")
    try:
        _write(folder, part, form, names, table)
        part.rename(file)
    except (OSError, sqlite3.Error) as why:
        from qc.store.record.connection import no_room_beside

        raise click.ClickException(
            f"not written: {no_room_beside(why, folder) or why}. The record is as it was"
        ) from why
    finally:
        part.unlink(missing_ok=True)
    click.echo(f"Wrote {file}. {'It holds names of people.' if names else 'People stand by their codes.'}")


def _form(file: Path, table: str | None, names: bool) -> "Form":
    """Return the form that a file's ending tells. Raises ClickException."""
    from qc.reports.export.columns import NAMES, tables_for
    from qc.reports.export.parquet import NoParquet, demand_parquet

    endings: dict[str, Form] = {**FORMS} if table is None else {**TABLE_FORMS}
    ending = next((one for one in endings if file.name.lower().endswith(one)), None)
    if ending is None:
        one = "; one table alone is asked for by --table" if table is None else " with --table"
        raise click.ClickException(f"{file.name} ends in none of {', '.join(endings)}{one}. Nothing was written")
    if table is not None and table not in tables_for(names=names):
        known = f"{', '.join(tables_for(names=False))}, and with --names {NAMES}"
        raise click.ClickException(f"there is no table {table}; there are {known}. Nothing was written")
    try:
        if endings[ending] == "parquet":
            demand_parquet()
    except NoParquet as why:
        raise click.ClickException(f"{why}. Nothing was written") from why
    return endings[ending]


def _write(folder: Path, part: Path, form: "Form", names: bool, table: str | None) -> None:
    from qc.domain.tables.plant_tables import PlantFaults, read_plant
    from qc.reports.export.files import write_export, write_table
    from qc.reports.export.rows import Source, one_moment, week_rows
    from qc.store.counts import Counts
    from qc.store.folder.plant_folder import folder_clock, tables_folder
    from qc.store.intake.journal import wall_ms
    from qc.store.keeping.snapshot import snapshot
    from qc.store.record.connection import RECORD, open_reader
    from qc.store.tables.migrations import NewerRecord

    try:
        plant = read_plant(tables_folder(folder))
        clock = folder_clock(folder) if plant.demo else wall_ms
        with snapshot(folder, plant, part.parent) as copy:
            weeks = week_rows(Counts(copy), clock()) if form != "jsonl" else ()
            reader = open_reader(copy.folder / RECORD)
            with closing(reader) as connection, one_moment(connection), part.open("xb") as target:
                source = Source(connection, plant, weeks)
                if table is None:
                    write_export(source, form, target, names=names)
                else:
                    write_table(source, table, target, TABLE_FORMS[f".{form}"])
    except PlantFaults as why:
        raise click.ClickException(f"the plant's tables have faults; check them with: qc check-plant {folder}") from why
    except NewerRecord as why:
        raise click.ClickException(f"not written: {why}") from why
