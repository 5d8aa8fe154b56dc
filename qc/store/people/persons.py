"""The people of a plant: who they are, what they may do, and how one is added, changed or ended. Never deleted.

Each act is an operation in the journal, from which the table of people is derived; beside it stands the salted form of
each secret, which the operation proves by its SHA-256.
"""

import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar, cast

from qc.domain.facts.people import ROLES, InRoles, Person, Role
from qc.domain.line.roster import DESK
from qc.domain.plant.mail_plan import WRITTEN_FOR
from qc.store.people.pins import Pins, secret_fault
from qc.store.people.telling import Record
from qc.store.record.own_word import BY_ITSELF, By, NotTold
from qc.store.tables.adoption import digest_of

__all__ = [
    "DESK",
    "PHONE_ROLES",
    "ChangedMeanwhile",
    "NoSuchPerson",
    "NotTold",
    "People",
    "PersonExists",
    "WeakSecret",
    "person_of",
    "void_secrets",
]

T = TypeVar("T")
Write = Callable[[Callable[[sqlite3.Connection], T]], T]  # runs in a transaction of the writer, returns when on disk
Read = Callable[[], sqlite3.Connection]  # a read-only connection of the calling thread

# The administrator keeps the server, and as that alone can neither inspect nor release.
PHONE_ROLES = frozenset(ROLES) - {"administrator"}


class NoSuchPerson(Exception):
    """Nobody of that code is kept."""


class PersonExists(Exception):
    """The code is taken; codes are never given to a second person."""


class ChangedMeanwhile(Exception):
    """Another has changed the person since they were looked at; the message says what to do."""


class WeakSecret(Exception):
    """The PIN or passphrase will not do; the message says why without echoing it."""


_ALL = "SELECT code, name, role, stations, also FROM person WHERE ended = 0 OR :ended = 1 ORDER BY code"
_ONE = "SELECT code, name, role, stations, also FROM person WHERE code = ?"
_NUMBER = "SELECT number FROM person WHERE code = ?"
_SECRET_SET = "SELECT secret_by, secret_ms, passphrase, ended, number FROM person WHERE code = ?"
_SECRET = """
INSERT INTO person_secret (person, kept) VALUES (:person, :kept) ON CONFLICT (person) DO UPDATE SET kept = :kept
"""
_END_SIGN_INS = "DELETE FROM sign_in WHERE person = ? AND session <> ?"
_FORGET_ADDRESS = "DELETE FROM mail_wish WHERE person = ?"
_FORGET_TRIES = "DELETE FROM sign_in_try WHERE person = ?"


def person_of(row: Any) -> Person:
    """Return the person that a row's first five columns (code, name, role, stations, also) tell."""
    return Person(row[0], row[1], cast(Role, row[2]), tuple(json.loads(row[3])), tuple(json.loads(row[4])))


def people_in(conn: sqlite3.Connection) -> list[Person]:
    """Return who is at work, in order of their codes."""
    return [person_of(row) for row in conn.execute(_ALL, {"ended": 0})]


@dataclass(frozen=True, slots=True)
class SecretSet:
    """Who gave a person the secret that counts, and when (milliseconds since 1970 UTC); whether they have left.

    number: of the last operation that changed the person.
    """

    by: str
    at_ms: int
    passphrase: bool
    ended: bool
    number: int


class People:
    """Adds, changes and lists people. Every method that writes returns when it is on disk.

    Raised is NotTold where the record does not allow it, its words say what would do.
    """

    def __init__(self, keys: Path, record: Record, read: Read) -> None:
        """keys: folder of the pepper, made where the plant has no people yet."""
        self._record = record
        self._read = read
        self.pins = Pins(keys, expected=bool(self.all(ended=True)))

    def all(self, ended: bool = False) -> list[Person]:
        """Return the people in order of their codes, on request with those who have left."""
        return [person_of(row) for row in self._read().execute(_ALL, {"ended": int(ended)})]

    def phone_people(self) -> list[Person]:
        """Return those who may sign in on a phone, in order of their codes."""
        return [person for person in self.all() if person.has(*PHONE_ROLES)]

    def get(self, code: str) -> Person | None:
        """Return a person by code, also one who has left; None when there never was one."""
        row = self._read().execute(_ONE, (code,)).fetchone()
        return person_of(row) if row else None

    def secret_set(self, code: str) -> SecretSet | None:
        """Return who gave a person their secret, and when; None when there never was such a person."""
        row = self._read().execute(_SECRET_SET, (code,)).fetchone()
        return SecretSet(row[0], row[1], bool(row[2]), bool(row[3]), row[4]) if row else None

    def add(self, person: Person, secret: str, by: By = BY_ITSELF) -> None:
        """Add a person with a PIN or passphrase. Raises WeakSecret, PersonExists, NotTold."""
        kept = self._checked(person, secret)
        who = {"person": person.code, "name": person.name, "role": person.role, "stations": list(person.stations)}
        who = {**who, **_further(person)}

        def work(conn: sqlite3.Connection) -> None:
            try:
                self._record.tell(conn, "person_added", {**who, **_proof(kept, secret)}, by)
            except NotTold as no:
                raise (PersonExists(str(no)) if no.code == "code_taken" else no) from None
            conn.execute(_SECRET, {"person": person.code, "kept": kept})

        self._record.write(work)

    def assign(
        self,
        code: str,
        role: Role,
        stations: tuple[str, ...] = (),
        by: By = BY_ITSELF,
        secret: str | None = None,
        also: tuple[Role, ...] = (),
        looked_at: int | None = None,
    ) -> None:
        """Give a person other roles or other stations from now on; what they did before stays as it was.

        secret: a new one in the same step, which a role that signs in with a passphrase asks of who has a PIN. also:
        further roles, those not named are ended. looked_at: the number of the person as whoever decides saw them, None
        where that is not asked. Raises ChangedMeanwhile where another has changed them since.
        """
        person = replace(self._known(code), role=role, also=also)
        body = {"person": code, "role": role, "stations": list(stations), **_further(person)}
        kept = None if secret is None else self._checked(person, secret)

        def work(conn: sqlite3.Connection) -> None:
            proof = {} if kept is None or secret is None else _proof(kept, secret)
            if looked_at not in (None, *conn.execute(_NUMBER, (code,)).fetchone()):
                raise ChangedMeanwhile(f"{code} was changed while you looked; see what they are now, and choose again")
            self._record.tell(conn, "person_assigned", {**body, **proof}, by)
            if kept is not None:
                self._keep(conn, code, kept)
            if not person.has(*WRITTEN_FOR):  # who can no longer open the page on which they asked for mail
                conn.execute(_FORGET_ADDRESS, (code,))

        self._record.write(work)

    def needs_passphrase(self, code: str, roles: InRoles) -> bool:
        """Return whether one of these roles asks for a passphrase of a person who has a PIN."""
        if not roles.asks_passphrase:
            return False
        given = self.secret_set(code)
        return given is not None and not given.passphrase

    def change_secret(self, code: str, secret: str, by: By = BY_ITSELF) -> None:
        """Replace a PIN or passphrase, end the person's sign-ins and forget wrong tries. Raises WeakSecret.

        Who changes their own stays signed in where they do it.
        """
        kept = self._checked(self._known(code), secret)

        def work(conn: sqlite3.Connection) -> None:
            self._record.tell(conn, "secret_changed", {"person": code, **_proof(kept, secret)}, by)
            self._keep(conn, code, kept, by.session if by.author == code else "")

        self._record.write(work)

    def end(self, code: str, by: By = BY_ITSELF, reason: str = "") -> None:
        """Let a person act no longer: their sign-ins end now, their past stays, their address is forgotten."""
        self._known(code)

        def work(conn: sqlite3.Connection) -> None:
            self._record.tell(conn, "person_ended", _with_reason({"person": code}, reason), by)
            conn.execute(_END_SIGN_INS, (code, ""))
            conn.execute(_FORGET_ADDRESS, (code,))

        self._record.write(work)

    def take_back(self, code: str, by: By = BY_ITSELF, reason: str = "") -> None:
        """Let a person who was ended act again, with the secret that they had."""
        self._known(code)
        body = _with_reason({"person": code}, reason)
        self._record.write(lambda conn: self._record.tell(conn, "person_returned", body, by))

    def demand_fit(self, person: Person, secret: str) -> None:
        """Raise WeakSecret where a PIN or passphrase will not do for a person."""
        if why := secret_fault(person, person.code, secret):
            raise WeakSecret(f"{why}; nothing was changed for {person.code}")

    def _keep(self, conn: sqlite3.Connection, code: str, kept: str, but: str = "") -> None:
        conn.execute(_SECRET, {"person": code, "kept": kept})
        conn.execute(_END_SIGN_INS, (code, but))
        conn.execute(_FORGET_TRIES, (code,))

    def _known(self, code: str) -> Person:
        person = self.get(code)
        if person is None:
            known = ", ".join(person.code for person in self.all()) or "nobody yet"
            raise NoSuchPerson(f"nobody has the code {code!r}; known are {known}")
        return person

    def _checked(self, person: Person, secret: str) -> str:
        self.demand_fit(person, secret)
        return self.pins.kept(secret)


def _proof(kept: str, secret: str) -> dict[str, Any]:
    """Return what an operation tells of a secret: the digest of its kept form, and whether it is a passphrase."""
    return {"secret": digest_of(kept), "passphrase": not secret.isdigit()}


def _further(person: Person) -> dict[str, Any]:
    """Return what an operation tells of further roles: nothing where there are none, as ever."""
    return {"also": list(person.also)} if person.also else {}


def _with_reason(body: dict[str, Any], reason: str) -> dict[str, Any]:
    return {**body, "reason": reason.strip()} if reason.strip() else body


def void_secrets(record: Record) -> int:
    """Let no kept secret count any more, as where their pepper is lost; return how many people then have none.

    Every sign-in ends. Done again it changes nothing.
    """

    def work(conn: sqlite3.Connection) -> int:
        for (code,) in conn.execute("SELECT person FROM person_secret ORDER BY person").fetchall():
            record.tell(conn, "secret_changed", {"person": code, "secret": None, "passphrase": False})
        conn.execute("DELETE FROM person_secret")
        conn.execute("DELETE FROM sign_in")
        return int(conn.execute("SELECT count(*) FROM person").fetchone()[0])

    return record.write(work)
