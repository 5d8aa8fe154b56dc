"""What operations tell of the plant's people and phones, for people to read: latest first, without any secret."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from qc.domain.line import OF_THE_HOUSE
from qc.store.record.arrivals import json_of

_WORDS = f"""
SELECT j.number, j.kind, j.author, j.received_ms, j.bytes
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 WHERE j.kind IN ({", ".join(f"'{kind}'" for kind in sorted(OF_THE_HOUSE))}) AND v.verdict = 'applied'
 ORDER BY j.number DESC
 LIMIT :limit
"""


@dataclass(frozen=True, slots=True)
class HouseWord:
    """One act on a person or a phone. of: whose code; author: who did it, SERVER on its console; at_ms: received.

    body: as told, without the proof of a secret.
    """

    number: int
    kind: str
    of: str
    author: str
    at_ms: int
    body: Mapping[str, Any]


def house_words(conn: sqlite3.Connection, limit: int = 100) -> list[HouseWord]:
    """Return the latest acts on people and phones."""
    return [_word(*row) for row in conn.execute(_WORDS, {"limit": limit})]


def _word(number: int, kind: str, author: str, at_ms: int, data: bytes) -> HouseWord:
    body = {name: value for name, value in json_of(data)["body"].items() if name != "secret"}
    of = next((body[name] for name in ("person", "enrolled", "revoked", "restored") if name in body), "")
    return HouseWord(number, kind, of, author, at_ms, body)
