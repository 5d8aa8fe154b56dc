"""Taking into the chain who and what stood in a record when operations began to tell of people and phones."""

import hashlib
import sqlite3
from collections.abc import Callable, Mapping
from typing import Any

import orjson

from qc.domain.facts.rule_set import PEOPLE_TOLD

_LAST = "SELECT rules FROM journal ORDER BY number DESC LIMIT 1"
_PEOPLE = """
SELECT p.code, p.name, p.role, p.stations, p.ended, s.kept
  FROM person AS p
  LEFT JOIN person_secret AS s ON s.person = p.code
 ORDER BY p.rowid
"""
_DEVICES = "SELECT code, revoked FROM device ORDER BY enrolled_ms, code"
_PASSPHRASES = ",t=3,"  # how a kept form tells that a passphrase made it: `pins` takes more time for one

_NOBODY = "SELECT NOT EXISTS (SELECT 1 FROM person) AND NOT EXISTS (SELECT 1 FROM device)"

Tell = Callable[[sqlite3.Connection, str, Mapping[str, Any]], Any]


def is_told(conn: sqlite3.Connection) -> bool:
    """Return whether operations tell of the record's people and phones: since the first row under such rules."""
    row = conn.execute(_LAST).fetchone()
    return row is not None and int(row[0]) >= PEOPLE_TOLD


def adopt(conn: sqlite3.Connection, tell: Tell) -> None:
    """Tell of each person and phone that an earlier program left, once, before anything else is told."""
    if is_told(conn) or conn.execute(_NOBODY).fetchone() == (1,):
        return
    people, phones = conn.execute(_PEOPLE).fetchall(), conn.execute(_DEVICES).fetchall()
    for code, name, role, stations, ended, kept in people:
        person = {"person": code, "name": name, "role": role, "stations": orjson.loads(stations), "ended": bool(ended)}
        proof = {"secret": digest_of(kept) if kept else None, "passphrase": _PASSPHRASES in (kept or "")}
        tell(conn, "person_stood", {**person, **proof})
    for code, revoked in phones:
        tell(conn, "device_stood", {"enrolled": code, "out_of_use": bool(revoked)})


def digest_of(kept: str) -> str:
    """Return what an operation holds of a kept secret: the SHA-256 of its form, salt and all, in hexadecimal."""
    return hashlib.sha256(kept.encode()).hexdigest()
