"""Repairs, and the look of another person at each."""

import sqlite3

from qc.domain.alarms import arrival_alarm
from qc.domain.judging import groups_of, shared_minutes
from qc.domain.plant import FIELD
from qc.store.arrivals import Arrival
from qc.store.projections import tests, units
from qc.store.projections.days import mark_dirty
from qc.store.projections.defects import DefectRow, defect_of
from qc.store.verdicts import Refusal

_REPAIR = """
UPDATE defect
   SET state = 'repaired', repaired_by = ?, rechecked_by = NULL, repair_minutes = repair_minutes + ?
 WHERE id = ?
"""
_NOTE = """
INSERT INTO defect_repair (repair, defect, number, cycle, repairer, method, minutes, repaired_ms)
VALUES (?, ?, ?, ?, ?, ?, ?, ?)
"""
_REPAIRERS = "SELECT repairer FROM defect_repair WHERE defect = ? AND cycle = ? ORDER BY number"
_CLOSE = "UPDATE defect SET state = 'closed', rechecked_by = ? WHERE id = ?"
_REOPEN = "UPDATE defect SET state = 'open', cycles = cycles + 1, repaired_by = NULL, rechecked_by = NULL WHERE id = ?"


def done(conn: sqlite3.Connection, a: Arrival) -> None:
    """Note a repair of one or several defects and void the tests tied to their groups.

    Those withdrawn meanwhile are passed over; refused only where all are. Minutes are shared evenly.
    """
    body = a.body
    named = [defect_of(conn, a, id_, withdrawn=True) for id_ in body["defects"]]
    repaired = [one for one in named if one.state != "withdrawn"]
    if not repaired:
        raise Refusal("already_withdrawn", "each of these defects was withdrawn; nothing is left to repair")
    for defect, minutes in zip(named, shared_minutes(body["minutes"], len(named)), strict=True):
        if defect.state != "withdrawn":
            _note(conn, a, defect, minutes)
    tests.void(conn, a, groups_of((one.type for one in repaired), a.ground.plant), None)
    at_plant = ", ".join(one.type for one in repaired if one.point != FIELD)
    if at_plant:  # a dealer's repair of what the field found is expected after dispatch
        units.alarm(conn, a, arrival_alarm(a.kind, at_plant, "", "", a.author), stale=True)
    units.restate(conn, a)


def _note(conn: sqlite3.Connection, a: Arrival, defect: DefectRow, minutes: int) -> None:
    conn.execute(_REPAIR, (a.author, minutes, defect.id))
    how = (defect.cycles, a.author, a.body["method"], minutes, a.happened_ms)
    conn.execute(_NOTE, (a.id, defect.id, a.number, *how))
    mark_dirty(conn, defect.production_day)


def accepted(conn: sqlite3.Connection, a: Arrival) -> None:
    """Close a repaired defect. Refuses anyone who repaired it in this cycle; a second acceptance changes nothing."""
    defect = defect_of(conn, a, a.body["defect"])
    if defect.state == "open":
        raise Refusal("not_repaired", "no repair of this defect has arrived; it is still open")
    repairers = [who for (who,) in conn.execute(_REPAIRERS, (defect.id, defect.cycles))]
    if a.author in repairers:
        raise Refusal("same_person", f"{a.author} repaired this; another person must look at it again")
    if defect.state == "repaired":
        conn.execute(_CLOSE, (a.author, defect.id))
        mark_dirty(conn, defect.production_day)
        units.restate(conn, a)


def failed(conn: sqlite3.Connection, a: Arrival) -> None:
    """Open a repaired or closed defect again: the same defect, one more cycle."""
    defect = defect_of(conn, a, a.body["defect"])
    if defect.state == "open":
        raise Refusal("not_repaired", "no repair of this defect has arrived; it is still open")
    conn.execute(_REOPEN, (defect.id,))
    mark_dirty(conn, defect.production_day)
    words = arrival_alarm(a.kind, defect.type, defect.zone, defect.severity, a.author)
    units.alarm(conn, a, words, stale=defect.point != FIELD)
    units.restate(conn, a)
