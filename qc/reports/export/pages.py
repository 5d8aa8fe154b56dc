"""A table's rows by pages, for a program that reads it piece by piece: JSON lines or CSV, and where the next begins."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal
from zoneinfo import ZoneInfo

import orjson

from qc.domain.plant.plant import Plant
from qc.reports.export.cells import cells_of, values_of
from qc.reports.export.columns import TABLES, tables_for
from qc.reports.export.files import csv_of

PageForm = Literal["jsonl", "csv"]
READABLE = tables_for(names=False)  # no machine reads people's names


@dataclass(frozen=True, slots=True)
class TablePage:
    """data: the rows in the form asked for. after: the number of the last, which the next page is asked with.

    more: whether there is a next page.
    """

    data: bytes
    after: int
    more: bool


def page_in(
    form: PageForm, table: str, rows: Sequence[tuple[int, Sequence[Any]]], limit: int, plant: Plant, after: int
) -> TablePage:
    """Return a page of at most ``limit`` rows. rows: one more where there is a next page, each with its number.

    after: the number that was asked with, for a page without rows. Raises KeyError for a table of no such name.
    """
    columns, zone = TABLES[table], ZoneInfo(plant.time_zone)
    shown = rows[:limit]
    if form == "csv":
        held = io.BytesIO()
        csv_of(held, columns, (cells_of(row, columns, zone) for _, row in shown))
        data = held.getvalue()
    else:
        data = b"".join(orjson.dumps(_line(table, row, zone)) + b"\n" for _, row in shown)
    return TablePage(data, shown[-1][0] if shown else after, len(rows) > limit)


def _line(table: str, row: Sequence[Any], zone: ZoneInfo) -> dict[str, Any]:
    columns = TABLES[table]
    return {
        column.name: datetime.fromtimestamp(value / 1000, zone).isoformat(timespec="seconds")
        if column.sort == "instant" and isinstance(value, int)
        else value
        for column, value in zip(columns, values_of(row, columns), strict=True)
    }
