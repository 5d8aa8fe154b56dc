"""How often a secret may be guessed, and where: no stranger locks anybody out of a place that the plant knows.

Tries count by person and place. Phones that are known, browsers in which somebody has signed in, and the strangers of
one address are places of three kinds, and a wait at one kind holds nobody up at another. The wrong tries are kept, so
that the person and the administrator see them.
"""

import hashlib
import ipaddress
import sqlite3
from dataclasses import dataclass
from typing import Any, Literal

from qc.store.people import devices
from qc.store.people.persons import DESK

PlaceKind = Literal["phone", "browser", "stranger"]

FREE_TRIES = 5  # per person and place, then a wait that doubles
FIRST_WAIT_MS = 60_000
LONGEST_WAIT_MS = 3_600_000
TRIES_ANYWHERE = 30  # per person over all places of a kind, then a wait at places of that kind
TRIES_OF_ADDRESS = 40  # of an address's strangers over all people: a round through everybody's codes
ANYWHERE_WAIT_MS = 15 * 60_000
REMEMBERED_MS = 24 * 3_600_000
KEPT_OF_PERSON = 50  # entries on wrong tries; one entry is an hour's at one place
MOST_COUNTED = 20_000  # rows of tries; an address has few, so this takes a network of them


class TooManyTries(Exception):
    """Wrong secrets were tried too often; seconds says how long to wait."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"too many wrong tries; wait {seconds} s")
        self.seconds = seconds


@dataclass(frozen=True, slots=True)
class Source:
    """Where a request to sign in comes from. device: the code that it gives, None for a phone that has none yet.

    browser: what `Pins.browser_of` reads in the mark that a browser sends, "" for one that sends none of ours.
    unproved: anybody could give this device's code, for no secret proves it yet.
    """

    device: str | None = None
    address: str = ""
    browser: str = ""
    unproved: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """Where tries count together. name: a phone's code, a browser's mark, or an address."""

    kind: PlaceKind
    name: str

    @property
    def owner(self) -> str:
        """The code of who first signed in in a browser; "" for the other kinds."""
        return self.name.rpartition(".")[0] if self.kind == "browser" else ""


@dataclass(frozen=True, slots=True)
class WrongTries:
    """Wrong secrets given for one person at one place within an hour. person: "" for codes that nobody has.

    Instants in milliseconds since 1970 UTC, by the clock that sign-ins are counted by.
    """

    person: str
    place: Place
    first_ms: int
    last_ms: int
    tries: int


_TRIES = "SELECT kind, place, failed, last_ms FROM sign_in_try WHERE person = ?"
_OF_ADDRESS = "SELECT coalesce(sum(failed), 0), max(last_ms) FROM sign_in_try WHERE kind = 'stranger' AND place = ?"
_FORGET_OLD = "DELETE FROM sign_in_try WHERE last_ms < ?"
_FORGET_MOST = """
DELETE FROM sign_in_try
 WHERE rowid IN (SELECT rowid FROM sign_in_try ORDER BY last_ms DESC, rowid DESC LIMIT -1 OFFSET ?)
"""
_COUNT = """
INSERT INTO sign_in_try (person, kind, place, failed, last_ms) VALUES (:person, :kind, :place, 1, :now)
    ON CONFLICT (person, kind, place) DO UPDATE SET failed = failed + 1, last_ms = :now
"""
_FORGET = "DELETE FROM sign_in_try WHERE person = ? AND kind = ? AND place = ?"
_GO_ON = """
UPDATE wrong_try SET last_ms = :now, tries = tries + 1
 WHERE person = :person AND kind = :kind AND place = :place AND first_ms BETWEEN :now - 3600000 AND :now
"""
_KEEP = """
INSERT INTO wrong_try (person, kind, place, first_ms, last_ms, tries) VALUES (:person, :kind, :place, :now, :now, 1)
"""
_KEEP_FEW = """
DELETE FROM wrong_try
 WHERE person = :person
   AND rowid IN (SELECT rowid FROM wrong_try WHERE person = :person ORDER BY rowid DESC LIMIT -1 OFFSET :kept)
"""
_WRONG = """
SELECT person, kind, place, first_ms, last_ms, tries
  FROM wrong_try
 WHERE :person IS NULL OR person = :person
 ORDER BY last_ms DESC, rowid DESC
 LIMIT 500
"""
_SINCE = "SELECT coalesce(sum(tries), 0) FROM wrong_try WHERE person = ? AND last_ms >= ?"


def place_of(conn: sqlite3.Connection, source: Source) -> Place:
    """Return where a try counts: at a place that the plant knows, or with the strangers of its address.

    Whether a phone is known is asked here alone, of `devices.is_known`.
    """
    if source.device == DESK:
        return Place("browser", source.browser) if source.browser else Place("stranger", network_of(source.address))
    if source.device is not None and not source.unproved and devices.is_known(conn, source.device):
        return Place("phone", source.device)
    return Place("stranger", network_of(source.address))


def network_of(address: str) -> str:
    """Return what stands for an address: IPv6 by its first 64 bits, of which a single machine has all the rest."""
    try:
        plain = ipaddress.ip_address(address.strip("[]").partition("%")[0])
    except ValueError:
        return address[:64]
    if plain.version == 4:
        return str(plain)
    mapped = plain.ipv4_mapped
    return str(mapped) if mapped else str(ipaddress.ip_network((plain, 64), strict=False))


def name_for(code: str, exists: bool) -> str:
    """Return under which name tries for a code count; a code that nobody has counts like one that somebody has."""
    if exists:
        return code
    return f"?{hashlib.sha256(code.encode('utf-8', 'surrogatepass')).hexdigest()[:32]}"


def wait_ms(conn: sqlite3.Connection, name: str, place: Place, now: int) -> int:
    """Return for how long a person has still to wait at a place, 0 or less for not at all."""
    tries = [row for row in conn.execute(_TRIES, (name,)) if row[0] == place.kind]
    waits = [0]
    for _, where, failed, last_ms in tries:
        if where == place.name and failed >= FREE_TRIES:
            wait = min(FIRST_WAIT_MS * 2 ** min(failed - FREE_TRIES, 10), LONGEST_WAIT_MS)
            waits.append(min(last_ms, now) + wait - now)
    if sum(row[2] for row in tries) >= TRIES_ANYWHERE:
        waits.append(min(max(row[3] for row in tries), now) + ANYWHERE_WAIT_MS - now)
    if place.kind == "stranger":
        failed, last_ms = conn.execute(_OF_ADDRESS, (place.name,)).fetchone()
        if failed >= TRIES_OF_ADDRESS:
            waits.append(min(last_ms, now) + ANYWHERE_WAIT_MS - now)
    return max(waits)


def demand_patience(conn: sqlite3.Connection, name: str, place: Place, now: int) -> None:
    """Raise TooManyTries where a person has to wait at a place."""
    if (wait := wait_ms(conn, name, place, now)) > 0:
        raise TooManyTries(-(-wait // 1000))


def count_try(conn: sqlite3.Connection, name: str, place: Place, now: int) -> None:
    """Count a try before its secret is looked at. Raises TooManyTries, with nothing counted."""
    conn.execute(_FORGET_OLD, (now - REMEMBERED_MS,))
    demand_patience(conn, name, place, now)
    conn.execute(_COUNT, {"person": name, "kind": place.kind, "place": place.name, "now": now})
    conn.execute(_FORGET_MOST, (MOST_COUNTED,))


def forget_tries(conn: sqlite3.Connection, name: str, place: Place) -> None:
    """Forget a person's tries at a place where the right secret was given."""
    conn.execute(_FORGET, (name, place.kind, place.name))


def keep_wrong(conn: sqlite3.Connection, person: str, place: Place, now: int) -> None:
    """Keep that a secret was wrong; person: "" for a code that nobody has, which is not kept: it may be a PIN."""
    named = {"person": person, "kind": place.kind, "place": place.name, "now": now}
    if not conn.execute(_GO_ON, named).rowcount:
        conn.execute(_KEEP, named)
        conn.execute(_KEEP_FEW, {"person": person, "kept": KEPT_OF_PERSON})


def wrong_tries(conn: sqlite3.Connection, person: str | None = None) -> list[WrongTries]:
    """Return what is kept of wrong tries, latest first: of one person, or with None of everybody and of no one."""
    return [_wrong_of(row) for row in conn.execute(_WRONG, {"person": person})]


def wrong_since(conn: sqlite3.Connection, person: str, since_ms: int) -> int:
    """Return how many wrong tries for a person are kept in entries that go on after an instant."""
    return int(conn.execute(_SINCE, (person, since_ms)).fetchone()[0])


def _wrong_of(row: Any) -> WrongTries:
    return WrongTries(row[0], Place(row[1], row[2]), row[3], row[4], row[5])
