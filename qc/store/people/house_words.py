"""What operations tell of the plant's people and phones, for people to read: latest first, without any secret."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from qc.domain.facts.people import SERVER
from qc.domain.line.line import OF_THE_HOUSE
from qc.store.record.arrivals import json_of

_WORDS = f"""
SELECT j.number, j.kind, j.author, j.received_ms, j.bytes
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 WHERE j.unit IS NULL -- of which an index tells; all else in a journal of years is on units
   AND j.kind IN ({", ".join(f"'{kind}'" for kind in sorted(OF_THE_HOUSE))}) AND v.verdict = 'applied'
   AND j.received_ms >= :since
 ORDER BY j.number DESC
 LIMIT :limit
"""


@dataclass(frozen=True, slots=True)
class HouseWord:
    """One act on a person, a phone or a machine. of: whose code; author: who did it, SERVER on its console.

    at_ms: received; body: as told, without the proof of a secret; gives_secret: whether there was one.
    """

    number: int
    kind: str
    of: str
    author: str
    at_ms: int
    body: Mapping[str, Any]
    gives_secret: bool


def house_words(conn: sqlite3.Connection, limit: int = 100) -> list[HouseWord]:
    """Return the latest acts on people and phones."""
    return _words(conn, limit)


@dataclass(frozen=True, slots=True)
class SecretGiven:
    """A PIN or passphrase given to somebody. by: whose code, SERVER for its console; at_ms: by the server's clock."""

    by: str
    at_ms: int


SECRET_TOLD_MS = 30 * 24 * 3_600_000


def secrets_to_tell(conn: sqlite3.Connection, person: str, now_ms: int) -> list[SecretGiven]:
    """Return who gave a person each secret of the last 30 days, latest first, where another gave them the latest.

    So who had a new one given and used it in their name does not hide that by changing it once more. Empty where there
    is nothing to tell: they chose the latest themselves, or it is the one that the console began them with.
    """
    words = [word for word in _words(conn, -1, now_ms - SECRET_TOLD_MS) if word.of == person and _gives(word)]
    if not words or words[0].author == person or (words[0].kind == "person_added" and words[0].author == SERVER):
        return []
    return [SecretGiven(word.author, word.at_ms) for word in words]


def _gives(word: HouseWord) -> bool:
    return word.gives_secret and word.kind in ("person_added", "person_assigned", "secret_changed")


def _words(conn: sqlite3.Connection, limit: int, since_ms: int = 0) -> list[HouseWord]:
    return [_word(*row) for row in conn.execute(_WORDS, {"limit": limit, "since": since_ms})]


def _word(number: int, kind: str, author: str, at_ms: int, data: bytes) -> HouseWord:
    told = json_of(data)["body"]
    body = {name: value for name, value in told.items() if name != "secret"}
    of = next((body[name] for name in ("person", "enrolled", "revoked", "restored", "machine") if name in body), "")
    return HouseWord(number, kind, of, author, at_ms, body, bool(told.get("secret")))
