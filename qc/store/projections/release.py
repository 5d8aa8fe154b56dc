"""The release: the gate judged from the unit's operations, in the transaction that appends it."""

import sqlite3

from qc.domain.operations import Operation
from qc.domain.release import Blocker, blockers, open_digest, told, unseen
from qc.domain.story import digest_of, story
from qc.domain.unit import fold
from qc.domain.unit_record import Event
from qc.store.arrivals import Arrival
from qc.store.events import events_of
from qc.store.verdicts import Refusal

_SHOWN = 12  # blockers told in the refusal; the unit's page lists all

_RELEASE = "UPDATE unit SET state = 'released', alarm = '', released_ms = ?, released_by = ? WHERE chassis = ?"
_KEPT = "SELECT 1 FROM release_record WHERE id = ?"
_KEEP = """
INSERT INTO release_record (id, unit, signed_by, against, open_digest, released_ms, story, story_digest, number)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
"""


def released(conn: sqlite3.Connection, a: Arrival) -> None:
    """Release a unit whose operations leave nothing open and whose signer saw all of them; refuse it otherwise."""
    assert a.op is not None
    events = events_of(conn, a.unit or "", a.ground.of)
    sign_off = _sign_off(a, a.op)
    told_record = _judge(events, sign_off, a)
    conn.execute(_RELEASE, (a.happened_ms, a.author, a.unit))
    if conn.execute(_KEPT, (a.id,)).fetchone() is None:  # a rebuild finds the frozen copy in its place
        values = (a.body["against"], a.body["open_digest"], a.happened_ms)
        text = told_record.decode()
        conn.execute(_KEEP, (a.id, a.unit, a.author, *values, text, digest_of(told_record), a.number))


def _sign_off(a: Arrival, op: Operation) -> Event:
    return Event(
        a.number, op, a.happened_ms, "applied", a.ground.plant, a.cause, a.received_ms, clock_suspect=a.clock_suspect
    )


def _judge(events: list[Event], sign_off: Event, a: Arrival) -> bytes:
    record = fold(events)
    if record is None:
        raise Refusal("release_blocked", "the journal does not tell this unit; nothing can be released from a table")
    if record.state == "released" and not record.alarm:
        raise Refusal("already_released", "this unit is released already")
    blocked = blockers(record, a.ground.plant, a.rules)
    new = unseen(events, sign_off)
    if new or a.body["open_digest"] != open_digest(record):
        raise Refusal("sign_off_stale", _stale_words(new, blocked))
    if blocked:
        raise Refusal("release_blocked", f"not released, {len(blocked)} open: {_listed(blocked)}")
    chain = {"size": a.number - 1, "head": a.previous.hex()}
    return story(record, a.ground.plant, sign_off, events, chain)


def _stale_words(new: tuple[Event, ...], blocked: tuple[Blocker, ...]) -> str:
    arrived = "; ".join(told(event) for event in new[:_SHOWN]) or "the open list is not the one you signed"
    return f"the record changed after you looked: {arrived}. Open now: {_listed(blocked) or 'nothing'}. Look, sign anew"


def _listed(blocked: tuple[Blocker, ...]) -> str:
    more = f"; and {len(blocked) - _SHOWN} more" if len(blocked) > _SHOWN else ""
    return "; ".join(one.what for one in blocked[:_SHOWN]) + more
