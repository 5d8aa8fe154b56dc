"""What was set aside: kept without effect until the quality manager has a word on it."""

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from qc.domain.facts.operations import Operation
from qc.domain.line.line_record import SetAside
from qc.store.intake.admission import REASONS
from qc.store.record.arrivals import json_of, read_envelope

Outcome = Literal["taken", "left"]

_ASIDE = """
SELECT j.number, j.kind, v.verdict, w.outcome
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
  LEFT JOIN quarantine_word AS w ON w.number = j.number
 WHERE j.id = ? AND j.admission <> ''
"""
_KEEP = """
INSERT INTO quarantine_word (number, outcome, author, reason, word) VALUES (?, ?, ?, ?, ?)
    ON CONFLICT (number) DO UPDATE SET outcome = excluded.outcome, author = excluded.author,
                                       reason = excluded.reason, word = excluded.word
"""
_WAITING = """
SELECT j.id, j.number, j.kind, j.unit, j.device, j.author, j.happened_ms, j.received_ms, j.admission, j.bytes,
       w.author, w.reason
  FROM verdict AS v
  JOIN journal AS j ON j.number = v.number
  LEFT JOIN quarantine_word AS w ON w.number = v.number
 WHERE v.verdict = 'quarantined' AND (w.outcome IS NOT NULL) = :left
 ORDER BY v.number DESC
 LIMIT :limit
"""
_COUNT = """
SELECT count(*)
  FROM verdict AS v
 WHERE v.verdict = 'quarantined' AND NOT EXISTS (SELECT 1 FROM quarantine_word AS w WHERE w.number = v.number)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An operation that was set aside. author: whom it claims, "" nobody; why: the reason in words.

    op: as received, None where it is so malformed that it is none. left_by, left_why: the manager's word, "" before.
    """

    id: str
    number: int
    kind: str
    unit: str | None
    device: str
    author: str
    happened_ms: int
    received_ms: int
    code: str
    why: str
    op: Operation | None
    left_by: str
    left_why: str


def set_aside(conn: sqlite3.Connection, id_: str) -> SetAside | None:
    """Return how an operation that was set aside stands, None for an id of no such."""
    row = conn.execute(_ASIDE, (id_,)).fetchone()
    return None if row is None else SetAside(number=row[0], kind=row[1], waits=row[2] == "quarantined")


def keep_word(conn: sqlite3.Connection, number: int, outcome: Outcome, author: str, reason: str, word: int) -> None:
    """Keep the manager's word on an operation; a later one replaces it."""
    conn.execute(_KEEP, (number, outcome, author, reason, word))


def waiting(conn: sqlite3.Connection, *, left: bool = False, limit: int = 500) -> list[Entry]:
    """Return what waits for a word, latest first; ``left``: what was left with a reason instead."""
    return list(_entries(conn, left, limit))


def waiting_count(conn: sqlite3.Connection) -> int:
    """Return how many operations wait for a word."""
    return int(conn.execute(_COUNT).fetchone()[0])


def _entries(conn: sqlite3.Connection, left: bool, limit: int) -> Iterator[Entry]:
    for row in conn.execute(_WAITING, {"left": int(left), "limit": limit}):
        id_, number, kind, unit, device, author, happened_ms, received_ms, code, data, left_by, left_why = row
        yield Entry(
            id=id_,
            number=number,
            kind=kind,
            unit=unit,
            device=device,
            author=author,
            happened_ms=happened_ms,
            received_ms=received_ms,
            code=code,
            why=REASONS[code],
            op=read_envelope(json_of(data))[0],
            left_by=left_by or "",
            left_why=left_why or "",
        )
