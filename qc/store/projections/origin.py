"""Origins: suspected, confirmed, passed on, disputed, settled; and the day that the work was done."""

import sqlite3

from qc.domain.origins import Origin, after, objection, work_station
from qc.store.arrivals import Arrival
from qc.store.projections.days import mark_dirty
from qc.store.projections.defects import DefectRow, defect_of
from qc.store.verdicts import Refusal

_SET = """
UPDATE defect
   SET suspected = ?, confirmed = ?, origin_state = ?, origin_ms = ?, work_day = ?, work_day_basis = ?
 WHERE id = ?
"""
_PASSED = "SELECT production_day FROM station_pass WHERE unit = ? AND station = ?"


def spoken(conn: sqlite3.Connection, a: Arrival) -> None:
    """Take a word on a defect's origin from whoever may say it, and date the work by it."""
    defect = defect_of(conn, a, a.body["defect"])
    held = Origin(defect.suspected, defect.confirmed, defect.origin_state, defect.origin_ms)  # type: ignore[arg-type]
    station = a.body.get("station", "")
    possible = a.ground.possible_origins(defect.point, a.model)
    if no := objection(held, a.kind, station, a.standing, possible, a.ground.plant):
        raise Refusal(*no)
    now = after(held, a.kind, station, a.happened_ms)
    day, basis = work_day(conn, a, defect, now)
    conn.execute(_SET, (now.suspected, now.confirmed, now.state, now.at_ms, day, basis, defect.id))
    mark_dirty(conn, defect.production_day)


def work_day(conn: sqlite3.Connection, a: Arrival, defect: DefectRow, origin: Origin) -> tuple[str | None, str]:
    """Return the day the work was done at the origin and how it is known: by scan, by lead time, or not at all."""
    station = work_station(origin, a.ground.plant)
    if station is None:
        return None, ""
    scan = conn.execute(_PASSED, (a.unit, station)).fetchone()
    if scan is not None:
        return str(scan[0]), "scan"
    return a.ground.work_day(defect.production_day, station), "lead"
