"""Defects as they are found, at the plant and after dispatch, and their photos."""

import sqlite3
from dataclasses import dataclass

import orjson

from qc.domain.alarms import arrival_alarm
from qc.domain.judging import is_lower, tells_failure
from qc.domain.plant import FIELD
from qc.store.arrivals import Arrival
from qc.store.projections import inspections, tests, units
from qc.store.projections.days import mark_dirty
from qc.store.verdicts import Refusal

_RECORD = """
INSERT INTO defect (id, unit, model, inspection, point, first_presentation, zone, type, severity, note, mark, found_ms,
                    production_day, shift, finder, device, state, linked_to, origin_state, number, received_ms)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 'open', ?, 'none', ?, ?)
"""
_ONE = """
SELECT unit, point, inspection, zone, type, severity, state, cycles, production_day, suspected, confirmed,
       origin_state, origin_ms
  FROM defect
 WHERE id = ?
"""
_NO_PHOTO = "DELETE FROM defect_photo WHERE defect = ? AND sha256 = ?"
_PHOTO = "INSERT OR IGNORE INTO defect_photo (defect, sha256, view, number) VALUES (?, ?, ?, ?)"


@dataclass(frozen=True, slots=True)
class DefectRow:
    """A defect as the table holds it, as far as the rules ask."""

    id: str
    unit: str
    point: str
    inspection: str | None
    zone: str
    type: str
    severity: str
    state: str
    cycles: int
    production_day: str
    suspected: str | None
    confirmed: str | None
    origin_state: str
    origin_ms: int | None


def defect_of(conn: sqlite3.Connection, a: Arrival, id_: str, *, withdrawn: bool = False) -> DefectRow:
    """Return a defect of the operation's unit. Refuses one of another unit and, unless asked for, a withdrawn one."""
    row = conn.execute(_ONE, (id_,)).fetchone()
    if row is None:
        raise Refusal("unknown_code", f"{id_} is no defect")
    defect = DefectRow(id_, *row)
    if defect.unit != a.unit:
        raise Refusal("wrong_chassis", f"that defect is on unit {defect.unit}; this names {a.unit}")
    if defect.state == "withdrawn" and not withdrawn:
        raise Refusal("already_withdrawn", "this defect was withdrawn; record it anew if it is there")
    return defect


def recorded(conn: sqlite3.Connection, a: Arrival) -> None:
    """Enter a defect found at the plant, in an inspection or outside one."""
    body, inspection, first = a.body, a.body.get("inspection"), False
    if inspection is not None:
        point, _, first = inspections.inspection_of(conn, a, inspection)
        if point != body["point"]:
            raise Refusal("malformed", f"body.point is not {point}, where that inspection is")
    _require_severity(a)
    _require_failure(conn, a)
    day, shift = a.ground.day_and_shift(a.happened_ms)
    _enter(conn, a, body["point"], inspection, first, day, shift)
    inspections.resettle(conn, inspection)
    _arrived(conn, a, stale=True)


def field_finding(conn: sqlite3.Connection, a: Arrival) -> None:
    """Enter a defect found after dispatch, counted on the day the finder names; it never enters a rate."""
    _require_severity(a)
    _enter(conn, a, FIELD, None, False, a.body["found_day"], "")
    _arrived(conn, a, stale=False)


def _require_severity(a: Arrival) -> None:
    body = a.body
    default = a.ground.plant.types[body["type"]].default_severity
    if not is_lower(body["severity"], default):
        return
    if default == "critical" and a.standing.role != "quality_manager":
        raise Refusal(
            "only_manager_lowers_critical",
            f"{body['type']} is critical; only the quality manager lowers it. Record it as critical",
        )
    if not body.get("severity_reason"):
        raise Refusal("reason_needed", f"{body['type']} is usually {default}; say why it is {body['severity']} here")


def _require_failure(conn: sqlite3.Connection, a: Arrival) -> None:
    if a.body.get("result") is None:
        return
    result, plant = tests.result_of(conn, a), a.ground.plant
    if result.passed:
        raise Refusal("malformed", "body.result names a result that passed; there is no failure to tell")
    failed, type_ = plant.tests.get(result.test), plant.types[a.body["type"]]
    if failed is not None and not tells_failure(failed, type_):
        words = f"{failed.id} failed, which is {failed.defect_on_fail}; {type_.code} does not stop the unit"
        raise Refusal("malformed", f"body.type: {words}. Record the failure as {failed.defect_on_fail}")


def _enter(
    conn: sqlite3.Connection, a: Arrival, point: str, inspection: str | None, first: bool, day: str, shift: str
) -> None:
    body, op = a.body, a.op
    assert op is not None
    mark = orjson.dumps(body["mark"]).decode() if body.get("mark") is not None else None
    where = (a.id, a.unit, a.model, inspection, point, int(first), body["zone"])
    what = (body["type"], body["severity"], body.get("note", ""), mark)
    when = (a.happened_ms, day, shift, a.author, op.device, body.get("linked_to"), a.number, a.received_ms)
    conn.execute(_RECORD, where + what + when)
    mark_dirty(conn, day)


def _arrived(conn: sqlite3.Connection, a: Arrival, *, stale: bool) -> None:
    body = a.body
    words = arrival_alarm(a.kind, body["type"], body["zone"], body["severity"], a.author)
    units.alarm(conn, a, words, stale=stale)
    units.restate(conn, a)


def photo_attached(conn: sqlite3.Connection, a: Arrival) -> None:
    """Tie a photo, by the hash of its bytes, to a defect; the bytes come on their own way."""
    body = a.body
    defect = defect_of(conn, a, body["defect"], withdrawn=True)
    conn.execute(_PHOTO, (defect.id, body["sha256"], body.get("view"), a.number))


def photo_withdrawn(conn: sqlite3.Connection, a: Arrival) -> None:
    """Take a photo away from a defect, such as one that could not be opened. The record keeps that there was one."""
    defect = defect_of(conn, a, a.body["defect"], withdrawn=True)
    conn.execute(_NO_PHOTO, (defect.id, a.body["sha256"]))
