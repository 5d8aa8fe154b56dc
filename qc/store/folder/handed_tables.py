"""The plant's tables as somebody hands them in: a folder, CSV files and plant.toml, or one workbook with a sheet each.

What is not handed in stays as it is in force. Cells are kept as they stand, so that a row with one too few is told as a
fault and never filled up: a separator that was lost would shift every cell behind it.
"""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath

from qc.domain.tables.plant_sections import PLANT_FILE
from qc.domain.tables.plant_tables import FILES, OPTIONAL_FILES
from qc.domain.words.speaking import say
from qc.store.folder.sheets import (
    DIVIDERS,
    MOST_BYTES,
    UnreadableSheet,
    decoded,
    is_workbook,
    outside_quotes,
    sheets_of,
)

TABLES = tuple(name for name in (*FILES, *OPTIONAL_FILES) if name != PLANT_FILE)
_SHEETS = {name.removesuffix(".csv"): name for name in TABLES}


@dataclass(frozen=True, slots=True)
class Handed:
    """Tables as they would be: file name → text, those in force where none came. notes: how files were read."""

    tables: Mapping[str, str]
    came: tuple[str, ...]
    notes: tuple[str, ...]


def read_handed(files: Sequence[tuple[str, bytes]], in_force: Mapping[str, str]) -> Handed:
    """Return what files, (name, bytes), make of the tables in force. Raises UnreadableSheet, told with the file."""
    if not files:
        raise UnreadableSheet(
            say("no file came; hand in {known} or one workbook with these as its sheets", known=_known())
        )
    came: dict[str, str] = {}
    notes: list[str] = []
    for name, data in files:
        try:
            told = _of_file(PurePath(name.replace("\\", "/")).name, data, notes)
        except UnreadableSheet as why:
            raise UnreadableSheet(f"{name[:80]}: {why}") from None
        for table, text in told.items():
            if table in came:
                raise UnreadableSheet(
                    say("{name}: {table} came twice; hand in each table once", name=name[:80], table=table)
                )
            came[table] = text
    return Handed({**in_force, **came}, tuple(came), tuple(notes))


def files_in(path: Path) -> list[tuple[str, bytes]]:
    """Return a file, or the tables in a folder, as names and bytes; of a large one no more than is refused for it."""
    paths = [path / name for name in (*FILES, *OPTIONAL_FILES)] if path.is_dir() else [path]
    files = []
    for one in paths:
        if one.is_file():
            with one.open("rb") as opened:
                files.append((one.name, opened.read(MOST_BYTES + 1)))
    return files


def _known() -> str:
    return ", ".join((PLANT_FILE, *TABLES))


def _of_file(name: str, data: bytes, notes: list[str]) -> dict[str, str]:
    if not data:
        raise UnreadableSheet(say("the file is empty; save the table again and hand it in anew"))
    if len(data) > MOST_BYTES:
        raise UnreadableSheet(say("the file has more than {most} bytes, which are read at most", most=MOST_BYTES))
    if is_workbook(data):
        return _of_workbook(data)
    if name not in (*TABLES, PLANT_FILE):
        raise UnreadableSheet(say("its name is none of a table; name it as one of {known}", known=_known()))
    text, told = decoded(data)
    notes += [f"{name}: {note}" for note in told]
    if "\x00" in text:
        raise UnreadableSheet(say("the file is neither text nor an XLSX; save the table as one of these"))
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return {name: text if name == PLANT_FILE else _with_commas(name, text, notes)}


def _with_commas(name: str, text: str, notes: list[str]) -> str:
    """Return a CSV with commas between its cells, each row on its line and of its own length."""
    heading = next((line for line in text.split("\n") if line.strip()), "")
    divider = max(reversed(DIVIDERS), key=outside_quotes(heading).count)
    if divider == ",":
        return text
    divided = say("cells are divided by tabs") if divider == "\t" else say("cells are divided by semicolons")
    notes.append(f"{name}: {divided}")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=divider)
    try:
        return _written(list(reader))
    except csv.Error as error:
        raise UnreadableSheet(
            say(
                "row {row} cannot be read ({error}); a quotation mark that opens a cell must close it",
                row=reader.line_num,
                error=error,
            )
        ) from None


def _of_workbook(data: bytes) -> dict[str, str]:
    tables = {}
    for name, rows in sheets_of(data):
        table = _SHEETS.get(name.strip().lower())
        if table is None:
            words = say(
                "the sheet {name!r} is none of a table; name its sheets {sheets}",
                name=name[:40],
                sheets=", ".join(_SHEETS),
            )
            raise UnreadableSheet(words)
        if table in tables:
            raise UnreadableSheet(say("two of its sheets are {table}; hand in each table once", table=table))
        tables[table] = _written(_squared(rows))
    return tables


def _squared(rows: Sequence[Sequence[str]]) -> list[Sequence[str]]:
    """Return a sheet's rows as wide as its heading, wider only where a cell beyond it says something."""
    width = next((len(_cut(row)) for row in rows if any(row)), 0)
    return [(*row[:width], *_cut(row[width:])) if any(row) else () for row in rows]


def _cut(row: Sequence[str]) -> Sequence[str]:
    end = len(row)
    while end and not row[end - 1].strip():
        end -= 1
    return row[:end]


def _written(rows: Sequence[Sequence[str]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()
