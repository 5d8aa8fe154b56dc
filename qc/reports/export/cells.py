"""Values of the record as cells: instants and days as ISO 8601, yes or no in words, text that nothing computes."""

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from qc.reports.export.columns import Column

Value = str | int | float | bool | list[str] | None
Cell = str | int | float | None
_COMPUTED = ("=", "+", "-", "@", "\t", "\r")


def cells_of(row: Sequence[Any], columns: Sequence[Column], zone: ZoneInfo) -> list[Cell]:
    """Return a row's values as cells; numbers stay numbers, None stays empty."""
    return [_cell(value, column, zone) for value, column in zip(row, columns, strict=True)]


def _cell(value: Any, column: Column, zone: ZoneInfo) -> Cell:
    if value is None or value == "":
        return None
    if column.sort == "instant":
        return datetime.fromtimestamp(value / 1000, zone).isoformat(timespec="seconds")
    if column.sort == "yes or no":
        return "yes" if value else "no"
    if column.sort == "list":
        return ";".join(json.loads(value)) or None
    return value if column.sort == "number" else str(value)


def values_of(row: Sequence[Any], columns: Sequence[Column]) -> list[Value]:
    """Return a row's values by their sort: yes or no as a truth, a list as one, an instant in ms since 1970 UTC."""
    return [_value(value, column) for value, column in zip(row, columns, strict=True)]


def _value(value: Any, column: Column) -> Value:
    if column.sort == "list":
        return list(json.loads(value)) if value else []
    if value is None or value == "":
        return None
    if column.sort == "yes or no":
        return bool(value)
    return value if column.sort in ("number", "instant") else str(value)


def as_text(cell: Cell) -> Cell:
    """Return a cell for a CSV file: before a text that a spreadsheet would compute stands an apostrophe.

    A number is none, negative or not. Source: OWASP, "CSV Injection", from memory.
    """
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_COMPUTED) else cell
