"""Journal rows: the chain's head, and appending a row with its hash."""

import sqlite3
from dataclasses import dataclass

from qc.store.record.chain import GENESIS, row_hash

_HEAD = "SELECT number, hash FROM journal ORDER BY number DESC LIMIT 1"
_APPEND = """
INSERT INTO journal (number, id, device, install_epoch, seq, kind, unit, author, author_standing, happened_ms,
                     received_ms, clock_suspect, admission, plant_revision, rules, bytes, previous, hash)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
"""


@dataclass(slots=True)
class Head:
    """Where the chain stands: how many rows, and the last row's hash."""

    size: int
    hash: bytes


def head_of(conn: sqlite3.Connection) -> Head:
    """Return where the chain stands; an empty journal has size 0 and 32 zero bytes."""
    row = conn.execute(_HEAD).fetchone()
    return Head(0, GENESIS) if row is None else Head(*row)


def append(conn: sqlite3.Connection, head: Head, columns: tuple[str | int | bytes | None, ...]) -> bytes:
    """Append a row whose columns, in the order of ``HASHED_COLUMNS``, begin after the number; move the head.

    Returns the previous hash.
    """
    previous, number = head.hash, head.size + 1
    values = (number, *columns)
    digest = row_hash(previous, values)
    conn.execute(_APPEND, (*values, previous, digest))
    head.size, head.hash = number, digest
    return previous
