"""The form of a plant's CSV tables: separator, heading, quotation marks, cells in a row.

While the form is wrong, what the cells say is guesswork and a lost comma makes hundreds of codes that lead nowhere: so
faults of form are told first and alone.
"""

import csv
import io
from collections.abc import Sequence

from qc.domain.tables.table_rows import Faults, names_faults
from qc.domain.words.speaking import marked, say

SEPARATORS = {
    ";": marked("is divided by semicolons; save the table as CSV divided by commas, with a point in decimals"),
    "\t": marked("is divided by tabs; save the table as CSV divided by commas, with a point in decimals"),
    "|": marked("is divided by upright strokes; save the table as CSV divided by commas, with a point in decimals"),
}
NEEDED = ("stations.csv", "defect_types.csv", "zones.csv")  # without rows of these there is no plant


def form_faults(faults: Faults, file: str, text: str, columns: Sequence[str], optional: Sequence[str]) -> None:
    """Note what is wrong with the form of one table, by its row; the first of its kind where one leads to others."""
    first = text.partition("\n")[0]
    for separator, words in SEPARATORS.items():
        named = {cell.strip(' "') for cell in first.split(separator)}
        if separator in first and len(named & set(columns)) > len(columns) / 2:
            faults.note(file, 1, "", first, say(words))
            return
    begins, heading = 1, None
    reader = csv.reader(io.StringIO(text), strict=True)
    try:
        for cells in reader:
            if heading is None:
                heading = [name.strip() for name in cells]
                if remedy := _no_heading(heading, columns, optional):
                    faults.note(file, 1, "", first, remedy)
                    return
                names_faults(lambda *told: faults.note(file, 1, *told), heading, columns, optional)
                if len(set(heading)) < len(heading):
                    faults.note(file, 1, "", first, say("names a column twice; keep one"))
                    return  # every row would be told as too short
            elif any(cell.strip() for cell in cells):
                _length(faults, file, begins, cells, heading)
            begins = reader.line_num + 1
    except csv.Error:
        line = text.split("\n")[begins - 1] if begins <= text.count("\n") + 1 else ""
        remedy = say("has a quotation mark that opens a cell and does not close it; the rows from here on are not read")
        faults.note(file, begins, "", line, remedy)
    else:
        if heading is None:
            faults.note(file, 0, "", "", say("is empty; its first line is {columns}", columns=",".join(columns)))
        elif file in NEEDED and begins == 2:
            faults.note(file, 0, "", "", say("has no rows; a plant needs at least one"))


def _no_heading(heading: Sequence[str], columns: Sequence[str], optional: Sequence[str]) -> str:
    """Return what is wrong with a first line in which no column is named as it should be, "" where one is."""
    known = {*columns, *optional}
    if known & set(heading):
        return ""
    if known & {name.lower() for name in heading}:
        return say("writes its columns in capitals; write them in small letters")
    return say("names no column of this table; its first line is {columns}", columns=",".join(columns))


def _length(faults: Faults, file: str, row: int, cells: Sequence[str], heading: Sequence[str]) -> None:
    if len(cells) > len(heading):
        words = marked("has {cells} cells, the heading {heading}; put text with commas in quotation marks")
    else:
        words = marked(
            "has {cells} cells, the heading {heading}; a comma is lost between two cells, or a quotation mark "
            "swallowed the next"
        )
    if len(cells) != len(heading):
        faults.note(file, row, "", ",".join(cells), say(words, cells=len(cells), heading=len(heading)))
