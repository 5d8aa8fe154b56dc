"""What is done on a page enters the record by the same door as a phone's operations, from the device DESK."""

import secrets
import threading
from collections.abc import Mapping
from typing import Any
from weakref import WeakKeyDictionary

from flask import has_request_context

from qc.domain.facts.people import Person
from qc.domain.facts.proof import SIGNATURES
from qc.store.intake.journal import Journal
from qc.store.people.persons import DESK
from qc.store.record.own_word import own_batch, uuid7
from qc.store.record.verdicts import PushBatch, Verdict
from qc.web.house import House
from qc.web.page_session import current_sign_in


class _Stream:
    """The desk's sequence numbers since this process began; one operation at a time, so that none overtakes."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.begin()

    def begin(self) -> None:
        self.epoch = f"desk-{secrets.token_hex(8)}"
        self.seq = 1


__all__ = ["author", "uuid7"]

_streams: WeakKeyDictionary[Journal, _Stream] = WeakKeyDictionary()
_streams_lock = threading.Lock()


def author(house: House, person: Person, kind: str, unit: str | None, body: Mapping[str, Any]) -> Verdict:
    """Record one operation of a person at a page and return the journal's verdict, which is on disk by then.

    Raises StorageFull or StorageFailed, with nothing recorded.
    """
    with _streams_lock:
        stream = _streams.setdefault(house.journal, _Stream())
    with stream.lock:
        batch = _batch(house, stream, person, kind, unit, body)
        try:
            (verdict,) = house.journal.push(batch).verdicts
        except BaseException:
            stream.begin()  # whether its number was used is not known, and a number may not be used twice
            raise
        stream.seq += 1
        return verdict


def _batch(
    house: House, stream: _Stream, person: Person, kind: str, unit: str | None, body: Mapping[str, Any]
) -> PushBatch:
    assert kind not in SIGNATURES, "a signature asks for the secret again, which no page does"
    what = {"kind": kind, "unit": unit, "body": dict(body), "author": person.code, "session": _session()}
    return own_batch(DESK, stream.epoch, stream.seq, house.clock(), what)


def _session() -> str:
    signed_in = current_sign_in() if has_request_context() else None
    return signed_in.session if signed_in else "desk"
