"""The unit on the line: planned, passed a station, where it stands, and the alarm that holds it."""

import sqlite3

import orjson

from qc.domain.alarms import joined_alarm
from qc.domain.chassis import chassis_fault, full_number, shop_number
from qc.store.arrivals import Arrival
from qc.store.projections.days import mark_dirty
from qc.store.verdicts import Refusal

_UNIT = "SELECT model, state FROM unit WHERE chassis = ?"
_TAKEN = "SELECT chassis, shop_number FROM unit WHERE chassis = ? OR shop_number = ?"
_PLAN = """
INSERT INTO unit (chassis, shop_number, sequence, model, options, build_sheet, planned_day, state, last_number)
VALUES (?, ?, ?, ?, ?, ?, ?, 'planned', ?)
"""
_TOUCH = "UPDATE unit SET last_number = ? WHERE chassis = ?"
_PASSED_BEFORE = "SELECT production_day FROM station_pass WHERE unit = ? AND station = ?"
_PASS = """
INSERT INTO station_pass (unit, station, passed_ms, production_day, number) VALUES (?, ?, ?, ?, ?)
ON CONFLICT (unit, station) DO UPDATE
   SET passed_ms = excluded.passed_ms, production_day = excluded.production_day, number = excluded.number
 WHERE excluded.passed_ms < station_pass.passed_ms
"""
_REDATE = """
UPDATE defect SET work_day = ?, work_day_basis = 'scan'
 WHERE unit = ? AND coalesce(confirmed, suspected) = ?
RETURNING production_day
"""
# The same answer as unit.working_state: a unit that is released stays so until an alarm or a look takes it back.
_RESTATE = """
UPDATE unit
   SET state = CASE
         WHEN NOT EXISTS (SELECT 1 FROM inspection AS i WHERE i.unit = :unit
                             AND i.point IN (SELECT value FROM json_each(:end_points)))
         THEN CASE WHEN EXISTS (SELECT 1 FROM inspection AS i WHERE i.unit = :unit)
                     OR EXISTS (SELECT 1 FROM station_pass AS p WHERE p.unit = :unit)
                   THEN 'on_line' ELSE 'planned' END
         WHEN NOT EXISTS (SELECT 1 FROM defect AS d WHERE d.unit = :unit AND d.state = 'open') THEN 'at_end_points'
         WHEN EXISTS (SELECT 1 FROM inspection AS i WHERE i.unit = :unit AND i.ended_ms IS NULL
                         AND i.point IN (SELECT value FROM json_each(:end_points)))
         THEN 'at_end_points'
         ELSE 'in_rework' END
 WHERE chassis = :unit AND state <> 'released'
"""
_ALARM = "SELECT alarm FROM unit WHERE chassis = ?"
_SET_ALARM = "UPDATE unit SET alarm = ?, state = ? WHERE chassis = ?"


def require_unit(conn: sqlite3.Connection, a: Arrival) -> None:
    """Find the operation's unit and keep its model and state with the arrival. Raises Refusal ``unknown_unit``."""
    row = conn.execute(_UNIT, (a.unit,)).fetchone()
    if row is None:
        raise Refusal("unknown_unit", f"{a.unit} is not planned here; read the number off the metal again")
    a.model, a.unit_state = row


def planned(conn: sqlite3.Connection, a: Arrival) -> None:
    """Enter a new unit. Refuses a number that cannot be, or one that is taken."""
    body, chassis = a.body, a.unit or ""
    if fault := chassis_fault(chassis):
        raise Refusal("wrong_chassis", fault)
    _agrees(a, chassis)
    taken = conn.execute(_TAKEN, (chassis, body["shop_number"])).fetchone()
    if taken is not None:
        raise Refusal("unit_exists", f"{taken[0]} ({taken[1]}) is already planned")
    options = orjson.dumps(body.get("options", [])).decode()
    values = (body["sequence"], body["model"], options, body.get("build_sheet"), body["planned_day"], a.cause)
    conn.execute(_PLAN, (chassis, body["shop_number"], *values))


def _agrees(a: Arrival, chassis: str) -> None:
    model, sequence, plant = a.body["model"], a.body["sequence"], a.ground.plant
    try:
        full, short = full_number(plant, model, sequence), shop_number(plant, model, sequence)
    except ValueError as error:
        raise Refusal("wrong_chassis", str(error)) from None
    if (chassis[:9], chassis[-5:]) != (full[:9], full[-5:]) or a.body["shop_number"] != short:
        raise Refusal("wrong_chassis", f"model {model} and sequence {sequence} make {full}, {short}; check the plan")


def station_passed(conn: sqlite3.Connection, a: Arrival) -> None:
    """Note the first pass of a station; defects made there are dated by it from now on."""
    station, day = a.body["station"], a.ground.day(a.happened_ms)
    before = conn.execute(_PASSED_BEFORE, (a.unit, station)).fetchone()
    if conn.execute(_PASS, (a.unit, station, a.happened_ms, day, a.number)).rowcount:
        mark_dirty(conn, day, before and before[0])
        for (found_day,) in conn.execute(_REDATE, (day, a.unit, station)).fetchall():
            mark_dirty(conn, found_day)
    restate(conn, a)


def touch(conn: sqlite3.Connection, a: Arrival) -> None:
    """Number the unit's latest change, so that phones that pull get it."""
    conn.execute(_TOUCH, (a.cause, a.unit))


def restate(conn: sqlite3.Connection, a: Arrival) -> None:
    """Work out again where the unit stands."""
    conn.execute(_RESTATE, {"unit": a.unit, "end_points": a.ground.end_points_json})


def alarm(conn: sqlite3.Connection, a: Arrival, words: str, *, stale: bool) -> None:
    """Raise an alarm on a released unit; nothing on others or without words. stale takes the release back."""
    if a.unit_state != "released" or not words:
        return
    (standing,) = conn.execute(_ALARM, (a.unit,)).fetchone()
    a.unit_state = "at_end_points" if stale else "released"
    conn.execute(_SET_ALARM, (joined_alarm(standing, words), a.unit_state, a.unit))
