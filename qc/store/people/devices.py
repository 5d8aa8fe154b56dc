"""The phones and tablets that sign in: a short code each, whether one is out of use, and when it was last seen."""

import itertools
import re
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from qc.store.people.persons import DESK, Read
from qc.store.people.telling import Record
from qc.store.record.own_word import BY_ITSELF, By, NotTold

_CODE = re.compile(r"[A-Za-z0-9._-]{1,32}\Z")
_MOST_FIGURES = 6  # of a code that is given: however it was counted before, a code stays as short as one that is taken

Tell = Callable[[sqlite3.Connection, str, Mapping[str, Any]], Any]


class NoSuchDevice(Exception):
    """No device of that code is known."""


class NotADevice(Exception):
    """The code cannot be a phone's."""


class DeviceRevoked(Exception):
    """The phone has been taken out of use."""


@dataclass(frozen=True, slots=True)
class Word:
    """What a phone says of itself; nothing proves it. app: the version of its app, "" unknown; waiting: records that it
    has not sent; behind_ms: how far its clock stands behind the server's, below 0 ahead.
    """

    app: str
    waiting: int
    behind_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A phone or tablet. Instants in milliseconds since 1970 UTC by the server's clock; last_seen_ms 0 for never.

    proves: it has a secret of its own. word: what it last said of itself at word_ms, None where it has not yet.
    """

    code: str
    enrolled_ms: int
    last_seen_ms: int
    revoked: bool
    enrolled_by: str
    proves: bool
    word: Word | None = None
    word_ms: int = 0


_ALL = """
SELECT d.code, d.enrolled_ms, coalesce(s.last_ms, 0), d.revoked, d.enrolled_by, d.secret <> '',
       w.app, w.waiting, w.behind_ms, w.at_ms
  FROM device AS d
  LEFT JOIN device_seen AS s ON s.device = d.code
  LEFT JOIN device_word AS w ON w.device = d.code
 ORDER BY d.enrolled_ms, d.number, d.code
"""
_ONE = "SELECT revoked FROM device WHERE code = ?"
_SEEN = """
INSERT INTO device_seen (device, last_ms) VALUES (:code, :now) ON CONFLICT (device) DO UPDATE SET last_ms = :now
"""
_WORD = "SELECT app, waiting, behind_ms, at_ms FROM device_word WHERE device = ?"
_KEEP_WORD = """
INSERT INTO device_word (device, at_ms, app, waiting, behind_ms) VALUES (?, ?, ?, ?, ?)
ON CONFLICT (device) DO UPDATE
SET at_ms = excluded.at_ms, app = excluded.app, waiting = excluded.waiting, behind_ms = excluded.behind_ms
"""
_SAME_MS = 5 * 60_000  # a phone that says the same again is not written down sooner
_NUMBERS = "SELECT code FROM device WHERE code GLOB 'P[0-9]*'"


def is_code(code: str) -> bool:
    """Tell whether a code can be a phone's."""
    return code != DESK and _CODE.match(code) is not None


def is_revoked(conn: sqlite3.Connection, code: str) -> bool | None:
    """Tell whether a device is revoked; None when it never signed in."""
    row = conn.execute(_ONE, (code,)).fetchone()
    return bool(row[0]) if row else None


def is_known(conn: sqlite3.Connection, code: str) -> bool:
    """Tell whether a phone is one of the plant's: somebody has signed in on it before."""
    return is_revoked(conn, code) is not None


def seen(conn: sqlite3.Connection, code: str | None, now_ms: int, tell: Tell) -> str:
    """Note that a device signs in and return its code; None is given the next free one (P1, P2, …).

    A well-shaped code that is not known is kept as it is: it was given before the record went back to a backup.
    Raises NotADevice for the desk's code and for what is no code.
    """
    if code is None:
        code = next_code(conn)
    elif not is_code(code):
        raise NotADevice("the device code must be the one that this phone was given at its first sign-in")
    if is_revoked(conn, code) is None:
        try:
            tell(conn, "device_enrolled", {"enrolled": code})
        except NotTold as no:
            raise NotADevice(str(no)) from None
    conn.execute(_SEEN, {"code": code, "now": now_ms})
    return code


def next_code(conn: sqlite3.Connection) -> str:
    """Return the next free code of a phone: P and a number."""
    figures = [code[1:] for (code,) in conn.execute(_NUMBERS)]
    taken = {int(one) for one in figures if one.isdigit() and len(one) <= _MOST_FIGURES}
    after = max(taken, default=0) + 1
    return f"P{after if after < 10**_MOST_FIGURES else next(one for one in itertools.count(1) if one not in taken)}"


class Devices:
    """Lists devices, and takes them into use and out of it."""

    def __init__(self, record: Record, read: Read) -> None:
        self.record = record
        self._read = read

    def all(self) -> list[Device]:
        """Return the devices in the order in which they were enrolled."""
        return [_device(row) for row in self._read().execute(_ALL)]

    def note(self, code: str, word: Word, now_ms: int) -> None:
        """Keep what a phone says of itself, where it says something else than before or a while has passed."""
        row = self._read().execute(_WORD, (code,)).fetchone()
        if row is not None and (row[0], row[1]) == (word.app, word.waiting) and 0 <= now_ms - row[3] < _SAME_MS:
            return
        values = (code, now_ms, word.app, word.waiting, word.behind_ms)
        self.record.write(lambda conn: conn.execute(_KEEP_WORD, values).rowcount)

    def enrol(self, code: str, by: By = BY_ITSELF) -> None:
        """Take a phone into use under a code of its own. Raises NotTold where the code is taken."""
        self.record.write(lambda conn: self.record.tell(conn, "device_enrolled", {"enrolled": code}, by))

    def revoke(self, code: str, revoked: bool = True, by: By = BY_ITSELF, reason: str = "") -> None:
        """Take a device out of use at its next request, or take it back in. What it still sends is kept aside.

        Raises NoSuchDevice, NotTold where it is so already.
        """
        kind, field = ("device_revoked", "revoked") if revoked else ("device_restored", "restored")
        body = {field: code, "reason": reason.strip()} if reason.strip() else {field: code}

        def work(conn: sqlite3.Connection) -> None:
            try:
                self.record.tell(conn, kind, body, by)
            except NotTold as no:
                raise (NoSuchDevice(str(no)) if no.code == "no_such_device" else no) from None

        self.record.write(work)


def _device(row: sqlite3.Row) -> Device:
    word = None if row[9] is None else Word(row[6], row[7], row[8])
    return Device(
        code=row[0],
        enrolled_ms=row[1],
        last_seen_ms=row[2],
        revoked=bool(row[3]),
        enrolled_by=row[4],
        proves=bool(row[5]),
        word=word,
        word_ms=row[9] or 0,
    )
