"""A CSV file as a spreadsheet shows it: row 1 is the header, and every fault names file, row, column and value."""

import csv
import io
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from qc.cli.stat.cells import Kind, Unfit

# Faults told at once: enough to see what is wrong with a column, few enough to read.
TOLD = 5


class Refused(click.ClickException):
    """A question that cannot be asked of this file; the message says where and what would do."""

    exit_code = 2


@dataclass(frozen=True)
class Sheet:
    """A file's header and its rows; numbers are the rows' numbers in a spreadsheet, blank rows left out."""

    file: str
    header: tuple[str, ...]
    numbers: tuple[int, ...]
    rows: tuple[tuple[str, ...], ...]

    def column(self, title: str, kind: Kind) -> list[object]:
        """Return a column's values; Refused with every cell that does not fit (the first five told)."""
        if title not in self.header:
            told = ", ".join(map(repr, self.header))
            raise Refused(f"{self.file} has no column {title!r}; it has {told}{_other_separator(self.header)}")
        place, values, faults = self.header.index(title), [], []
        for row_number, row in zip(self.numbers, self.rows, strict=True):
            try:
                values.append(kind(row[place]))
            except Unfit as why:
                faults.append(f"{self.file}, row {row_number}, column {title!r}: {_shown(row[place])}: {why}")
        if faults:
            more = [f"and {len(faults) - TOLD} more in this column"] if len(faults) > TOLD else []
            raise Refused("\n".join([*faults[:TOLD], *more]))
        return values

    def labels(self, title: str | None) -> list[str]:
        """Return the names of the rows, each once; without a column their places, 1, 2, 3."""
        if title is None:
            return [str(place + 1) for place in range(len(self.rows))]
        found = [str(value) for value in self.column(title, _label)]
        first: dict[str, int] = {}
        for row_number, label in zip(self.numbers, found, strict=True):
            if label in first:
                raise Refused(
                    f"{self.file}, row {row_number}, column {title!r}: {_shown(label)} stands in row {first[label]} "
                    "too; a name for each row would do"
                )
            first[label] = row_number
        return found


def read_sheet(path: str, separator: str) -> Sheet:
    """Return the CSV file at path, "-" being standard input; UTF-8 with a header row. Refused says what is wrong."""
    file = "standard input" if path == "-" else Path(path).name
    try:
        raw = sys.stdin.buffer.read() if path == "-" else Path(path).read_bytes()
    except OSError as why:
        raise Refused(f"{path} cannot be read: {why.strerror or why}") from why
    try:
        content = raw.decode("utf-8-sig")
    except UnicodeDecodeError as why:
        row = raw[: why.start].count(b"\n") + 1
        raise Refused(
            f"{file}, line {row}: byte 0x{raw[why.start]:02x} is not UTF-8; save the file as CSV with UTF-8"
        ) from why
    return _sheet(file, _records(file, content, separator))


def _records(file: str, content: str, separator: str) -> list[list[str]]:
    reader = csv.reader(io.StringIO(content, newline=""), delimiter=separator, strict=True)
    records: list[list[str]] = []
    try:
        records.extend(reader)
    except csv.Error as why:
        raise Refused(f"{file}, row {len(records) + 1}: {why}; check the quotation marks there") from why
    return records


def _sheet(file: str, records: Sequence[Sequence[str]]) -> Sheet:
    if not records or not any(cell.strip() for cell in records[0]):
        raise Refused(f"{file}, row 1 is empty; a header row with the columns' names would do")
    header = tuple(cell.strip() for cell in records[0])
    before: set[str] = set()
    for title in header:
        if title in before:
            raise Refused(f"{file}, row 1: column {title!r} stands there twice; names that differ would do")
        before.add(title)
    kept = [(number, row) for number, row in enumerate(records[1:], 2) if any(cell.strip() for cell in row)]
    for number, row in kept:
        if len(row) != len(header):
            raise Refused(
                f"{file}, row {number} has {len(row)} cells and the header has {len(header)}; "
                "as many cells as columns would do (quote a cell that holds the separator)" + _other_separator(header)
            )
    if not kept:
        raise Refused(f"{file} has a header and no row under it")
    return Sheet(file, header, tuple(number for number, _ in kept), tuple(tuple(row) for _, row in kept))


def _other_separator(header: tuple[str, ...]) -> str:
    """Return a hint where the one title of a file looks like several, held apart by what was not asked for."""
    signs = {";": ("semicolons", "';'"), "\t": ("tabs", "tab"), ",": ("commas", "','")}
    looks = next((said for sign, said in signs.items() if len(header) == 1 and sign in header[0]), None)
    return f"; the file looks separated by {looks[0]}: --separator {looks[1]}" if looks else ""


def _label(cell: str) -> str:
    if not cell.strip():
        raise Unfit("a name for this row would do, this cell is empty")
    return cell.strip()


def _shown(cell: str) -> str:
    return repr(cell) if len(cell) <= 40 else f"{cell[:40]!r}…"
