"""What goes into a push and what comes out of it, and the stored verdicts."""

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import orjson

from qc.domain.facts.refusals import Refusal
from qc.store.record.arrivals import json_of
from qc.store.record.proofs import Proof


@dataclass(frozen=True, slots=True)
class PushBatch:
    """Operations from one installation, in the order of their sequence numbers.

    operations: for each the bytes as received and the object they parse to. sent_ms: the device's clock when it
    sent. proofs: for each what proves its author, None for nothing; proofs None where this process made the operations
    for people signed in on its pages, and vouches for them. received_ms None: the journal's clock. held: first and last
    of the numbers that the device keeps back for now, rising: they may come later, in any order.
    """

    device: str
    install_epoch: str
    sent_ms: int
    operations: list[tuple[bytes, Any]]
    proofs: Sequence[Proof | None] | None = None
    received_ms: int | None = None
    held: Sequence[tuple[int, int]] = ()


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer to one operation, as `operations.VERDICTS`.

    code is stable and "" for applied; for a duplicate it is the verdict stored the first time, and reason its code
    and words. expected: the sequence number a gap waits for. number: the server's number, None if not stored.
    """

    id: str
    verdict: str
    code: str = ""
    reason: str = ""
    expected: int | None = None
    number: int | None = None


@dataclass(frozen=True, slots=True)
class PushAnswer:
    """One verdict for each operation in order, and the chain as it stood after them: rows and last hash (hex)."""

    verdicts: tuple[Verdict, ...]
    server_epoch: str
    chain_size: int
    chain_head: str


class Parked(Exception):
    """An operation names one that is not here yet, or a unit that is not. waits_for: its id, or the unit's key."""

    def __init__(self, waits_for: str, words: str) -> None:
        super().__init__(words)
        self.waits_for = waits_for


def unit_key(chassis: str) -> str:
    """Return what waits for a unit is parked under: no id looks like it."""
    return f"unit {chassis}"


_KNOWN = """
SELECT j.number, j.bytes, v.verdict, v.code, v.reason
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 WHERE j.id = ?
"""


_KNOWN_IDS = "SELECT id FROM journal WHERE id IN (SELECT value FROM json_each(?))"


def known_ids(conn: sqlite3.Connection, ids: Sequence[str]) -> set[str]:
    """Return those of the ids that were here before."""
    return {id_ for (id_,) in conn.execute(_KNOWN_IDS, (orjson.dumps(ids).decode(),))}


def known(conn: sqlite3.Connection, id_: str, raw: bytes) -> Verdict | None:
    """Return the verdict on an id that was here before: `duplicate`, or `id_reused` with other bytes. None if new."""
    row = conn.execute(_KNOWN, (id_,)).fetchone()
    if row is None:
        return None
    number, stored, verdict, code, reason = row
    if stored != raw and json_of(stored) != json_of(raw):  # a phone's file may be spaced otherwise
        return Verdict(id_, "id_reused", "id_reused", "another operation with this id was stored before this one")
    words = f"{code}: {reason}" if code else ""
    return Verdict(id_, "duplicate", verdict, words, number=number)


_STORE = "INSERT INTO verdict (number, verdict, code, reason, place, since) VALUES (?, ?, ?, ?, ?, ?)"
_RESETTLE = "UPDATE verdict SET verdict = ?, code = ?, reason = ?, place = ?, since = ? WHERE number = ?"


Row = tuple[int, str, str, str, int | None, int | None]


def row_of(number: int, verdict: Verdict, place: int | None) -> Row:
    """Return the row of the first verdict on an operation; place is its order of coming into effect, None without."""
    since = None if place is None else number
    return (number, verdict.verdict, verdict.code, verdict.reason, place, since)


def store(conn: sqlite3.Connection, rows: Iterable[Row]) -> None:
    """Keep first verdicts."""
    conn.executemany(_STORE, rows)


def resettle(conn: sqlite3.Connection, number: int, verdict: Verdict, place: int | None, since: int) -> None:
    """Replace the verdict of an operation that was parked; since is the number of the one that it waited for."""
    effective = None if place is None else since
    conn.execute(_RESETTLE, (verdict.verdict, verdict.code, verdict.reason, place, effective, number))


_PARK = "INSERT INTO parked (waits_for, number) VALUES (?, ?)"
_WAITING = "SELECT number FROM parked WHERE waits_for = ? ORDER BY number"
_WAITED_FOR = "SELECT DISTINCT waits_for FROM parked"
_UNPARK = "DELETE FROM parked WHERE waits_for = ?"


def park(conn: sqlite3.Connection, number: int, waits_for: str) -> None:
    """Note that an operation waits for another's id."""
    conn.execute(_PARK, (waits_for, number))


def waited_for(conn: sqlite3.Connection) -> set[str]:
    """Return the ids that parked operations wait for."""
    return {str(id_) for (id_,) in conn.execute(_WAITED_FOR)}


def take_waiting(conn: sqlite3.Connection, id_: str) -> list[int]:
    """Return the numbers of the operations that waited for this one, in order, and forget that they did."""
    numbers = [number for (number,) in conn.execute(_WAITING, (id_,))]
    if numbers:
        conn.execute(_UNPARK, (id_,))
    return numbers


_IN_EFFECT = """
SELECT v.verdict, v.code, v.reason
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 WHERE j.id = ?
"""


def require(conn: sqlite3.Connection, ids: tuple[str, ...]) -> None:
    """Let an operation pass whose named ones are all in effect. Raises Parked or, when one never will be, Refusal."""
    missing = ""
    for id_ in ids:
        row = conn.execute(_IN_EFFECT, (id_,)).fetchone()
        if row is None or row[0] == "parked":
            missing = missing or id_
        elif row[0] != "applied":
            raise Refusal("depends_on_refused", f"it rests on {id_}, which was {row[0]} ({row[1]}): {row[2]}")
    if missing:
        raise Parked(missing, f"it waits for {missing}, which has not arrived yet")
