"""The tokens of machines: made and ended as operations, found at every request, wrong ones counted by address.

A right token always opens: it is 256 random bits, so that only wrong ones have to wait, and no stranger who tries
some keeps the plant's own machines out.
"""

import hashlib
import hmac
import secrets
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import orjson

from qc.domain.facts.operations import code as code_shape
from qc.domain.facts.people import Person
from qc.domain.line.machines import planner_fault, session_of
from qc.store.people.persons import Read, person_of
from qc.store.people.telling import Record
from qc.store.people.tries import TooManyTries, network_of
from qc.store.record.own_word import BY_ITSELF, By

WRONG_TRIES = 20  # of one address, then it waits
WAIT_MS = 15 * 60_000
MOST_ADDRESSES = 1_000
SEEN_MS = 60_000  # that a token is used is not written down sooner again


class WrongToken(Exception):
    """No token of a machine, or one that has ended."""


class NotItsScope(Exception):
    """The token is one, and may not do this; the words say what it may."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A machine's token as it stands. Instants in milliseconds since 1970 UTC; last_used_ms 0 for never.

    in_name_of: whose plans it hands in, "" for nobody's. trouble: why it cannot do so now, "" where it can.
    """

    code: str
    may: tuple[str, ...]
    in_name_of: str
    made_by: str
    made_ms: int
    ended: bool
    last_used_ms: int
    trouble: str


@dataclass(frozen=True, slots=True)
class WrongTokens:
    """Tokens that opened nothing, of one address. Instants in milliseconds since 1970 UTC."""

    address: str
    first_ms: int
    last_ms: int
    tries: int


@dataclass(frozen=True, slots=True)
class MachineAtWork:
    """A machine whose token was right. in_name_of: the planner in whose name it acts, None where it only reads."""

    code: str
    in_name_of: Person | None

    @property
    def session(self) -> str:
        """What an operation names as its session, so that its machine is told in the chain."""
        return session_of(self.code)


_ALL = """
SELECT m.code, m.may, m.in_name_of, m.made_by, m.made_ms, m.ended, coalesce(s.last_ms, 0) AS last_ms,
       p.code, p.name, p.role, p.stations, p.also, p.ended AS has_left
  FROM machine AS m
  LEFT JOIN machine_seen AS s ON s.machine = m.code
  LEFT JOIN person AS p ON p.code = m.in_name_of
 ORDER BY m.ended, m.number
"""
_ONE = """
SELECT m.secret, m.may, m.in_name_of, coalesce(s.last_ms, 0)
  FROM machine AS m
  LEFT JOIN machine_seen AS s ON s.machine = m.code
 WHERE m.code = ? AND m.ended = 0
"""
_PERSON = "SELECT code, name, role, stations, also, ended FROM person WHERE code = ?"
_SEEN = """
INSERT INTO machine_seen (machine, last_ms) VALUES (:code, :now) ON CONFLICT (machine) DO UPDATE SET last_ms = :now
"""
_TRIES = "SELECT address, first_ms, last_ms, tries FROM token_try ORDER BY last_ms DESC, address"
_TRIES_OF = "SELECT tries, last_ms FROM token_try WHERE address = ?"
_FORGET_OLD = "DELETE FROM token_try WHERE last_ms < :old OR last_ms > :now"
_COUNT = """
INSERT INTO token_try (address, first_ms, last_ms, tries) VALUES (:address, :now, :now, 1)
    ON CONFLICT (address) DO UPDATE SET tries = tries + 1, last_ms = :now
"""
_FORGET_MOST = """
DELETE FROM token_try
 WHERE rowid IN (SELECT rowid FROM token_try ORDER BY last_ms DESC, rowid DESC LIMIT -1 OFFSET ?)
"""
_fault_of = code_shape(32)
_REMEMBERED_MS = 24 * 3_600_000
_NO_TOKEN = "0" * 64  # what a name that nobody has is compared with, so that it takes the same time


class Machines:
    """Makes, ends, lists and finds the tokens of machines."""

    def __init__(self, record: Record, read: Read, clock: Callable[[], int]) -> None:
        """clock: an even one, milliseconds since 1970 UTC where it began."""
        self._record = record
        self._read = read
        self._clock = clock

    def all(self) -> list[Token]:
        """Return the tokens in the order in which they were made, those that ended last."""
        return [_token(row) for row in self._read().execute(_ALL)]

    def make(self, code: str, may: tuple[str, ...], in_name_of: str = "", by: By = BY_ITSELF) -> str:
        """Make a token and return it: it is kept nowhere. Raises NotTold where the record does not allow it."""
        token = f"{code}.{secrets.token_urlsafe(32)}"
        body: dict[str, Any] = {"machine": code, "may": list(may), "secret": _digest(token)}
        if in_name_of:
            body["in_name_of"] = in_name_of
        self._record.write(lambda conn: self._record.tell(conn, "token_made", body, by))
        return token

    def end(self, code: str, by: By = BY_ITSELF, reason: str = "") -> None:
        """Let a token open nothing from the next request on. Raises NotTold for none, or one that has ended."""
        body = {"machine": code, "reason": reason.strip()} if reason.strip() else {"machine": code}
        self._record.write(lambda conn: self._record.tell(conn, "token_ended", body, by))

    def at_work(self, token: str, scope: str, address: str) -> MachineAtWork:
        """Return whose token this is, for one of the scopes. address: where the request comes from.

        Raises WrongToken, TooManyTries once an address gave too many wrong ones, NotItsScope.
        """
        code = token.rpartition(".")[0]
        row = None if _fault_of(code) else self._read().execute(_ONE, (code,)).fetchone()
        is_right = hmac.compare_digest(_digest(token), row[0] if row else _NO_TOKEN)
        if row is None or not is_right:
            self._count_wrong(network_of(address))
            raise WrongToken("this is no token of a machine here, or one that has ended; ask the administrator")
        _, may, in_name_of, last_ms = row
        if scope not in (scopes := orjson.loads(may)):
            raise NotItsScope(f"the token {code} may {' and '.join(scopes)}, not {scope}; ask for one that may")
        person = self._planner(in_name_of) if scope == "plan" else None
        now = self._clock()
        if not 0 <= now - last_ms < SEEN_MS:
            self._record.write(lambda conn: conn.execute(_SEEN, {"code": code, "now": now}).rowcount)
        return MachineAtWork(code, person)

    def wrong_tokens(self) -> list[WrongTokens]:
        """Return what was counted of wrong tokens in the last 24 hours, latest first."""
        since = self._clock() - _REMEMBERED_MS
        return [WrongTokens(*row) for row in self._read().execute(_TRIES) if row[2] >= since]

    def _planner(self, code: str) -> Person:
        return planner_here(self._read(), code)

    def _count_wrong(self, address: str) -> None:
        """Count a wrong token. Who has to wait is told by reading alone, which takes nothing of the writer."""
        now = self._clock()
        found = self._read().execute(_TRIES_OF, (address,)).fetchone()
        if found is not None and found[0] >= WRONG_TRIES and (wait := min(found[1], now) + WAIT_MS - now) > 0:
            raise TooManyTries(-(-wait // 1000))

        def work(conn: sqlite3.Connection) -> None:
            conn.execute(_FORGET_OLD, {"old": now - _REMEMBERED_MS, "now": now})
            conn.execute(_COUNT, {"address": address, "now": now})
            conn.execute(_FORGET_MOST, (MOST_ADDRESSES,))

        self._record.write(work)


def planner_here(conn: sqlite3.Connection, code: str) -> Person:
    """Return the person in whose name plans come in. Raises NotItsScope where they have left or plan no more."""
    row = conn.execute(_PERSON, (code,)).fetchone()
    if why := planner_fault(None if row is None else person_of(row), row is not None and bool(row[5]), code):
        raise NotItsScope(f"{why}; ask the administrator")
    return person_of(row)


def _token(row: Any) -> Token:
    code, may, in_name_of, made_by, made_ms, ended, last_ms, *planner, has_left = row
    person = None if planner[0] is None else person_of(planner)
    return Token(
        code=code,
        may=tuple(orjson.loads(may)),
        in_name_of=in_name_of,
        made_by=made_by,
        made_ms=made_ms,
        ended=bool(ended),
        last_used_ms=last_ms,
        trouble=planner_fault(person, bool(has_left), in_name_of) if in_name_of else "",
    )


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()
