"""The phones and tablets that sign in: a short code each, given at the first sign-in, and whether one is revoked."""

import re
import sqlite3
from dataclasses import dataclass
from typing import Any

from qc.store.people import DESK, Read, Write

_CODE = re.compile(r"[A-Za-z0-9._-]{1,32}\Z")


class NoSuchDevice(Exception):
    """No device of that code has signed in."""


class NotADevice(Exception):
    """The code cannot be a phone's."""


@dataclass(frozen=True, slots=True)
class Device:
    """A phone or tablet. Instants in milliseconds since 1970 UTC, by the server's clock."""

    code: str
    first_seen_ms: int
    last_seen_ms: int
    revoked: bool


_ALL = "SELECT code, first_seen_ms, last_seen_ms, revoked FROM device ORDER BY first_seen_ms, code"
_ONE = "SELECT revoked FROM device WHERE code = ?"
_SEEN = """
INSERT INTO device (code, first_seen_ms, last_seen_ms) VALUES (:code, :now, :now)
    ON CONFLICT (code) DO UPDATE SET last_seen_ms = :now
"""
_NUMBERS = "SELECT code FROM device WHERE code GLOB 'P[0-9]*'"
_REVOKE = "UPDATE device SET revoked = :revoked WHERE code = :code"


def is_revoked(conn: sqlite3.Connection, code: str) -> bool | None:
    """Tell whether a device is revoked; None when it never signed in."""
    row = conn.execute(_ONE, (code,)).fetchone()
    return bool(row[0]) if row else None


def is_known(conn: sqlite3.Connection, code: str) -> bool:
    """Tell whether a phone is one of the plant's: somebody has signed in on it before."""
    return is_revoked(conn, code) is not None


def seen(conn: sqlite3.Connection, code: str | None, now_ms: int) -> str:
    """Note that a device signs in and return its code; None is given the next free one (P1, P2, …).

    A well-shaped code that is not known is kept as it is: it was given before the record went back to a backup.
    Raises NotADevice for the desk's code and for what is no code.
    """
    if code is None:
        code = _next_code(conn)
    elif code == DESK or not _CODE.match(code):
        raise NotADevice("the device code must be the one that this phone was given at its first sign-in")
    conn.execute(_SEEN, {"code": code, "now": now_ms})
    return code


def _next_code(conn: sqlite3.Connection) -> str:
    numbers = [int(code[1:]) for (code,) in conn.execute(_NUMBERS) if code[1:].isdigit()]
    return f"P{max(numbers, default=0) + 1}"


class Devices:
    """Lists devices and revokes them."""

    def __init__(self, write: Write[Any], read: Read) -> None:
        self._write = write
        self._read = read

    def all(self) -> list[Device]:
        """Return the devices in the order in which they first signed in."""
        return [Device(row[0], row[1], row[2], bool(row[3])) for row in self._read().execute(_ALL)]

    def revoke(self, code: str, revoked: bool = True) -> None:
        """Take a device out of use at its next request, or take it back in. What it still sends is kept aside.

        Raises NoSuchDevice.
        """

        def work(conn: sqlite3.Connection) -> None:
            if conn.execute(_REVOKE, {"revoked": int(revoked), "code": code}).rowcount == 0:
                known = ", ".join(device.code for device in self.all()) or "none yet"
                raise NoSuchDevice(f"no device has the code {code!r}; known are {known}")

        self._write(work)
