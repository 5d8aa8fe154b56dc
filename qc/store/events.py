"""A unit's operations read back from the journal, in the order in which they came into effect."""

import sqlite3
from collections.abc import Callable, Iterator

import orjson

from qc.domain.unit_record import Event
from qc.store.arrivals import read_envelope
from qc.store.ground import Ground

_EVENTS = """
SELECT j.number, j.bytes, j.happened_ms, v.verdict, j.plant_revision, v.since, j.received_ms, j.clock_suspect, v.code,
       v.reason
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 WHERE j.unit = ?
 ORDER BY coalesce(v.place, 9223372036854775807), j.number
"""


def events_of(conn: sqlite3.Connection, unit: str, ground_of: Callable[[str], Ground]) -> list[Event]:
    """Return the unit's settled operations: those in effect in their order, then the others by number.

    What came in so malformed that it is no operation is left out; its row and its refusal are in the journal.
    """
    return list(_events(conn, unit, ground_of))


def _events(conn: sqlite3.Connection, unit: str, ground_of: Callable[[str], Ground]) -> Iterator[Event]:
    for number, data, happened, verdict, revision, since, received, suspect, code, reason in conn.execute(
        _EVENTS, (unit,)
    ):
        op, fault = read_envelope(orjson.loads(data))
        if op is not None and fault is None:
            yield Event(
                number,
                op,
                happened,
                verdict,
                ground_of(revision).plant,
                since if since is not None else number,
                received,
                bool(suspect),
                code,
                reason,
            )
