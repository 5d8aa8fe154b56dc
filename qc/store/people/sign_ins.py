"""Signing in: tries counted before the secret is looked at, tokens kept as hashes, certificates that prove authorship.

How often one may guess, and where, is `tries`. Times here are an even clock's: setting the machine's clock keeps no
token alive and opens no lock-out, and a restart under another clock makes neither longer.
"""

import hashlib
import logging
import secrets
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

from qc.domain.facts.people import Person
from qc.domain.facts.proof import CERTIFIED_MS, SIGNATURE_MS, sign_in_message
from qc.store.people import devices
from qc.store.people.devices import DeviceRevoked
from qc.store.people.persons import DESK, PHONE_ROLES, People, Read, WeakSecret, person_of
from qc.store.people.telling import Record
from qc.store.people.tries import (
    REMEMBERED_MS,
    Place,
    Source,
    WrongTries,
    count_try,
    demand_patience,
    forget_tries,
    keep_wrong,
    name_for,
    place_of,
    wrong_since,
    wrong_tries,
)
from qc.store.record.certificates import Certificates, public_key
from qc.store.record.own_word import By

Purpose = Literal["phone", "page"]

SHIFT_MS = 10 * 3_600_000
IDLE_MS = 30 * 60_000  # pages; a phone lies in a pocket between two units and is kept for a shift
TOUCH_MS = 60_000  # a page's use is noted once a minute, not at each request

_log = logging.getLogger("qc.store")
_NOWHERE = Source()


class WrongSignIn(Exception):
    """Name and secret do not go together, or that person may not sign in there; which of them is not told."""


class PassphraseNeeded(Exception):
    """The PIN is right, and the person's role signs in with a passphrase, which is chosen on a page."""


@dataclass(frozen=True, slots=True)
class SignIn:
    """Somebody signed in. session: its id, for reading; ends_ms: at the latest, by the even clock.

    certificate: of the key that the phone sent, which proves who made what it signs; "" on a page.
    """

    session: str
    person: Person
    device: str
    ends_ms: int
    revoked: bool = False
    certificate: str = ""
    certified_until_ms: int = 0


@dataclass(frozen=True, slots=True)
class Certified:
    """A certificate for one signature, and until when it proves it, by the server's clock."""

    certificate: str
    until_ms: int


_KEPT = """
SELECT p.code, p.name, p.role, p.stations, p.also, s.kept
  FROM person AS p
  LEFT JOIN person_secret AS s ON s.person = p.code
 WHERE p.code = ? AND p.ended = 0
"""
_BEGIN = """
INSERT INTO sign_in (session, person, device, purpose, token_hash, begun_ms, used_ms, ends_ms, seal)
VALUES (:session, :person, :device, :purpose, :token_hash, :now, :now, :ends, :seal)
"""
_BY_TOKEN = """
SELECT p.code, p.name, p.role, p.stations, p.also, s.session, s.device, s.ends_ms, s.used_ms, coalesce(d.revoked, 0)
  FROM sign_in AS s
  JOIN person AS p ON p.code = s.person AND p.ended = 0
  LEFT JOIN device AS d ON d.code = s.device
 WHERE s.token_hash = :token_hash AND s.purpose = :purpose AND s.ends_ms > :now AND s.used_ms > :idle_since
   AND s.begun_ms <= :now -- begun under a clock that was ahead: nobody knows how long ago
"""
_TOUCH = "UPDATE sign_in SET used_ms = ? WHERE session = ?"
_SIGN_OUT = "DELETE FROM sign_in WHERE token_hash = ?"


class SignIns:
    """Opens, finds and ends sign-ins."""

    def __init__(
        self,
        people: People,
        record: Record,
        read: Read,
        clock: Callable[[], int],
        certificates: Certificates,
    ) -> None:
        """clock: an even one, milliseconds since 1970 UTC where it began."""
        self._people = people
        self._record = record
        self._write = record.write
        self._read = read
        self._clock = clock
        self._certificates = certificates

    def open(
        self, code: str, secret: str, device: str | None, purpose: Purpose, public: str = "", source: Source = _NOWHERE
    ) -> tuple[SignIn, str]:
        """Sign a person in and return the sign-in with its token, which is kept nowhere else.

        public: the key that a phone made for this sign-in, which is certified as that person's on that phone. source:
        where the request comes from, its device filled in here. Raises WrongSignIn, TooManyTries, DeviceRevoked,
        NotADevice, NotAKey, SignInBusy; the try counts whatever follows.
        """
        if public:
            public_key(public)
        place = place_of(self._read(), replace(source, device=device))
        _, row = self._tried(code, secret, place, "name and PIN do not go together; check both and try again")
        person = person_of(row)
        if purpose == "phone" and not person.has(*PHONE_ROLES):
            raise WrongSignIn("this person keeps the server and signs in at a desk only")
        if purpose == "phone" and self._people.needs_passphrase(person.code, person):
            raise PassphraseNeeded(
                "your role signs in with a passphrase: sign in on a page with the PIN and choose one"
            )
        opened, token = self._write(lambda conn: self._begin(conn, person, place, device, purpose))
        if public:
            certificate, until_ms = self._certificates.give_for(person.code, opened.device, public, CERTIFIED_MS)
            opened = replace(opened, certificate=certificate, certified_until_ms=until_ms)
        return opened, token

    def certify_signature(self, signed_in: SignIn, secret: str, public: str, operation: str) -> Certified:
        """Check a signed-in person's secret once more and certify their key for one signature, now.

        operation: the id of the operation that is the signature; the certificate proves no other. Raises WrongSignIn,
        TooManyTries, NotAKey, SignInBusy; the try counts whatever follows.
        """
        public_key(public)
        code, place = signed_in.person.code, Place("phone", signed_in.device)  # which its token has proved
        wrong = "this is not your PIN or passphrase; nothing was signed, try again"
        name, row = self._tried(code, secret, place, wrong)
        self._write(lambda conn: forget_tries(conn, name, place))
        return Certified(*self._certificates.give_for(row[0], signed_in.device, public, SIGNATURE_MS, operation))

    def change_own_secret(self, signed_in: SignIn, secret: str, new: str, source: Source | None = None) -> None:
        """Give a signed-in person another PIN or passphrase of their own choice, once they gave the one before.

        source: where a page's request comes from, None on a phone, which its token has proved. They stay signed in
        there, and nowhere else. Raises WeakSecret, WrongSignIn, TooManyTries, SignInBusy, NotTold; nothing changed.
        """
        person = signed_in.person
        self._people.demand_fit(person, new)
        if new == secret:
            raise WeakSecret("this is the one that you have; take another; nothing was changed")
        at = (
            Place("phone", signed_in.device) if source is None else place_of(self._read(), replace(source, device=DESK))
        )
        self._tried(person.code, secret, at, "the one that you gave is not yours; nothing was changed, try again")
        self._people.change_secret(person.code, new, By(person.code, signed_in.session))

    def _tried(self, code: str, secret: str, place: Place, wrong: str) -> tuple[str, Any]:
        """Return the person's row whose secret was given, and the name that their tries count under.

        Raises WrongSignIn with the words ``wrong``, TooManyTries, SignInBusy. Who has to wait is told by reading
        alone, so that a storm of them takes nothing of the writer.
        """
        row = self._read().execute(_KEPT, (code,)).fetchone()
        name = name_for(code, row is not None)
        demand_patience(self._read(), name, place, self._clock())
        self._write(lambda conn: count_try(conn, name, place, self._clock()))
        if not self._people.pins.matches(row[5] if row else None, secret):
            known = code if row else ""
            self._write(lambda conn: keep_wrong(conn, known, place, self._clock()))
            _log.warning("wrong_sign_in: %s at %s %s", known or "a code that nobody has", place.kind, place.name)
            raise WrongSignIn(wrong)
        return name, row

    def _begin(
        self, conn: sqlite3.Connection, person: Person, place: Place, device: str | None, purpose: Purpose
    ) -> tuple[SignIn, str]:
        now = self._clock()
        if purpose == "page":
            code = DESK
        else:
            code = devices.seen(conn, device, now, self._record.tell)
            if devices.is_revoked(conn, code):
                raise DeviceRevoked(f"{code} has been taken out of use; ask the administrator")
        forget_tries(conn, person.code, place)
        token, session = secrets.token_urlsafe(32), secrets.token_urlsafe(16)
        sealed = (session, person.code, code, purpose, _hash(token), now, now + SHIFT_MS)
        names = ("session", "person", "device", "purpose", "token_hash", "now", "ends")
        seal = self._certificates.seal(sign_in_message(*sealed))
        conn.execute(_BEGIN, {**dict(zip(names, sealed, strict=True)), "seal": seal})
        return SignIn(session, person, code, now + SHIFT_MS), token

    def wrong_tries(self, person: str | None = None) -> list[WrongTries]:
        """Return what is kept of wrong tries, latest first: of one person, or with None of everybody and of no one."""
        return wrong_tries(self._read(), person)

    def wrong_of_late(self, person: str) -> int:
        """Return how many wrong tries for a person are kept of the last 24 hours."""
        return wrong_since(self._read(), person, self._clock() - REMEMBERED_MS)

    def by_token(self, token: str, purpose: Purpose) -> SignIn | None:
        """Return the sign-in that a token stands for; None once it ended, idled out, or its person left.

        A revoked device's is returned with ``revoked`` set: its work is still taken in, and set aside.
        """
        now = self._clock()
        idle_since = now - IDLE_MS if purpose == "page" else 0
        asked = {"token_hash": _hash(token), "purpose": purpose, "now": now, "idle_since": idle_since}
        row = self._read().execute(_BY_TOKEN, asked).fetchone()
        if row is None:
            return None
        session, device, ends_ms, used_ms, revoked = row[5:10]
        if purpose == "page" and now - used_ms > TOUCH_MS:
            self._write(lambda conn: conn.execute(_TOUCH, (now, session)).rowcount)
        return SignIn(session, person_of(row), device, ends_ms, bool(revoked))

    def end(self, token: str) -> None:
        """End a sign-in now; its certificate goes on to prove who made what was recorded before."""
        self._write(lambda conn: conn.execute(_SIGN_OUT, (_hash(token),)).rowcount)


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()
