"""Signing in: tries counted before the secret is looked at, tokens kept as hashes, certificates that prove authorship.

A lock-out belongs to a person on a device, so that a phone where somebody guesses does not lock its owner out of the
next one; guesses spread over many devices meet the bound per person. Times here are an even clock's: setting the
machine's clock keeps no token alive and opens no lock-out, and a restart under another clock makes neither longer.
"""

import hashlib
import secrets
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

from qc.domain.people import Person
from qc.domain.proof import CERTIFIED_MS, SIGNATURE_MS
from qc.store import devices
from qc.store.certificates import Certificates, public_key
from qc.store.people import DESK, PHONE_ROLES, People, Read, Write, person_of

Purpose = Literal["phone", "page"]

SHIFT_MS = 10 * 3_600_000
IDLE_MS = 30 * 60_000  # pages; a phone lies in a pocket between two units and is kept for a shift
TOUCH_MS = 60_000  # a page's use is noted once a minute, not at each request

FREE_TRIES = 5  # per person and device, then a wait that doubles
FIRST_WAIT_MS = 60_000
LONGEST_WAIT_MS = 3_600_000
TRIES_ANYWHERE = 30  # per person over all devices, then a wait
ANYWHERE_WAIT_MS = 15 * 60_000
REMEMBERED_MS = 24 * 3_600_000
NEW_DEVICE = "(new)"  # devices without a code, or with one that never signed in, share their tries


class WrongSignIn(Exception):
    """Name and secret do not go together, or that person may not sign in there; which of them is not told."""


class DeviceRevoked(Exception):
    """The phone has been taken out of use."""


class TooManyTries(Exception):
    """Wrong secrets were tried too often; seconds says how long to wait."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"too many wrong tries; wait {seconds} s")
        self.seconds = seconds


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


_TRIES = "SELECT device, failed, last_ms FROM sign_in_try WHERE person = ?"
_FORGET_OLD = "DELETE FROM sign_in_try WHERE last_ms < ?"
_COUNT = """
INSERT INTO sign_in_try (person, device, failed, last_ms) VALUES (:person, :device, 1, :now)
    ON CONFLICT (person, device) DO UPDATE SET failed = failed + 1, last_ms = :now
"""
_FORGET = "DELETE FROM sign_in_try WHERE person = ? AND device IN (?, ?)"
_KEPT = "SELECT code, name, role, stations, secret_hash FROM person WHERE code = ? AND ended = 0"
_BEGIN = """
INSERT INTO sign_in (session, person, device, purpose, token_hash, begun_ms, used_ms, ends_ms)
VALUES (:session, :person, :device, :purpose, :token_hash, :now, :now, :ends)
"""
_BY_TOKEN = """
SELECT p.code, p.name, p.role, p.stations, s.session, s.device, s.ends_ms, s.used_ms, coalesce(d.revoked, 0)
  FROM sign_in AS s
  JOIN person AS p ON p.code = s.person AND p.ended = 0
  LEFT JOIN device AS d ON d.code = s.device
 WHERE s.token_hash = :token_hash AND s.purpose = :purpose AND s.ends_ms > :now AND s.used_ms > :idle_since
   AND s.begun_ms <= :now -- begun under a clock that was ahead: nobody knows how long ago
"""
_TOUCH = "UPDATE sign_in SET used_ms = ? WHERE session = ?"
_SIGN_OUT = "UPDATE sign_in SET ends_ms = min(:now, begun_ms) WHERE token_hash = :token_hash"  # over by any clock


class SignIns:
    """Opens, finds and ends sign-ins."""

    def __init__(
        self,
        people: People,
        write: Write[Any],
        read: Read,
        clock: Callable[[], int],
        certificates: Certificates,
    ) -> None:
        """clock: an even one, milliseconds since 1970 UTC where it began."""
        self._people = people
        self._write = write
        self._read = read
        self._clock = clock
        self._certificates = certificates

    def open(
        self, code: str, secret: str, device: str | None, purpose: Purpose, public: str = ""
    ) -> tuple[SignIn, str]:
        """Sign a person in and return the sign-in with its token, which is kept nowhere else.

        public: the key that a phone made for this sign-in, which is certified as that person's on that phone. Raises
        WrongSignIn, TooManyTries, DeviceRevoked, NotADevice, NotAKey, SignInBusy; the try counts whatever follows.
        """
        if public:
            public_key(public)
        name, place = self._count_try(code, device)
        row = self._read().execute(_KEPT, (code,)).fetchone()
        if not self._people.pins.matches(row[4] if row else None, secret):
            raise WrongSignIn("name and PIN do not go together; check both and try again")
        person = person_of(row)
        if purpose == "phone" and person.role not in PHONE_ROLES:
            raise WrongSignIn("this person keeps the server and signs in at a desk only")
        opened, token = self._write(lambda conn: self._begin(conn, person, name, place, device, purpose))
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
        name, place = self._count_try(signed_in.person.code, signed_in.device)
        row = self._read().execute(_KEPT, (signed_in.person.code,)).fetchone()
        if not self._people.pins.matches(row[4] if row else None, secret):
            raise WrongSignIn("this is not your PIN or passphrase; nothing was signed, try again")
        self._write(lambda conn: conn.execute(_FORGET, (name, place, signed_in.device)).rowcount)
        return Certified(*self._certificates.give_for(row[0], signed_in.device, public, SIGNATURE_MS, operation))

    def _count_try(self, code: str, device: str | None) -> tuple[str, str]:
        def work(conn: sqlite3.Connection) -> tuple[str, str]:
            now = self._clock()
            name = code if conn.execute(_KEPT, (code,)).fetchone() else _nobody(code)
            known = device == DESK or (device is not None and devices.is_revoked(conn, device) is not None)
            place = device if known and device else NEW_DEVICE
            conn.execute(_FORGET_OLD, (now - REMEMBERED_MS,))
            if wait := _wait_ms(conn.execute(_TRIES, (name,)).fetchall(), place, now):
                raise TooManyTries(-(-wait // 1000))
            conn.execute(_COUNT, {"person": name, "device": place, "now": now})
            return name, place

        return self._write(work)  # type: ignore[no-any-return]

    def _begin(
        self, conn: sqlite3.Connection, person: Person, name: str, place: str, device: str | None, purpose: Purpose
    ) -> tuple[SignIn, str]:
        now = self._clock()
        if purpose == "page":
            code = DESK
        else:
            code = devices.seen(conn, device, now)
            if devices.is_revoked(conn, code):
                raise DeviceRevoked(f"{code} has been taken out of use; ask the administrator")
        conn.execute(_FORGET, (name, place, code))
        token, session = secrets.token_urlsafe(32), secrets.token_urlsafe(16)
        values = {"session": session, "person": person.code, "device": code, "purpose": purpose, "now": now}
        conn.execute(_BEGIN, {**values, "token_hash": _hash(token), "ends": now + SHIFT_MS})
        return SignIn(session, person, code, now + SHIFT_MS), token

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
        session, device, ends_ms, used_ms, revoked = row[4:9]
        if purpose == "page" and now - used_ms > TOUCH_MS:
            self._write(lambda conn: conn.execute(_TOUCH, (now, session)).rowcount)
        return SignIn(session, person_of(row), device, ends_ms, bool(revoked))

    def end(self, token: str) -> None:
        """End a sign-in now; its certificate goes on to prove who made what was recorded before."""
        ended = {"now": self._clock(), "token_hash": _hash(token)}
        self._write(lambda conn: conn.execute(_SIGN_OUT, ended).rowcount)


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def _nobody(code: str) -> str:
    """Return the shared name under which tries for unknown people count: few, so that they cannot fill the table."""
    return f"?{hashlib.sha256(code.encode('utf-8', 'surrogatepass')).hexdigest()[:2]}"


def _wait_ms(tries: list[Any], place: str, now: int) -> int:
    """Return how long a person has still to wait at a place; tries holds rows of (device, failed, last_ms)."""
    waits = [0]
    for where, failed, last_ms in tries:
        if where == place and failed >= FREE_TRIES:
            wait = min(FIRST_WAIT_MS * 2 ** min(failed - FREE_TRIES, 10), LONGEST_WAIT_MS)
            waits.append(min(last_ms, now) + wait - now)
    if sum(failed for _, failed, _ in tries) >= TRIES_ANYWHERE:
        waits.append(min(max(last_ms for *_, last_ms in tries), now) + ANYWHERE_WAIT_MS - now)
    return max(waits)
