"""A table that somebody hands in as a file, CSV or XLSX, as rows of text: `00123` stays `00123`, `1E5` stays `1E5`.

Nothing in a file is computed: a formula is the value that was saved beside it, and text that looks like one is text.
"""

import csv
import io
import struct
import threading
import zipfile
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from qc.domain.words.speaking import say
from qc.store.folder.sheet_reach import DamagedXml, TooManyCells, reach_of

MOST_BYTES = 8_000_000  # of a file as it comes
MOST_INFLATED = 100_000_000  # of what an XLSX holds once it is unpacked
MOST_CELLS = 1_500_000  # of a sheet's rectangle: each takes 200 bytes while it is read
MOST_BLANK_CELLS = 4_000_000  # of a sheet, those that are only coloured included
MOST_ROWS = 20_000
MOST_COLUMNS = 200
MOST_CELL = 1_000
_BLANK_ROWS = 1_000  # that may stand between the rows of a table
DIVIDERS = (";", "\t", ",")
_DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, RuntimeError, struct.error)
_ZIP = b"PK\x03\x04"
_unpacking = threading.Lock()  # one workbook at a time: a small file may take hundreds of megabytes to read


class UnreadableSheet(Exception):
    """The file is no table that can be read; the words say why and what would do."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table as it was handed in. heading: its first row that holds anything; rows: (row in the file from 1, cells).

    Blank rows are left out and blank cells at a row's end cut off. notes: how it was read where that was not plain.
    """

    heading: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    notes: tuple[str, ...]


def read_sheet(data: bytes) -> Sheet:
    """Return the table of a CSV or XLSX file. Raises UnreadableSheet."""
    if not data:
        raise UnreadableSheet(say("the file is empty; save the table again and hand it in anew"))
    if len(data) > MOST_BYTES:
        raise UnreadableSheet(
            say("the file has more than {most} bytes, which are read at most; hand it in in parts", most=MOST_BYTES)
        )
    if not is_workbook(data):
        return _sheet(*_of_text(data))
    with _unpacking:
        return _sheet(*_of_workbook(data))


def _sheet(lines: Iterable[tuple[int, Sequence[str]]], notes: list[str]) -> Sheet:
    filled = [(row, tuple(cell.strip() for cell in cells)) for row, cells in lines if any(map(str.strip, cells))]
    if not filled:
        raise UnreadableSheet(say("the file holds no row; its first row names the columns, then one row for each unit"))
    (first, heading), rows = filled[0], filled[1:]
    while heading and not heading[-1]:
        heading = heading[:-1]
    if len(heading) > MOST_COLUMNS:
        raise UnreadableSheet(
            say(
                "row {row} names {columns} columns, at most {most} are read",
                row=first,
                columns=len(heading),
                most=MOST_COLUMNS,
            )
        )
    if len(rows) > MOST_ROWS:
        raise UnreadableSheet(
            say("the file has more than {most} rows, which are read at most; hand it in in parts", most=MOST_ROWS)
        )
    return Sheet(heading, tuple((row, _trimmed(cells)) for row, cells in rows), tuple(notes))


def _trimmed(cells: tuple[str, ...]) -> tuple[str, ...]:
    end = len(cells)
    while end and not cells[end - 1]:
        end -= 1
    return tuple(cell[:MOST_CELL] for cell in cells[:end])


def _of_text(data: bytes) -> tuple[list[tuple[int, Sequence[str]]], list[str]]:
    text, notes = decoded(data)
    if "\x00" in text:
        raise UnreadableSheet(say("the file is neither a CSV nor an XLSX; save the table as one of these"))
    first = next((line for line in text.splitlines() if line.strip()), "")
    divider = max(DIVIDERS, key=outside_quotes(first).count)
    if divider != ",":
        notes.append(say("cells are divided by tabs") if divider == "\t" else say("cells are divided by semicolons"))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=divider, strict=True)
    lines: list[tuple[int, Sequence[str]]] = []
    try:
        for cells in reader:
            lines.append((reader.line_num, cells))
            if len(lines) > MOST_ROWS + _BLANK_ROWS:  # `_sheet` counts what is left
                break
    except csv.Error as error:
        raise UnreadableSheet(
            say(
                "row {row} cannot be read ({error}); a quotation mark that opens a cell must close it",
                row=reader.line_num,
                error=error,
            )
        ) from None
    return lines, notes


def decoded(data: bytes) -> tuple[str, list[str]]:
    """Return a file's text, UTF-8, UTF-16 or else Windows-1252, and a note where that was guessed."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16"), []
        except UnicodeDecodeError:
            raise UnreadableSheet(
                say("the file begins as UTF-16 and does not go on so; save it as UTF-8 text")
            ) from None
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        note = say("it is not UTF-8 and was read as Windows-1252: look whether accented letters are right")
        return data.decode("cp1252", "replace"), [note]


def outside_quotes(line: str) -> str:
    """Return what of a CSV line stands outside quotation marks."""
    return "".join(line.split('"')[::2])


def is_workbook(data: bytes) -> bool:
    """Return whether a file begins as an XLSX does."""
    return data.startswith(_ZIP)


def sheets_of(data: bytes) -> list[tuple[str, list[list[str]]]]:
    """Return every sheet of a workbook, (name, rows of cells as text), each from its first row. Raises UnreadableSheet.

    Cells are told whole; more rows or columns than a sheet is read with are refused.
    """
    with _unpacking:
        return _sheets_of(data)


def _sheets_of(data: bytes) -> list[tuple[str, list[list[str]]]]:
    from python_calamine import CalamineError, load_workbook

    sheets = []
    try:
        workbook = load_workbook(_repacked(data))
        for name in workbook.sheet_names:
            rows = workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)
            if len(rows) > MOST_ROWS or any(len(row) > MOST_COLUMNS for row in rows):
                words = say(
                    "the sheet {name!r} has more than {rows} rows or {columns} columns, which are read at most",
                    name=name[:40],
                    rows=MOST_ROWS,
                    columns=MOST_COLUMNS,
                )
                raise UnreadableSheet(words)
            sheets.append((name, [[_written(cell) for cell in row] for row in rows]))
    except (CalamineError, OSError, IndexError, ValueError) as error:
        raise UnreadableSheet(
            say("the file is no workbook that can be read ({error}); save it as XLSX or CSV", error=error)
        ) from None
    return sheets


def _of_workbook(data: bytes) -> tuple[list[tuple[int, Sequence[str]]], list[str]]:
    from python_calamine import CalamineError, load_workbook

    checked = _repacked(data)
    try:
        workbook = load_workbook(checked)
        sheet = workbook.get_sheet_by_index(0)
        rows = sheet.to_python(skip_empty_area=False)
    except (CalamineError, OSError, IndexError, ValueError) as error:
        raise UnreadableSheet(
            say("the file is no workbook that can be read ({error}); save it as XLSX or CSV", error=error)
        ) from None
    more = len(workbook.sheet_names) - 1
    notes = (
        [say("only its first sheet, {name}, was read; it has {more} more", name=sheet.name, more=more)] if more else []
    )
    return [(row, [_written(cell) for cell in cells]) for row, cells in enumerate(rows, start=1)], notes


def _repacked(data: bytes) -> io.BytesIO:
    """Return the archive unpacked, each member read within its told size and checked: none can grow beyond that."""
    whole = io.BytesIO()
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive, zipfile.ZipFile(whole, "w", zipfile.ZIP_STORED) as plain:
            members = archive.infolist()
            if len(members) > 1_000 or sum(member.file_size for member in members) > MOST_INFLATED:
                raise UnreadableSheet(say("unpacked the file is too large to be read; save only its own sheets in it"))
            for member in members:
                with archive.open(member) as packed:  # read as it is told: one that lies is not unpacked whole
                    content = packed.read(member.file_size + 1)
                _look_how_far(member.filename, content)
                plain.writestr(member.filename, content)
            names = {member.filename.replace("\\", "/").lower() for member in members}
            if "xl/workbook.xml" not in names:  # other workbooks are archives too, and say otherwise how far they reach
                raise UnreadableSheet(say("the file is no workbook that can be read; save it as XLSX or CSV"))
    except _DAMAGED as error:
        raise UnreadableSheet(say("the file is a damaged workbook ({error}); save it again", error=error)) from None
    whole.seek(0)
    return whole


def _look_how_far(member: str, content: bytes) -> None:
    """Refuse a sheet with a cell far outside any table, which would take all memory to lay out; any member may be one.

    Raises UnreadableSheet.
    """
    try:
        rows, columns = reach_of(io.BytesIO(content), MOST_CELLS, MOST_BLANK_CELLS)
    except TooManyCells:
        raise UnreadableSheet(_too_many_cells()) from None
    except DamagedXml as error:
        if not member.lower().endswith(".xml") and "sheet" not in member.lower():  # a picture, a font: not read
            return
        raise UnreadableSheet(
            say("the file is a damaged workbook ({member}: {error}); save it again", member=member[:60], error=error)
        ) from None
    if rows > MOST_ROWS + _BLANK_ROWS or columns > MOST_COLUMNS:
        words = say(
            "a cell that holds something stands in row {row} or column {column}; at most {rows} rows and {columns} "
            "columns are read: delete what stands outside the table, or hand it in in parts",
            row=rows,
            column=columns,
            rows=MOST_ROWS,
            columns=MOST_COLUMNS,
        )
        raise UnreadableSheet(words)
    if rows * columns > MOST_CELLS:
        raise UnreadableSheet(_too_many_cells())


def _too_many_cells() -> str:
    return say(
        "the sheet has more than {most} cells, which are read at most; save only the columns that are needed, or hand "
        "it in in parts",
        most=MOST_CELLS,
    )


def _written(cell: Any) -> str:
    """Return a cell as a person would write it: days as ISO, whole numbers without a point."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time(0) else cell.isoformat(" ", "minutes")
    if isinstance(cell, date | time | timedelta):
        return str(cell)
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return str(cell)
