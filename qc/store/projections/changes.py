"""Defects corrected and withdrawn. Both values of a field that two people changed are kept."""

import sqlite3
from typing import Any

import orjson

from qc.domain.alarms import arrival_alarm
from qc.domain.judging import groups_of, is_lower
from qc.domain.plant import FIELD
from qc.store.arrivals import Arrival
from qc.store.projections import inspections, tests, units
from qc.store.projections.days import mark_dirty
from qc.store.projections.defects import DefectRow, defect_of
from qc.store.verdicts import Refusal

_KEEP = "INSERT INTO defect_change (defect, field, number, author, value) VALUES (?, ?, ?, ?, ?)"
_CHANGES = "SELECT field, number, author FROM defect_change WHERE defect = ? ORDER BY number"
_SET = {
    "zone": "UPDATE defect SET zone = ? WHERE id = ?",
    "type": "UPDATE defect SET type = ? WHERE id = ?",
    "severity": "UPDATE defect SET severity = ? WHERE id = ?",
    "note": "UPDATE defect SET note = ? WHERE id = ?",
    "mark": "UPDATE defect SET mark = ? WHERE id = ?",
}
_ALSO = "UPDATE defect SET changed_also_by = ? WHERE id = ?"
_WITHDRAW = "UPDATE defect SET state = 'withdrawn', withdrawn_why = ?, duplicate_of = ? WHERE id = ?"
_REPAIRED = "SELECT number, repaired_ms FROM defect_repair WHERE defect = ? ORDER BY number DESC LIMIT 1"


def corrected(conn: sqlite3.Connection, a: Arrival) -> None:
    """Change fields of a defect; of two changes to one field the one with the higher number shows."""
    defect, changes = defect_of(conn, a, a.body["defect"]), a.body["changes"]
    _require_severity(a, defect, changes)
    shown = _shown(conn, defect.id, changes, a.number)
    for name, value in changes.items():
        conn.execute(_KEEP, (defect.id, name, a.number, a.author, orjson.dumps(value).decode()))
        if name in shown:
            kept = orjson.dumps(value).decode() if name == "mark" and value is not None else value
            conn.execute(_SET[name], (kept, defect.id))
    conn.execute(_ALSO, (_changed_also_by(conn, defect.id), defect.id))
    _follow(conn, a, defect, {name: changes[name] for name in shown})


def _require_severity(a: Arrival, defect: DefectRow, changes: dict[str, Any]) -> None:
    severity = changes.get("severity", defect.severity)
    default = a.ground.plant.types[changes.get("type", defect.type)].default_severity
    lowered = is_lower(severity, defect.severity) and defect.severity == "critical"
    # A type whose usual severity is critical cannot be reached sideways, by correcting the type alone.
    sideways = "type" in changes and default == "critical" and severity != "critical"
    if (lowered or sideways) and a.standing.role != "quality_manager":
        raise Refusal("only_manager_lowers_critical", "only the quality manager lowers a critical; ask at the line")


def _shown(conn: sqlite3.Connection, defect: str, changes: dict[str, Any], number: int) -> set[str]:
    newest = {name: latest for name, latest, _ in conn.execute(_CHANGES, (defect,))}
    return {name for name in changes if number > newest.get(name, 0)}


def _changed_also_by(conn: sqlite3.Connection, defect: str) -> str:
    told = conn.execute(_CHANGES, (defect,)).fetchall()
    last = {name: author for name, _, author in told}
    return orjson.dumps(sorted({author for name, _, author in told if author != last[name]})).decode()


def _follow(conn: sqlite3.Connection, a: Arrival, defect: DefectRow, shown: dict[str, Any]) -> None:
    mark_dirty(conn, defect.production_day)
    type_, severity = shown.get("type", defect.type), shown.get("severity", defect.severity)
    if type_ != defect.type and (last := conn.execute(_REPAIRED, (defect.id,)).fetchone()):
        tests.void(conn, a, groups_of((type_,), a.ground.plant), last)
    if severity != defect.severity:
        inspections.resettle(conn, defect.inspection)
        if severity == "critical" and defect.state in ("open", "repaired"):
            words = arrival_alarm(a.kind, type_, shown.get("zone", defect.zone), severity, a.author)
            units.alarm(conn, a, words, stale=defect.point != FIELD)
            units.restate(conn, a)


def withdrawn(conn: sqlite3.Connection, a: Arrival) -> None:
    """Withdraw a defect that is none, or that another record already tells. A critical one is the manager's."""
    body = a.body
    defect = defect_of(conn, a, body["defect"])
    _require_withdrawal(conn, a, defect)
    conn.execute(_WITHDRAW, (body["why"], body.get("duplicate_of"), defect.id))
    mark_dirty(conn, defect.production_day)
    inspections.resettle(conn, defect.inspection)
    units.restate(conn, a)


def _require_withdrawal(conn: sqlite3.Connection, a: Arrival, defect: DefectRow) -> None:
    twin = None
    if a.body["why"] == "duplicate":
        twin = _twin(conn, a, defect)
    lowers = defect.severity == "critical" and (twin is None or twin.severity != "critical")
    if lowers and a.standing.role != "quality_manager":
        raise Refusal("only_manager_lowers_critical", "only the quality manager withdraws a critical; ask at the line")


def _twin(conn: sqlite3.Connection, a: Arrival, defect: DefectRow) -> DefectRow:
    other = a.body.get("duplicate_of")
    if other is None or other == defect.id:
        raise Refusal("malformed", "body.duplicate_of must name the other record of the same defect")
    return defect_of(conn, a, other)
