"""Test results, judged by the limits of the day, and voided by repairs in the groups tied to them."""

import sqlite3

from qc.domain.alarms import arrival_alarm
from qc.domain.judging import groups_of, has_passed, result_fault, voided_tests
from qc.store.arrivals import Arrival
from qc.store.projections import inspections, units
from qc.store.projections.days import mark_dirty
from qc.store.verdicts import Refusal

_RECORD = """
INSERT INTO test_result (id, unit, test, point, inspection, value, passed, instrument, calibrated_until, tester,
                         tested_ms, production_day, voided_by, number)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
"""
_LATER_REPAIRS = """
SELECT r.repair, d.type
  FROM defect AS d
  JOIN defect_repair AS r ON r.defect = d.id
 WHERE d.unit = ? AND r.repaired_ms >= ?
 ORDER BY r.number
"""
_STANDING = "SELECT id, test, number, tested_ms FROM test_result WHERE unit = ? AND voided_by IS NULL"
_VOID = "UPDATE test_result SET voided_by = ? WHERE id = ?"


def recorded(conn: sqlite3.Connection, a: Arrival) -> None:
    """Enter a result. One that was taken before a repair that is already here arrives voided."""
    body, test = a.body, a.ground.plant.tests[a.body["test"]]
    inspection = body.get("inspection")
    if inspection is not None:
        inspections.inspection_of(conn, a, inspection)
    if lack := result_fault(test, body):
        raise Refusal("malformed", lack)
    passed = has_passed(test, body)
    day = a.ground.day(a.happened_ms)
    what = (inspection, body.get("value"), int(passed), body["instrument"], body.get("calibrated_until"))
    when = (a.author, a.happened_ms, day, _voiding_repair(conn, a), a.number)
    conn.execute(_RECORD, (a.id, a.unit, test.id, test.point, *what, *when))
    mark_dirty(conn, day)
    if not passed:
        inspections.resettle(conn, inspection)
        units.alarm(conn, a, arrival_alarm(a.kind, test.id, "", "", a.author), stale=True)
        units.restate(conn, a)


def _voiding_repair(conn: sqlite3.Connection, a: Arrival) -> str | None:
    tied = set(a.ground.plant.tests[a.body["test"]].voided_by)
    for repair, type_ in conn.execute(_LATER_REPAIRS, (a.unit, a.happened_ms)):
        if tied & groups_of((type_,), a.ground.plant):
            return str(repair)
    return None


def void(conn: sqlite3.Connection, a: Arrival, groups: frozenset[str], last: tuple[int, int] | None) -> None:
    """Void the unit's results of the tests tied to repaired groups.

    last None: every result so far, since the server's order is the legal one. Otherwise (number, ms) of a repair
    whose defect turns out to be of these groups: only results that are not later than it by both.
    """
    tied = voided_tests(groups, a.ground.plant)
    if not tied:
        return
    for id_, test, number, tested_ms in conn.execute(_STANDING, (a.unit,)).fetchall():
        later = last is not None and number > last[0] and tested_ms > last[1]
        if test in tied and not later:
            conn.execute(_VOID, (a.id, id_))
