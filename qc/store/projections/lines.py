"""What changed at a station: a new person, tool, batch or method, noted at the time."""

import sqlite3

import orjson

from qc.store.arrivals import Arrival
from qc.store.verdicts import Refusal

_NOTE = """
INSERT INTO change_note (id, station, change, what, types, from_day, noted_by, number)
VALUES (?, ?, ?, ?, ?, ?, ?, ?)
"""


def change_noted(conn: sqlite3.Connection, a: Arrival) -> None:
    """Keep a lead's note about an own station, or the quality manager's about any."""
    body = a.body
    if a.standing.role != "quality_manager" and not a.standing.leads(body["station"]):
        raise Refusal(
            "not_your_role", f"only the lead of {body['station']} or the quality manager notes a change there"
        )
    types = orjson.dumps(body.get("types", [])).decode()
    what = (body["station"], body["change"], body["what"], types, body["from_day"])
    conn.execute(_NOTE, (a.id, *what, a.author, a.number))
