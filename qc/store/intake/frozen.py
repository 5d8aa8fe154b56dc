"""The frozen release records: the copy of a unit's story as it stood when it was signed."""

import sqlite3

from qc.domain.unit.story import digest_of, story
from qc.domain.unit.unit_record import Event
from qc.store.intake.in_hand import InHand
from qc.store.record.arrivals import Arrival

_KEPT = "SELECT 1 FROM release_record WHERE id = ?"
_KEEP = """
INSERT INTO release_record (id, unit, signed_by, against, open_digest, released_ms, story, story_digest, number)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
"""


def freeze(conn: sqlite3.Connection, a: Arrival, sign_off: Event, hand: InHand) -> None:
    """Keep the story of a unit that was just released; a rebuild finds the frozen copy in its place and leaves it."""
    if conn.execute(_KEPT, (a.id,)).fetchone() is not None:
        return
    record, events = hand.as_judged(a.unit or "")  # without this release, whose verdict is not given yet
    text = story(record, a.plant_rules.plant, sign_off, events, {"size": a.number - 1, "head": a.previous.hex()})
    values = (a.body["against"], a.body["open_digest"], a.happened_ms)
    conn.execute(_KEEP, (a.id, a.unit, a.author, *values, text.decode(), digest_of(text), a.number))
