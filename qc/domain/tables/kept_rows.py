"""A table of commas changed row by row: a row that nobody touched keeps its very text, however it was written."""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

LINE_END = "\n"


@dataclass(frozen=True, slots=True)
class KeptRow:
    """One row. cells: by column, spaces at their ends cut.

    text: how it stands in the table, "" for one that is written anew; blank: empty rows after it.
    """

    cells: Mapping[str, str]
    text: str = ""
    blank: str = ""

    def with_cells(self, cells: Mapping[str, str]) -> "KeptRow":
        """Return the row with other cells, to be written anew; the row itself where they say the same."""
        told = {**self.cells, **cells}
        if all(value == self.cells.get(column, "") for column, value in told.items()):
            return self
        return KeptRow(told, blank=self.blank)


@dataclass(frozen=True, slots=True)
class KeptTable:
    """A table as it stands. head: its first row, whose cells are the names of the columns."""

    columns: tuple[str, ...]
    head: KeptRow
    rows: tuple[KeptRow, ...]

    def written(self, rows: Sequence[KeptRow], more: Sequence[str] = ()) -> str:
        """Return the table's text with these rows and, after its own columns, more of them."""
        head = self.head.text or _line(self.columns)
        if more:
            head = f"{head.removesuffix(LINE_END)},{_line(more)}"
        text, empty = head + self.head.blank, "," * len(more)
        for row in rows:
            if not text.endswith(LINE_END):
                text += LINE_END
            own = _line([row.cells.get(column, "") for column in (*self.columns, *more)])
            text += (_with_cells(row.text, empty) if row.text else own) + row.blank
        return text


def kept_table(text: str, columns: Sequence[str]) -> KeptTable:
    """Return a table whose rows have a cell for each column, with the text of each; line ends are \\n.

    columns: of a table that has no first row.
    """
    (head, names), *rest = list(_rows(text)) or [(KeptRow({}), list(columns))]
    own = tuple(name.strip() for name in names)
    rows = []
    for row, values in rest:
        cells = dict(zip(own, (value.strip() for value in values), strict=False))
        rows.append(KeptRow({column: cells.get(column, "") for column in own}, row.text, row.blank))
    return KeptTable(own, head, tuple(rows))


def _rows(text: str) -> Iterator[tuple[KeptRow, list[str]]]:
    """Yield each row that says something with its values, and with the empty ones after it."""
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(lines)
    found: tuple[str, list[str]] | None = None
    blank, begun = "", 0
    for values in reader:
        own = "".join(lines[begun : reader.line_num])
        begun = reader.line_num
        if found is not None and not any(value.strip() for value in values):
            blank += own
            continue
        if found is not None:
            yield KeptRow({}, found[0], blank), found[1]
        found, blank = (own, values), ""
    if found is not None:
        yield KeptRow({}, found[0], blank), found[1]


def _with_cells(text: str, empty: str) -> str:
    return f"{text.removesuffix(LINE_END)}{empty}{LINE_END}" if empty else text


def _line(values: Sequence[str]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator=LINE_END).writerow(values)
    return text.getvalue()
