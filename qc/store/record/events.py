"""A unit's operations read back from the journal, in the order in which they came into effect."""

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any, NamedTuple

from qc.domain.facts.operations import Operation
from qc.domain.tables.plant_rules import PlantRules
from qc.domain.unit.unit_record import Event, entered
from qc.store.record.arrivals import json_of, read_envelope

_EVENTS = """
SELECT j.number, j.bytes, j.happened_ms, v.verdict, j.plant_revision, v.since, j.received_ms, j.clock_suspect, v.code,
       v.reason, j.rules, w.author
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
  LEFT JOIN quarantine_word AS w ON w.number = j.number AND w.outcome = 'taken'
 WHERE j.unit = ?
 ORDER BY coalesce(v.place, 9223372036854775807), j.number
"""

_MALFORMED = """
SELECT j.number, j.bytes, j.happened_ms, j.received_ms, j.author, v.reason
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 WHERE j.unit = ? AND v.verdict <> 'applied'
 ORDER BY j.number
"""


class UnreadEntry(NamedTuple):
    """A row that names a unit and is no operation: its number, instants, the author it claims ("" none), the reason."""

    number: int
    happened_ms: int
    received_ms: int
    author: str
    reason: str


def events_of(conn: sqlite3.Connection, unit: str, plant_rules_of: Callable[[str], PlantRules]) -> list[Event]:
    """Return the unit's settled operations: those in effect in their order, then the others by number.

    What came in so malformed that it is no operation is left out; `unread_entries` has it.
    """
    return list(_events(conn, unit, plant_rules_of))


def unread_entries(conn: sqlite3.Connection, unit: str) -> list[UnreadEntry]:
    """Return what came in for a unit so malformed that it is no operation, by number."""
    rows = conn.execute(_MALFORMED, (unit,))
    return [UnreadEntry(number, *rest) for number, data, *rest in rows if read_envelope(json_of(data))[0] is None]


def _events(conn: sqlite3.Connection, unit: str, plant_rules_of: Callable[[str], PlantRules]) -> Iterator[Event]:
    for number, data, at_ms, verdict, revision, since, *rest in conn.execute(_EVENTS, (unit,)):
        op = _operation(json_of(data), verdict)
        if op is not None:
            received, suspect, code, reason, rules, taken_by = rest
            if taken_by is not None:
                op = replace(op, author=taken_by)
            into = number if since is None else since
            yield Event(
                number, op, at_ms, verdict, plant_rules_of(revision), into, received, bool(suspect), code, reason, rules
            )


def _operation(raw: Any, verdict: str) -> Operation | None:
    if verdict == "applied":  # its shape was checked at the door; one changed since fails here, aloud
        return entered(Operation, **{**raw, "deps": tuple(raw["deps"])})
    return read_envelope(raw)[0]
