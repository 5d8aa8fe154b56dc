"""An export as files: CSV or Parquet (one table, or all in an archive), a workbook, the journal as lines of JSON.

Rows are written as they are read: memory does not grow with the record.
"""

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from typing import IO, Any, Literal, get_args

from qc.reports.export.cells import Cell, as_text
from qc.reports.export.columns import EXPLAINED, TABLES, Column, tables_for
from qc.reports.export.parquet import ROWS, demand_parquet, write_parquet
from qc.reports.export.rows import Source

Form = Literal["csv", "xlsx", "jsonl", "parquet"]
TableForm = Literal["csv", "parquet"]  # of one table alone
FORMS: tuple[Form, ...] = get_args(Form)
# CSV or Parquet of all tables is an archive
ENDINGS = {"csv": "zip", "xlsx": "xlsx", "jsonl": "jsonl", "parquet": "parquet.zip"}
TYPES = {
    "zip": "application/zip",
    "parquet.zip": "application/zip",
    "parquet": "application/vnd.apache.parquet",
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "jsonl": "application/x-ndjson",
}
COLUMNS = "columns"  # the name of the file or sheet that explains the others
SHEET_ROWS = 1_048_575  # of a workbook's sheet, its heading left aside
_CELL_CHARACTERS = 32_767  # of a workbook; the record's texts are far shorter


def write_export(source: Source, form: Form, target: IO[bytes], *, names: bool) -> None:
    """Write the whole export in a form; names: with the table of people's names. Raises NoParquet."""
    if form == "jsonl":
        target.writelines(source.journal(names=names))
    elif form in ("csv", "parquet"):
        _archive(source, form, target, tables_for(names=names))
    else:
        _workbook(source, target, tables_for(names=names))


def write_table(source: Source, table: str, target: IO[bytes], form: TableForm = "csv") -> None:
    """Write one table. Raises KeyError for a table of no such name, NoParquet."""
    if form == "parquet":
        write_parquet(table, source.columns(table, ROWS), source.plant.time_zone, target)
    else:
        csv_of(target, TABLES[table], source.rows(table))


def write_columns(target: IO[bytes], tables: Sequence[str]) -> None:
    """Write what each column of some tables holds, as CSV."""
    csv_of(target, EXPLAINED, _explained(tables))


def _explained(tables: Sequence[str]) -> Iterator[list[Cell]]:
    return ([table, one.name, one.sort, one.words] for table in tables for one in TABLES[table])


def csv_of(target: IO[bytes], columns: Sequence[Column], rows: Iterable[Sequence[Cell]]) -> None:
    """Write rows under their heading as CSV (RFC 4180), in UTF-8 with its mark."""
    text = io.TextIOWrapper(target, encoding="utf-8-sig", newline="", write_through=True)  # its mark: spreadsheets ask
    writer = csv.writer(text)  # RFC 4180
    writer.writerow([column.name for column in columns])
    for row in rows:
        writer.writerow([as_text(cell) for cell in row])
    text.flush()
    text.detach()


def _archive(source: Source, form: TableForm, target: IO[bytes], tables: Sequence[str]) -> None:
    if form == "parquet":
        demand_parquet()
    packing = zipfile.ZIP_DEFLATED if form == "csv" else zipfile.ZIP_STORED  # Parquet is packed within
    with zipfile.ZipFile(target, "w", packing) as archive:
        with archive.open(f"{COLUMNS}.csv", "w") as member:
            write_columns(member, tables)
        for table in tables:
            with archive.open(f"{table}.{form}", "w", force_zip64=True) as member:
                write_table(source, table, member, form)


def _workbook(source: Source, target: IO[bytes], tables: Sequence[str]) -> None:
    import xlsxwriter  # slow to import, and few exports ask for it

    # A text stays a text, whatever it begins with: no cell of a workbook is a formula or a link.
    settings = {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(target, settings) as book:
        head = book.add_format({"bold": True})

        def sheet(name: str, columns: Sequence[Column], rows: Iterator[list[Cell]]) -> None:
            more, part = True, 1
            while more:
                page = book.add_worksheet(name if part == 1 else f"{name} {part}")
                page.freeze_panes(1, 0)
                page.write_row(0, 0, [column.name for column in columns], head)
                more, part = False, part + 1
                for place, row in enumerate(rows, start=1):
                    _write(page, place, row)
                    if place == SHEET_ROWS:
                        more = True
                        break

        for table in tables:
            sheet(table, TABLES[table], source.rows(table))
        sheet(COLUMNS, EXPLAINED, _explained(tables))


def _write(page: Any, place: int, row: Sequence[Cell]) -> None:
    for at, cell in enumerate(row):
        if isinstance(cell, str):
            page.write_string(place, at, cell[:_CELL_CHARACTERS])
        elif cell is not None:
            page.write_number(place, at, cell)
