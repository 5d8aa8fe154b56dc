"""Rows of every table of an export, one after another, each table read as it stands at one moment."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import orjson

from qc.domain.counted.counts import Slice
from qc.domain.plant.plant import Plant
from qc.reports.export.cells import Cell, cells_of
from qc.reports.export.columns import TABLES
from qc.store.counts import LINE, Counts
from qc.store.reading.export_rows import columns_of, journal_rows, rows_of

WITHHELD = "withheld"
_NAMING = ("name", "at_console")  # fields of a body that hold a person's name or account


@dataclass(frozen=True, slots=True)
class Source:
    """Where an export is read. connection: of its own; weeks: the rows of the table of weeks, counted before."""

    connection: sqlite3.Connection
    plant: Plant
    weeks: tuple[tuple[Any, ...], ...]

    def rows(self, table: str) -> Iterator[list[Cell]]:
        """Yield a table's rows as cells. Raises KeyError for a table of no such name."""
        zone = ZoneInfo(self.plant.time_zone)
        found = iter(self.weeks) if table == "weeks" else rows_of(self.connection, table)
        return (cells_of(row, TABLES[table], zone) for row in found)

    def columns(self, table: str, piece: int) -> Iterator[list[tuple[Any, ...]]]:
        """Yield a table's columns as the record holds them, so many rows at a time; none of an empty table.

        Raises KeyError for a table of no such name.
        """
        if table != "weeks":
            yield from columns_of(self.connection, table, piece)
        elif self.weeks:
            yield list(zip(*self.weeks, strict=True))

    def journal(self, *, names: bool) -> Iterator[bytes]:
        """Yield each row of the journal as a line of JSON; without names, those in bodies are withheld."""
        for number, received, happened, verdict, code, reason, digest, told in journal_rows(self.connection):
            line = {
                "number": number,
                "received_ms": received,
                "happened_ms": happened,
                "verdict": verdict,
                "code": code,
                "reason": reason,
                "hash": bytes(digest).hex(),
                "operation": _operation(bytes(told), names=names),
            }
            yield orjson.dumps(line) + b"\n"


@contextmanager
def one_moment(connection: sqlite3.Connection) -> Iterator[None]:
    """Have every table of an export be of one moment."""
    connection.execute("BEGIN")
    try:
        yield
    finally:
        connection.execute("ROLLBACK")


def _operation(told: bytes, *, names: bool) -> Any:
    """Return an operation as it was received, as text where it is no JSON."""
    try:
        operation = orjson.loads(told)
    except orjson.JSONDecodeError:
        return told.decode("utf-8", "replace") if names else WITHHELD
    body = operation.get("body") if isinstance(operation, dict) else None
    if not names and isinstance(body, dict):
        operation["body"] = {name: WITHHELD if name in _NAMING else value for name, value in body.items()}
    return operation


def week_rows(counts: Counts, now: int) -> tuple[tuple[Any, ...], ...]:
    """Return the rows of the table of weeks from the record's first to the running one; empty before the first."""
    first = counts.first_week()
    if first is None:
        return ()
    today = counts.today(now)
    asked = Slice(first, max(today - timedelta(days=today.weekday()), first) + timedelta(weeks=1))
    line = counts.week_counts(asked, LINE, now)
    passed = counts.first_pass_weeks(asked, LINE, now)
    by_severity = [
        counts.week_counts(Slice(asked.first, asked.end, severities=(one,)), LINE, now).defects
        for one in ("critical", "major", "minor")
    ]
    running = [_is_running(asked.first + timedelta(weeks=n), today) for n in range(len(line.weeks))]
    columns = (line.inspected, line.defectives, passed.clean_major, passed.clean_all, line.defects, *by_severity)
    return tuple(zip(line.weeks, running, *columns, strict=True))


def _is_running(monday: date, today: date) -> bool:
    return monday + timedelta(weeks=1) > today
