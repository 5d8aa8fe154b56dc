"""How a phone becomes one of the plant's, and proves at each sign-in that it is the one.

An administrator offers it: sixteen letters, shown as a QR code, used once within ten minutes. The phone that takes the
offer is given a code and a secret, of which the record holds the SHA-256. The secret also bears the server's signature
over the code, so that a server that went back to a backup of before knows the phone again.
"""

import hashlib
import secrets
import sqlite3
from dataclasses import dataclass

from qc.domain.facts.proof import as_text, device_message, from_text
from qc.store.people.devices import DeviceRevoked, is_code, next_code
from qc.store.people.telling import Record
from qc.store.record.certificates import Certificates
from qc.store.record.own_word import BY_ITSELF, By

OFFER_MS = 10 * 60_000
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is read for another
LENGTH = 16  # of 31 letters: 79 bits, for ten minutes
SECRET_BYTES = 32
LEAST = 43  # characters of a secret: 256 bits in base64url


class OfferOver(Exception):
    """The offer has been used, or its ten minutes are over, or it never was one."""


class NotEnrolled(Exception):
    """The phone does not prove that it is one of the plant's."""


class DeviceTaken(Exception):
    """The code belongs to a phone that proves itself with another secret."""


@dataclass(frozen=True, slots=True)
class Offer:
    """What an administrator shows a phone. until_ms: by the server's clock; device: the phone meant, "" for any."""

    letters: str
    until_ms: int
    device: str


@dataclass(frozen=True, slots=True)
class Given:
    """What a phone keeps: its code, and the secret that proves it, which is kept nowhere else."""

    device: str
    secret: str


_OFFER = """
INSERT INTO enrolment (letters_hash, made_ms, ends_ms, device, author, session, at_console)
VALUES (?, ?, ?, ?, ?, ?, ?)
"""
_FORGET = "DELETE FROM enrolment WHERE ends_ms <= :now OR made_ms > :now"
_TAKE = "DELETE FROM enrolment WHERE letters_hash = ? RETURNING device, author, session, at_console"
_DEVICE = "SELECT revoked, secret FROM device WHERE code = ?"

_WORDS = (
    "this phone is not enrolled here; ask the administrator, who enrols it on the page People and phones. What is "
    "recorded stays on the phone"
)
_WORDS_BEFORE = (
    "this phone does not prove yet that it is one of the plant's: it will once somebody whose name it shows has signed "
    "in on it, or the administrator enrols it anew. What is recorded stays on the phone"
)


class Enrolment:
    """Offers, taken by phones, and the proof of who is who."""

    def __init__(self, record: Record, certificates: Certificates) -> None:
        self._record = record
        self._certificates = certificates

    def offer(self, by: By = BY_ITSELF, device: str = "") -> Offer:
        """Offer a phone to be enrolled; device: which one, to be given a new secret, "" for one more."""
        letters = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
        now = self._record.clock()
        values = (_hash(letters), now, now + OFFER_MS, device, by.author, by.session, by.at_console)

        def work(conn: sqlite3.Connection) -> int:
            conn.execute(_FORGET, {"now": now})
            return conn.execute(_OFFER, values).rowcount

        self._record.write(work)
        return Offer(letters, now + OFFER_MS, device)

    def take(self, letters: str, device: str | None, secret: str) -> Given:
        """Take an offer for a phone and return what it keeps.

        device, secret: what a phone has that holds work or was enrolled before; it then keeps its code, under which its
        work is numbered. Raises OfferOver, DeviceRevoked, DeviceTaken: then the offer stands.
        """

        def work(conn: sqlite3.Connection) -> Given:
            conn.execute(_FORGET, {"now": self._record.clock()})
            row = conn.execute(_TAKE, (_hash(plain(letters)),)).fetchone()
            if row is None:
                raise OfferOver("this offer is used or its ten minutes are over; ask the administrator for a new one")
            meant, author, session, at_console = row
            return self._given(conn, device or meant or None, secret, meant, By(author, session, at_console))

        return self._record.write(work)

    def _given(self, conn: sqlite3.Connection, device: str | None, secret: str, meant: str, by: By) -> Given:
        code = next_code(conn) if device is None else device
        if not is_code(code):
            raise DeviceTaken("the device code is none that a phone can have")
        row = conn.execute(_DEVICE, (code,)).fetchone()
        fresh = self.new_secret(code)
        if row is None:
            self._record.tell(conn, "device_enrolled", {"enrolled": code, "secret": digest_of(fresh)}, by)
            return Given(code, fresh)
        revoked, kept = row
        if revoked:
            raise DeviceRevoked(f"{code} has been taken out of use; the administrator takes it back in first")
        if kept and code != meant and digest_of(secret) != kept:
            raise DeviceTaken(
                f"this phone holds work as {code}, and {code} proves itself with another secret; ask the administrator "
                f"for an offer that is for {code}"
            )
        self._record.tell(conn, "device_secret_given", {"enrolled": code, "secret": digest_of(fresh)}, by)
        return Given(code, fresh)

    def demand_proof(self, conn: sqlite3.Connection, device: str | None, secret: str, *, signs_in: bool = False) -> str:
        """Return the code of a phone that is one of the plant's. Raises NotEnrolled, DeviceRevoked.

        signs_in: a phone of before there were secrets is let in too, for `settle` keeps the one that it sends. Anybody
        can name such a phone, so it is told nothing before somebody has signed in on it.
        """
        row = conn.execute(_DEVICE, (device,)).fetchone() if device else None
        if row is not None and not row[1]:
            if not signs_in:
                raise NotEnrolled(_WORDS_BEFORE)
        elif device is None or not (self.is_ours(device, secret) if row is None else row[1] == digest_of(secret)):
            raise NotEnrolled(_WORDS)
        assert device is not None, "a row has a code"
        if row is not None and row[0]:
            raise DeviceRevoked(f"{device} has been taken out of use; ask the administrator")
        return device

    def is_of_before(self, conn: sqlite3.Connection, device: str) -> bool:
        """Return whether a phone was known before there were secrets and has none yet, so that anybody can name it."""
        row = conn.execute(_DEVICE, (device,)).fetchone()
        return row is not None and not row[1]

    def settle(self, read: sqlite3.Connection, device: str, secret: str) -> None:
        """Keep what a phone that has no secret yet proves itself with from now on, once somebody has signed in on it.

        It made the secret itself and keeps it already, so that an answer that is lost locks nobody out. "" where the
        phone's app is of before there were secrets: then it has none still.
        """
        if len(secret) < LEAST or read.execute(_DEVICE, (device,)).fetchone()[1]:
            return

        def work(conn: sqlite3.Connection) -> None:
            if not conn.execute(_DEVICE, (device,)).fetchone()[1]:  # else given meanwhile: whoever has that one is it
                self._record.tell(conn, "device_secret_given", {"enrolled": device, "secret": digest_of(secret)})

        self._record.write(work)

    def new_secret(self, device: str) -> str:
        """Return a new secret for a phone: random bits, and the server's signature over whose they are."""
        bits = secrets.token_urlsafe(SECRET_BYTES)
        return f"{bits}.{as_text(self._certificates.signature(device_message(device, bits)))}"

    def is_ours(self, device: str, secret: str) -> bool:
        """Return whether this server's key once gave a phone a secret."""
        bits, _, signature = secret.partition(".")
        try:
            return self._certificates.is_signed(from_text(signature), device_message(device, bits))
        except ValueError:
            return False


def plain(letters: str) -> str:
    """Return an offer's letters as they are kept, of what somebody typed: in small letters, without what parts them."""
    return "".join(each for each in letters.lower() if each.isalnum())


def parted(letters: str) -> str:
    """Return an offer's letters in groups of four, to be read and typed."""
    return "-".join(letters[at : at + 4] for at in range(0, len(letters), 4))


def digest_of(secret: str) -> str:
    """Return what the record holds of a phone's secret: its SHA-256 in hexadecimal."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def _hash(letters: str) -> str:
    return hashlib.sha256(b"offer " + letters.encode("utf-8", "surrogatepass")).hexdigest()
