"""The people of a plant: who they are, what they may do, and how one is added, changed or ended. Never deleted."""

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

from qc.domain.people import ROLES, Person, Role
from qc.store.pins import Pins, secret_fault

T = TypeVar("T")
Write = Callable[[Callable[[sqlite3.Connection], T]], T]  # runs in a transaction of the writer, returns when on disk
Read = Callable[[], sqlite3.Connection]  # a read-only connection of the calling thread

# The administrator keeps the server and can neither inspect nor release.
PHONE_ROLES = frozenset(ROLES) - {"administrator"}
DESK = "DESK"  # the device of everything done on a page


class NoSuchPerson(Exception):
    """Nobody of that code is kept."""


class PersonExists(Exception):
    """The code is taken; codes are never given to a second person."""


class WeakSecret(Exception):
    """The PIN or passphrase will not do; the message says why without echoing it."""


_ALL = "SELECT code, name, role, stations FROM person WHERE ended = 0 OR :ended = 1 ORDER BY code"
_ONE = "SELECT code, name, role, stations, secret_hash, ended FROM person WHERE code = ?"
_ADD = "INSERT INTO person (code, name, role, stations, secret_hash) VALUES (?, ?, ?, ?, ?)"
_ASSIGN = "UPDATE person SET role = ?, stations = ? WHERE code = ?"
_END = "UPDATE person SET ended = 1 WHERE code = ?"
_SECRET = "UPDATE person SET secret_hash = ? WHERE code = ?"
# Over by any clock: a server that runs meanwhile counts by its own.
_END_SIGN_INS = "UPDATE sign_in SET ends_ms = min(:now, begun_ms) WHERE person = :person"
_FORGET_TRIES = "DELETE FROM sign_in_try WHERE person = ?"


def person_of(row: Any) -> Person:
    """Return the person that a row's first four columns (code, name, role, stations) tell."""
    return Person(row[0], row[1], cast(Role, row[2]), tuple(json.loads(row[3])))


class People:
    """Adds, changes and lists people. Every method that writes returns when it is on disk."""

    def __init__(self, keys: Path, write: Write[Any], read: Read, clock: Callable[[], int]) -> None:
        """keys: folder of the pepper, made where the plant has no people yet; clock: milliseconds since 1970 UTC."""
        self._write = write
        self._read = read
        self._clock = clock
        self.pins = Pins(keys, expected=bool(self.all(ended=True)))

    def all(self, ended: bool = False) -> list[Person]:
        """Return the people in order of their codes, on request with those who have left."""
        return [person_of(row) for row in self._read().execute(_ALL, {"ended": int(ended)})]

    def phone_people(self) -> list[Person]:
        """Return those who may sign in on a phone, in order of their codes."""
        return [person for person in self.all() if person.role in PHONE_ROLES]

    def get(self, code: str) -> Person | None:
        """Return a person by code, also one who has left; None when there never was one."""
        row = self._read().execute(_ONE, (code,)).fetchone()
        return person_of(row) if row else None

    def add(self, person: Person, secret: str) -> None:
        """Add a person with a PIN or passphrase. Raises WeakSecret, PersonExists."""
        kept = self._checked(person.role, person.code, secret)
        values = (person.code, person.name, person.role, json.dumps(person.stations), kept)

        def work(conn: sqlite3.Connection) -> None:
            if conn.execute(_ONE, (person.code,)).fetchone():
                raise PersonExists(f"{person.code} is taken; a code is never given to a second person, choose another")
            conn.execute(_ADD, values)

        self._write(work)

    def assign(self, code: str, role: Role, stations: tuple[str, ...] = ()) -> None:
        """Give a person another role or other stations from now on; what they did before stays as it was."""
        self._change(code, lambda conn: conn.execute(_ASSIGN, (role, json.dumps(stations), code)))

    def change_secret(self, code: str, secret: str) -> None:
        """Replace a PIN or passphrase, end the person's sign-ins and forget wrong tries. Raises WeakSecret."""
        person = self._known(code)
        kept = self._checked(person.role, code, secret)

        def work(conn: sqlite3.Connection) -> None:
            conn.execute(_SECRET, (kept, code))
            conn.execute(_END_SIGN_INS, {"now": self._clock(), "person": code})
            conn.execute(_FORGET_TRIES, (code,))

        self._change(code, work)

    def end(self, code: str) -> None:
        """Let a person act no longer: their sign-ins end now, their past stays under their name."""

        def work(conn: sqlite3.Connection) -> None:
            conn.execute(_END, (code,))
            conn.execute(_END_SIGN_INS, {"now": self._clock(), "person": code})

        self._change(code, work)

    def _known(self, code: str) -> Person:
        person = self.get(code)
        if person is None:
            known = ", ".join(person.code for person in self.all()) or "nobody yet"
            raise NoSuchPerson(f"nobody has the code {code!r}; known are {known}")
        return person

    def _checked(self, role: str, code: str, secret: str) -> str:
        if why := secret_fault(role, code, secret):
            raise WeakSecret(f"{why}; nothing was changed for {code}")
        return self.pins.kept(secret)

    def _change(self, code: str, work: Callable[[sqlite3.Connection], Any]) -> None:
        self._known(code)
        self._write(work)
