"""Who asked to be mailed what, and what became of each mail that was due: so none is sent twice, and none is lost
without a word.

Addresses are personal: they stand beside the accounts and in no operation, since the chain forgets nothing, and go when
their person ends or asks for no mail.
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal, cast

from qc.domain.facts.people import Person
from qc.domain.plant.mail_plan import WRITTEN_FOR, MailKind
from qc.store.people.persons import person_of

SendState = Literal["waiting", "handing_over", "sent", "refused", "unknown", "missed"]
TOLD_MS = 14 * 24 * 3_600_000  # for how long what was not sent is told
KEPT_MS = 60 * 24 * 3_600_000  # for how long what became of a mail is kept
NOT_KNOWN = "the server ended while the mail was handed over; whether it went out is not known, so it is not sent again"


@dataclass(frozen=True, slots=True)
class Wish:
    """What a person asked for. asked_ms: since when, milliseconds since 1970 UTC; what was due before is not sent."""

    person: Person
    address: str
    daily: bool
    monday: bool
    asked_ms: int

    @property
    def kinds(self) -> tuple[MailKind, ...]:
        """Return the mails that are due to them: none for a role that nothing is written for."""
        if not self.person.has(*WRITTEN_FOR):
            return ()
        asked: tuple[tuple[MailKind, bool], ...] = (("daily", self.daily), ("monday", self.monday))
        return tuple(kind for kind, wished in asked if wished)


@dataclass(frozen=True, slots=True, kw_only=True)
class Send:
    """What became of one mail. day: on which it was due; at_ms: of the last try; words: why it is not sent, "" sent."""

    person: str
    kind: MailKind
    day: str
    due_ms: int
    state: SendState
    tries: int
    at_ms: int
    words: str


_WISHES = """
SELECT p.code, p.name, p.role, p.stations, p.also, w.address, w.daily, w.monday, w.asked_ms
  FROM mail_wish AS w
  JOIN person AS p ON p.code = w.person
 WHERE p.ended = 0
 ORDER BY p.code
"""
_WISH = """
INSERT INTO mail_wish (person, address, daily, monday, asked_ms) VALUES (:person, :address, :daily, :monday, :now)
    ON CONFLICT (person) DO UPDATE SET address = :address, daily = :daily, monday = :monday, asked_ms = :now
"""
_FORGET = "DELETE FROM mail_wish WHERE person = ?"
_SENDS = """
SELECT person, kind, day, due_ms, state, tries, at_ms, words
  FROM mail_sent
 WHERE due_ms >= :since
 ORDER BY due_ms DESC, person, kind
"""
_ADD = """
INSERT INTO mail_sent (person, kind, day, due_ms, state, tries, at_ms, words)
VALUES (:person, :kind, :day, :due_ms, :state, 0, :at_ms, :words)
    ON CONFLICT (person, kind, day) DO NOTHING
"""
_NOTE = """
UPDATE mail_sent
   SET state = :state, tries = tries + :tried, at_ms = :at_ms, words = :words
 WHERE person = :person
   AND kind = :kind
   AND day = :day
"""
_CUT_SHORT = "UPDATE mail_sent SET state = 'unknown', at_ms = :now, words = :words WHERE state = 'handing_over'"
_UNASKED = """
DELETE FROM mail_sent
 WHERE state = 'waiting'
   AND NOT EXISTS (
     SELECT 1
       FROM mail_wish AS w
      WHERE w.person = mail_sent.person
        AND CASE mail_sent.kind WHEN 'daily' THEN w.daily ELSE w.monday END
   )
"""
_FORGET_OLD = "DELETE FROM mail_sent WHERE due_ms < ?"


def wishes(conn: sqlite3.Connection) -> list[Wish]:
    """Return what is asked for by those who are at work, in order of their codes."""
    return [Wish(person_of(row), row[5], bool(row[6]), bool(row[7]), row[8]) for row in conn.execute(_WISHES)]


def keep_wish(conn: sqlite3.Connection, person: str, address: str, kinds: Sequence[MailKind], now_ms: int) -> None:
    """Keep what a person asks for; their address is forgotten where they ask for no mail."""
    if not kinds:
        conn.execute(_FORGET, (person,))
        return
    asked = {"daily": int("daily" in kinds), "monday": int("monday" in kinds)}
    conn.execute(_WISH, {"person": person, "address": address, "now": now_ms, **asked})


def sends(conn: sqlite3.Connection, since_ms: int) -> list[Send]:
    """Return what became of the mails due since an instant, latest first."""
    return [_send_of(row) for row in conn.execute(_SENDS, {"since": since_ms})]


def not_sent(conn: sqlite3.Connection, now_ms: int) -> list[Send]:
    """Return the mails of the last fortnight that did not go out or may not have, latest first."""
    found = sends(conn, now_ms - TOLD_MS)
    return [one for one in found if one.words and one.state != "sent"]


def add_send(conn: sqlite3.Connection, send: Send) -> None:
    """Note that a mail is due, once; tries are counted from there."""
    conn.execute(_ADD, _named(send))


def note_send(conn: sqlite3.Connection, send: Send, tried: bool = False) -> None:
    """Note what became of a mail. tried: it counts as one try more."""
    conn.execute(_NOTE, {**_named(send), "tried": int(tried)})


def tidy(conn: sqlite3.Connection, now_ms: int) -> None:
    """Forget what is old, and what waits for somebody who asks for it no longer."""
    conn.execute(_UNASKED)
    conn.execute(_FORGET_OLD, (now_ms - KEPT_MS,))


def note_cut_short(conn: sqlite3.Connection, now_ms: int) -> None:
    """Note of each mail that a former server was handing over as it ended that nobody knows whether it went out."""
    conn.execute(_CUT_SHORT, {"now": now_ms, "words": NOT_KNOWN})


def _named(send: Send) -> dict[str, Any]:
    return {name: value for name, value in asdict(send).items() if name != "tries"}


def _send_of(row: Any) -> Send:
    return Send(
        person=row[0],
        kind=cast(MailKind, row[1]),
        day=row[2],
        due_ms=row[3],
        state=cast(SendState, row[4]),
        tries=row[5],
        at_ms=row[6],
        words=row[7],
    )
