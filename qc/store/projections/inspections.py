"""Looking: inspections begun and ended, zones marked, and which presentation each is."""

import sqlite3

from qc.store.arrivals import Arrival
from qc.store.projections import units
from qc.store.projections.days import mark_dirty
from qc.store.verdicts import Refusal

_BEGIN = """
INSERT INTO inspection (id, unit, point, purpose, presentation, inspector, device, light, weather, begun_ms, number)
VALUES (?, ?, ?, ?, 0, ?, ?, ?, ?, ?, ?)
"""
_PRESENTATIONS = """
SELECT id, presentation, production_day
  FROM inspection
 WHERE unit = ? AND point = ? AND purpose = 'presentation'
 ORDER BY begun_ms, number
"""
_RENUMBER = "UPDATE inspection SET presentation = ? WHERE id = ?"
# Here and below a defect is looked for through its unit, whose index there is; by inspection alone every defect of
# the record would be read.
_FIRST = """
UPDATE defect SET first_presentation = ? WHERE unit = ? AND inspection = ? AND first_presentation <> ?
RETURNING production_day
"""
_ONE = "SELECT unit, point, ended_ms, purpose, presentation FROM inspection WHERE id = ?"
_END = "UPDATE inspection SET ended_ms = ?, production_day = ?, shift = ? WHERE id = ?"
_CLEAN = """
UPDATE inspection
   SET clean_all = NOT EXISTS (SELECT 1 FROM defect AS d
                                WHERE d.unit = inspection.unit AND d.inspection = :id AND d.state <> 'withdrawn')
                   AND NOT EXISTS (SELECT 1 FROM test_result AS t
                                    WHERE t.unit = inspection.unit AND t.inspection = :id AND t.passed = 0
                                      AND t.taken_back IS NULL),
       clean_major = NOT EXISTS (SELECT 1 FROM defect AS d
                                  WHERE d.unit = inspection.unit AND d.inspection = :id AND d.state <> 'withdrawn'
                                    AND d.severity <> 'minor')
                     AND NOT EXISTS (SELECT 1 FROM test_result AS t
                                      WHERE t.unit = inspection.unit AND t.inspection = :id AND t.passed = 0
                                      AND t.taken_back IS NULL)
 WHERE id = :id AND ended_ms IS NOT NULL
RETURNING production_day
"""
_LOOK = """
INSERT INTO zone_look (inspection, zone, looked, reason, note, number) VALUES (?, ?, ?, ?, ?, ?)
ON CONFLICT (inspection, zone) DO UPDATE
   SET looked = excluded.looked, reason = excluded.reason, note = excluded.note, number = excluded.number
 WHERE excluded.number > zone_look.number
"""


def begun(conn: sqlite3.Connection, a: Arrival) -> None:
    """Enter an inspection and number the presentations at that point again, by when they began."""
    body = a.body
    assert a.op is not None
    values = (a.author, a.op.device, body["light"], body.get("weather"), a.happened_ms, a.number)
    conn.execute(_BEGIN, (a.id, a.unit, body["point"], body["purpose"], *values))
    if body["purpose"] == "presentation":
        _renumber(conn, a.unit or "", body["point"])
    units.restate(conn, a)


def _renumber(conn: sqlite3.Connection, unit: str, point: str) -> None:
    rows = conn.execute(_PRESENTATIONS, (unit, point)).fetchall()
    for rank, (id_, presentation, day) in enumerate(rows, start=1):
        if rank == presentation:
            continue
        conn.execute(_RENUMBER, (rank, id_))
        mark_dirty(conn, day)
        first = int(rank == 1)
        for (found_day,) in conn.execute(_FIRST, (first, unit, id_, first)).fetchall():
            mark_dirty(conn, found_day)


def inspection_of(conn: sqlite3.Connection, a: Arrival, id_: str) -> tuple[str, int | None, bool]:
    """Return the inspection's point, when it ended, and whether it is a first presentation.

    Refuses an id that is no inspection, or one of another unit.
    """
    row = conn.execute(_ONE, (id_,)).fetchone()
    if row is None:
        raise Refusal("unknown_code", f"body.inspection: {id_} is no inspection")
    unit, point, ended_ms, purpose, presentation = row
    if unit != a.unit:
        raise Refusal("wrong_chassis", f"that inspection is of unit {unit}; this names {a.unit}")
    return point, ended_ms, purpose == "presentation" and presentation == 1


def ended(conn: sqlite3.Connection, a: Arrival) -> None:
    """End an inspection: from now on it has a day and is clean or not. Refuses to end one twice."""
    id_ = a.body["inspection"]
    _, ended_ms, _ = inspection_of(conn, a, id_)
    if ended_ms is not None:
        raise Refusal("inspection_ended", "this inspection has ended already")
    conn.execute(_END, (a.happened_ms, *a.ground.day_and_shift(a.happened_ms), id_))
    resettle(conn, id_)
    units.restate(conn, a)


def resettle(conn: sqlite3.Connection, id_: str | None) -> None:
    """Work out again whether an ended inspection was clean; nothing while it runs or without an id."""
    if id_ is not None:
        for (day,) in conn.execute(_CLEAN, {"id": id_}).fetchall():
            mark_dirty(conn, day)


def zones_looked_at(conn: sqlite3.Connection, a: Arrival) -> None:
    """Mark zones as looked at, clean ones included."""
    inspection_of(conn, a, a.body["inspection"])
    rows = [(a.body["inspection"], zone, 1, "", "", a.number) for zone in a.body["zones"]]
    conn.executemany(_LOOK, rows)


def zone_not_looked_at(conn: sqlite3.Connection, a: Arrival) -> None:
    """Mark a zone as not looked at, and why."""
    body = a.body
    inspection_of(conn, a, body["inspection"])
    conn.execute(_LOOK, (body["inspection"], body["zone"], 0, body["reason"], body.get("note", ""), a.number))
