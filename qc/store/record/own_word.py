"""Operations that this process makes and vouches for: what is done on a page, and what the server says of itself."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import orjson

from qc.domain.facts.operations import SCHEMA
from qc.domain.facts.people import SERVER
from qc.domain.facts.uuids import uuid7_of
from qc.domain.line.roster import DESK
from qc.store.record.verdicts import PushAnswer, PushBatch


def uuid7(ms: int) -> str:
    """Return a new version 7 UUID of an instant in milliseconds since 1970 UTC."""
    return uuid7_of(ms, secrets.token_bytes(10))


def own_batch(device: str, install_epoch: str, first_seq: int, now: int, *acts: Mapping[str, Any]) -> PushBatch:
    """Return a batch of operations in order; acts: kind, unit, body, author and session of each."""
    operations = []
    for seq, what in enumerate(acts, start=first_seq):
        envelope = {
            "id": uuid7(now),
            "device": device,
            "install_epoch": install_epoch,
            "seq": seq,
            "schema": SCHEMA,
            "deps": [],
            "seen_through": 0,
            "wall_ms": now,
            "tz_min": 0,
            "mono_ms": 0,
            **what,
        }
        operations.append((orjson.dumps(envelope), envelope))
    return PushBatch(device, install_epoch, now, operations, None, now)


class NotTold(Exception):
    """The record does not allow what was to be done; nothing was changed. code: stable, the words say what would do."""

    def __init__(self, code: str, reason: str) -> None:
        super().__init__(reason)
        self.code = code


@dataclass(frozen=True, slots=True)
class By:
    """On whose word something is done. author: a person at a page with their session, or the server by itself.

    at_console: the machine's account under which a command ran, "" elsewhere.
    """

    author: str = SERVER
    session: str = "server"
    at_console: str = ""


BY_ITSELF = By()


def word_of(by: By, kind: str, body: Mapping[str, Any], now: int) -> PushBatch:
    """Return what is told of the house's people and phones, in a stream of its own."""
    device, where = (SERVER, "server") if by.author == SERVER else (DESK, "desk")
    told = {**body, "at_console": by.at_console[:80]} if by.at_console else dict(body)
    what = {"kind": kind, "unit": None, "body": told, "author": by.author, "session": by.session}
    return own_batch(device, f"{where}-{secrets.token_hex(8)}", 1, now, what)


def number_told(answer: PushAnswer) -> int:
    """Return the number of the one operation of an answer, which must be in effect. Raises NotTold."""
    (verdict,) = answer.verdicts
    if verdict.verdict != "applied" or verdict.number is None:
        raise NotTold(verdict.code, verdict.reason)
    return verdict.number


def servers_word(kind: str, body: Mapping[str, Any], now: int) -> PushBatch:
    """Return what the server says of itself, in a stream of its own: it has no numbers to go on with."""
    what = {"kind": kind, "unit": None, "body": dict(body), "author": SERVER, "session": "server"}
    return own_batch(SERVER, f"server-{secrets.token_hex(8)}", 1, now, what)
