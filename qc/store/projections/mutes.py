"""Signals that the quality manager does not want listed before a day, and the word that lists them again."""

import sqlite3
from datetime import date

from qc.domain.mutes import LEAST_REASON, end_fault
from qc.store.arrivals import Arrival
from qc.store.verdicts import Refusal

_STANDING = """
SELECT until, muted_by
  FROM signal_mute
 WHERE station = :station AND type = :type AND direction = :direction
   AND ended_day IS NULL AND until >= :day
 ORDER BY number
 LIMIT 1
"""
_MUTE = """
INSERT INTO signal_mute (id, station, type, direction, reason, from_day, until, muted_by, number)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
"""
_FOUND = "SELECT until, ended_day, ended_by FROM signal_mute WHERE id = ?"
_END = "UPDATE signal_mute SET ended_day = ?, ended_by = ? WHERE id = ?"


def muted(conn: sqlite3.Connection, a: Arrival) -> None:
    """Keep a mute with its reason and its last day; one that stands is not replaced, so that its reason is read."""
    body, day = a.body, a.ground.day(a.happened_ms)
    if len(body["reason"].strip()) < LEAST_REASON:
        raise Refusal("reason_needed", f"say in {LEAST_REASON} characters or more why this signal is muted")
    if fault := end_fault(date.fromisoformat(day), date.fromisoformat(body["until"])):
        raise Refusal("until_out_of_range", fault)
    place = {name: body[name] for name in ("station", "type", "direction")}
    if standing := conn.execute(_STANDING, {**place, "day": day}).fetchone():
        raise Refusal("already_muted", "{} has muted it until {}; unmute it first".format(*reversed(standing)))
    why = (body["reason"].strip(), day, body["until"])
    conn.execute(_MUTE, (a.id, *place.values(), *why, a.author, a.number))


def unmuted(conn: sqlite3.Connection, a: Arrival) -> None:
    """End a mute before its day."""
    day, mute = a.ground.day(a.happened_ms), a.body["mute"]
    found = conn.execute(_FOUND, (mute,)).fetchone()
    if found is None:
        raise Refusal("not_muted", f"{mute} is no mute of a signal; take it from the list of muted signals")
    until, ended_day, ended_by = found
    if ended_day is not None:
        raise Refusal("not_muted", f"{ended_by} ended this mute on {ended_day} already")
    if until < day:
        raise Refusal("not_muted", f"this mute ended by itself after {until}")
    conn.execute(_END, (day, a.author, mute))
