"""Rows of a plant's tables with every fault of a cell noted, not raised, so that all are told at once."""

import csv
import io
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, time
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any, TypeVar

from qc.domain.words.speaking import marked, say

CODE = re.compile(r"[A-Za-z0-9._-]{1,40}\Z")
ALL = "all"  # a cell that names every model
Record = TypeVar("Record")
Key = TypeVar("Key")
# Where what a cell names is defined: with a fault there, a cell that names it is not known to be wrong.
DEFINED_IN = {
    "model": "plant.toml:model.code",
    "view": "plant.toml:view.id",
    "station": "stations.csv:id",
    "shift": "plant.toml:shift.id",
    "caution": "cautions.csv:code",
    "defect type": "defect_types.csv:code",
    "group of defect types": "defect_types.csv:group",
    "option": "plant.toml:option.code",
    "line": "plant.toml:line.code",
    "kind of zone": "zones.csv:kind",
}
# What says that a cell names nothing of the plant's.
NO_SUCH = {
    "model": marked("is no model of this plant"),
    "view": marked("is no view of this plant"),
    "station": marked("is no station of this plant"),
    "shift": marked("is no shift of this plant"),
    "caution": marked("is no caution of this plant"),
    "defect type": marked("is no defect type of this plant"),
    "group of defect types": marked("is no group of defect types of this plant"),
    "option": marked("is no option of this plant"),
    "line": marked("is no line of this plant"),
    "kind of zone": marked("is no kind of zone of this plant"),
    # as the table of names calls them
    "zone": marked("is no zone of this plant"),
    "type": marked("is no type of this plant"),
    "group": marked("is no group of this plant"),
    "test": marked("is no test of this plant"),
    "severity": marked("is no severity of this plant"),
    "plant": marked("is no plant of this plant"),
}
DAYS = {"mon": 1, "tue": 2, "wed": 3, "thu": 4, "fri": 5, "sat": 6, "sun": 7}


@dataclass(frozen=True, slots=True)
class TableFault:
    """What is wrong in a plant's tables.

    file: name of the table. row: line in a CSV file (the heading is line 1) or the place, from 1, among the
    sections of one name in plant.toml; 0 for the whole file. column: heading or key, "" for the whole row.
    value: what stands there. remedy: what is wrong with it and what would do.
    """

    file: str
    row: int
    column: str
    value: str
    remedy: str

    def __str__(self) -> str:
        row = say("row {row}", row=self.row) if self.row else ""
        where = ", ".join(part for part in (self.file, row, self.column) if part)
        of_the_file = not (self.row or self.column or self.value)
        return f"{where} {self.remedy}" if of_the_file else f"{where}: {self.value!r} {self.remedy}"


@dataclass
class Faults:
    """The faults noted so far, in the order in which they were met.

    lines: where the record of a key stands, by (file, key), so that a fault met later can be told with its row.
    echoes: of which other fault one is but the echo, by its place in noted; see `note`.
    """

    noted: list[TableFault] = field(default_factory=list)
    lines: dict[tuple[str, str], int] = field(default_factory=dict)
    echoes: dict[int, str] = field(default_factory=dict)

    def note(self, file: str, row: int, column: str, value: object, remedy: str, echo_of: str = "") -> None:
        """Note a fault.

        echo_of: the column of which a fault explains this one, as "lower" in the same row or "stations.csv:id"
        anywhere in that table: where there is one, this is no mistake of its own.
        """
        if echo_of:
            self.echoes[len(self.noted)] = echo_of
        self.noted.append(TableFault(file, row, column, str(value)[:80], remedy))

    def told(self) -> list[TableFault]:
        """Return the faults in the order in which they were met, each mistake once: no echo of another."""
        own = [fault for place, fault in enumerate(self.noted) if place not in self.echoes]
        columns = {f"{fault.file}:{fault.column}" for fault in own}
        cells = {(fault.file, fault.row, fault.column) for fault in own}

        def is_echo(place: int, fault: TableFault) -> bool:
            source = self.echoes.get(place)
            if source is None:
                return False
            section = source.rpartition(".")[0]  # "plant.toml:model" of "plant.toml:model.code": all of it is missing
            return source in columns or section in columns or (fault.file, fault.row, source) in cells

        return [fault for place, fault in enumerate(self.noted) if not is_echo(place, fault)]


class Row:
    """One row. Each reader returns the cell's value, or notes a fault and returns a harmless stand-in."""

    def __init__(self, faults: Faults, file: str, line: int, cells: Mapping[str, Any], section: str = "") -> None:
        self.faults = faults
        self.file = file
        self.line = line
        self.cells = cells
        self.section = f"{section}." if section else ""

    def fault(self, column: str, remedy: str, echo_of: str = "") -> None:
        """Note a fault of the cell in ``column``; echo_of as in `Faults.note`. A cell that is missing is told once."""
        if column not in self.cells and any(
            (one.file, one.row, one.column) == (self.file, self.line, self.section + column)
            for one in self.faults.noted
        ):
            return
        self.faults.note(self.file, self.line, self.section + column, self.cells.get(column, ""), remedy, echo_of)

    def has(self, column: str) -> bool:
        """Return whether the table has the column at all."""
        return column in self.cells

    def text(self, column: str, *, may_be_empty: bool = False, most: int = 1000) -> str:
        """Return the cell as text, spaces at its ends cut; formula-like text stays the text that it is."""
        value = self.cells.get(column, "")
        if not isinstance(value, str):
            self.fault(column, say("must be text; put it between quotation marks"))
            return ""
        value = value.strip()
        if not value and not may_be_empty:
            self.fault(column, say("is empty; fill it in"))
        if len(value) > most:
            self.fault(column, say("is longer than {most} characters; shorten it", most=most))
        return str(value)

    def code(self, column: str) -> str:
        """Return the cell as a code of letters, figures, dot, dash and underscore."""
        value = self.text(column)
        if value and not CODE.match(value):
            self.fault(column, say("is no code; use 1 to 40 letters, figures, '.', '-' or '_'"))
        return value

    def choice(self, column: str, *allowed: str) -> str:
        """Return the cell as one of the allowed words."""
        value = self.text(column)
        if value and value not in allowed:
            self.fault(column, say("is not one of {allowed}", allowed=", ".join(allowed)))
        return value if value in allowed else allowed[0]

    def yes(self, column: str) -> bool:
        """Return whether the cell says yes."""
        return self.choice(column, "no", "yes") == "yes"

    def truth(self, column: str) -> bool:
        """Return a key of plant.toml that is true or false."""
        value = self.cells.get(column)
        if not isinstance(value, bool):
            self.fault(column, say("must be true or false, without quotation marks"))
        return value is True

    def whole(self, column: str, least: int, most: int) -> int:
        """Return the cell as a whole number of least..most."""
        value = self.cells.get(column, "")
        try:
            number = int(value) if isinstance(value, str) else value
        except ValueError:
            number = None
        if not isinstance(number, int) or isinstance(number, bool) or not least <= number <= most:
            self.fault(column, say("must be a whole number from {least} to {most}", least=least, most=most))
            return least
        return number

    def number(self, column: str) -> float | None:
        """Return the cell as a finite number with a decimal point, None when it is empty."""
        value = self.text(column, may_be_empty=True)
        if not value:
            return None
        if not re.match(r"[+-]?\d{1,9}(\.\d{1,9})?\Z", value):
            self.fault(
                column, say("is no number; write figures with a point for decimals, or leave it empty for no limit")
            )
            return None
        return float(value)

    def codes(self, column: str) -> tuple[str, ...]:
        """Return the cell's codes, divided by semicolons; empty for an empty cell."""
        parts = tuple(part.strip() for part in self.text(column, may_be_empty=True).split(";"))
        parts = tuple(part for part in parts if part)
        if len(set(parts)) < len(parts):
            self.fault(column, say("names one code twice; name each once"))
        return tuple(dict.fromkeys(parts))

    def known(self, column: str, value: str, known: Iterable[str], what: str) -> None:
        """Note a fault when ``value``, which stands in ``column``, is none of the known ones."""
        if value not in set(known):
            remedy = say(NO_SUCH[what])
            self.faults.note(self.file, self.line, self.section + column, value, remedy, DEFINED_IN.get(what, ""))

    def model_codes(self, column: str, models: Iterable[str]) -> tuple[str, ...]:
        """Return the models that the cell names; empty where it says all."""
        parts = self.codes(column)
        if not parts:
            self.fault(column, say("names no model; write {all} or models divided by ';'", all=ALL))
        if parts == (ALL,):
            return ()
        for part in parts:
            self.known(column, part, models, "model")
        return parts

    def day(self, column: str) -> date | None:
        """Return the cell as a date, None when it is empty."""
        value = self.text(column, may_be_empty=True)
        try:
            return date.fromisoformat(value) if value else None
        except ValueError:
            self.fault(column, say("is no day; write it as YYYY-MM-DD"))
            return None

    def clock(self, column: str) -> time:
        """Return the cell as a time of day."""
        value = self.text(column)
        if re.match(r"([01]\d|2[0-3]):[0-5]\d\Z", value):
            return time.fromisoformat(value)
        self.fault(column, say("is no time of day; write it as HH:MM, 24 hours"))
        return time(0)

    def week_days(self, column: str) -> tuple[int, ...]:
        """Return the listed days of the week as ISO weekdays 1..7, in the week's order."""
        value = self.cells.get(column, [])
        if not isinstance(value, list) or not value or any(str(day) not in DAYS for day in value):
            self.fault(column, say("must be a list of {days}", days=", ".join(DAYS)))
            return ()
        return tuple(sorted({DAYS[day] for day in value}))

    def outline(self, column: str) -> tuple[tuple[int, int], ...]:
        """Return the cell's corners: "x,y x,y x,y …" in whole millimetres."""
        parts = self.text(column).split()
        if not all(re.match(r"-?\d{1,6},-?\d{1,6}\Z", part) for part in parts):
            self.fault(column, say("is no outline; write corners as 'x,y x,y x,y' in whole millimetres"))
            return ()
        corners = [part.split(",") for part in parts]
        return tuple((int(x), int(y)) for x, y in corners)


def csv_rows(
    faults: Faults,
    file: str,
    text: str,
    columns: Sequence[str],
    optional: Sequence[str] = (),
    *,
    may_be_empty: bool = False,
) -> list[Row]:
    """Return a CSV table's rows in order; blank lines are left out.

    may_be_empty: a heading alone says that the plant has none of them; else it is noted.

    Notes missing and unknown columns (a misspelt heading must not silently drop a rule) and rows of another
    length than the heading; a table without its columns gives no rows.
    """
    (_, first), *lines = _lines(faults, file, text) or [(1, [])]
    heading = [name.strip() for name in first]
    missing = names_faults(lambda name, value, why: faults.note(file, 1, name, value, why), heading, columns, optional)
    if len(set(heading)) < len(heading):
        faults.note(file, 1, "", ",".join(heading), say("names a column twice; keep one"))
    if missing:
        return []
    rows = []
    for number, cells in lines:
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(heading):
            remedy = say(
                "has {cells} cells, the heading {heading}; put text with commas in quotation marks",
                cells=len(cells),
                heading=len(heading),
            )
            faults.note(file, number, "", ",".join(cells), remedy)
            continue
        rows.append(Row(faults, file, number, dict(zip(heading, cells, strict=True))))
    if not rows and not may_be_empty:
        faults.note(file, 0, "", "", say("has no rows; a plant needs at least one"))
    return rows


@dataclass(frozen=True, slots=True)
class NamesWords:
    """What is said of a name that stands for another, that is missing, or that nobody knows."""

    instead: str
    missing: str
    unknown: str


_OF_COLUMNS = NamesWords(
    marked("stands where {name} is missing, and is no column of this table; write {name}"),
    marked("is missing; add the column to the heading"),
    marked("is no column of this table; use {wanted}"),
)
_OF_KEYS = NamesWords(
    marked("stands where {name} is missing, and is no key of this section; write {name}"),
    marked("is missing; add the key"),
    marked("is no key of this section; use {wanted}"),
)


def names_faults(
    note: Callable[[str, str, str], None],
    found: Iterable[str],
    wanted: Sequence[str],
    optional: Sequence[str],
    words: NamesWords | None = None,
) -> list[str]:
    """Note (name, value, remedy) of each name that is missing or unknown, a misspelt one once; return the missing."""
    words = words or _OF_COLUMNS
    missing = [name for name in wanted if name not in found]
    unknown = [name for name in found if name not in wanted and name not in optional]
    is_one_each = len(unknown) == len(missing) == 1
    for name in missing:
        if alike := get_close_matches(name, unknown, 1) or unknown * is_one_each:
            told = alike[0]
            unknown.remove(told)
            note(
                name,
                told,
                say(words.instead, name=name),
            )
        else:
            note(name, "", say(words.missing))
    for name in unknown:
        note(name, name, say(words.unknown, wanted=", ".join([*wanted, *optional])))
    return missing


def _lines(faults: Faults, file: str, text: str) -> list[tuple[int, list[str]]]:
    """Return each line's number, of its last where a cell holds line ends, and its cells, up to one that is no CSV."""
    reader, lines = csv.reader(io.StringIO(text)), []
    try:
        for cells in reader:
            lines.append((reader.line_num, cells))
    except csv.Error as error:
        remedy = say("cannot be read as CSV ({error}); a quotation mark that opens a cell must close it", error=error)
        faults.note(file, reader.line_num, "", "", remedy)
    return lines


def toml_rows(
    faults: Faults,
    file: str,
    data: Mapping[str, Any],
    section: str,
    columns: Sequence[str],
    optional: Sequence[str] = (),
) -> list[Row]:
    """Return the rows of an array of sections, ``[[section]]``, each with the given keys and no others."""
    found = data.get(section)
    if not isinstance(found, list) or not found or not all(isinstance(part, dict) for part in found):
        faults.note(file, 0, section, "", say("is missing; add at least one [[{section}]] section", section=section))
        return []
    return [
        toml_row(faults, file, part, section, columns, place, optional) for place, part in enumerate(found, start=1)
    ]


def toml_row(
    faults: Faults,
    file: str,
    cells: Mapping[str, Any],
    section: str,
    columns: Sequence[str],
    place: int = 0,
    optional: Sequence[str] = (),
) -> Row:
    """Return one section as a row, with missing and unknown keys noted."""
    row = Row(faults, file, place, cells, section)

    def note(name: str, value: str, remedy: str) -> None:
        faults.note(file, place, row.section + name, value or cells.get(name, ""), remedy)

    names_faults(note, cells, columns, optional, _OF_KEYS)
    return row


def keyed(pairs: Iterable[tuple[Row, str, Key, Record]]) -> MappingProxyType[Key, Record]:
    """Return records by key in table order; a key met twice is noted at the second row, in the named column."""
    found: dict[Key, Record] = {}
    for row, column, key, record in pairs:
        if key in found:
            row.fault(column, say("stands in the table twice; keys must differ"))
        else:
            found[key] = record
            row.faults.lines[row.file, " ".join(key) if isinstance(key, tuple) else str(key)] = row.line
    return MappingProxyType(found)
