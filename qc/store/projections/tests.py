"""Test results: judged by the limits of the day, voided by repairs in the groups tied to them, taken back as slips."""

import sqlite3
from dataclasses import dataclass

from qc.domain.alarms import arrival_alarm
from qc.domain.judging import groups_of, has_passed, implausible, result_fault, told_reading, voided_tests
from qc.domain.plant import Test
from qc.domain.rule_set import FAILURES_STAND
from qc.store.arrivals import Arrival
from qc.store.projections import inspections, units
from qc.store.projections.days import mark_dirty
from qc.store.verdicts import Refusal

_RECORD = """
INSERT INTO test_result (id, unit, test, point, inspection, value, passed, instrument, calibrated_until, tester,
                         tested_ms, production_day, voided_by, number, beyond, again)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
"""
# The order of coming into effect is that of the rows; one that was parked has an older number.
_LATEST = """
SELECT passed, voided_by, value, beyond, tester
  FROM test_result
 WHERE unit = ? AND test = ? AND taken_back IS NULL
 ORDER BY rowid DESC
 LIMIT 1
"""
_ONE = """
SELECT t.unit, t.test, t.passed, t.tester, t.production_day, t.taken_back, t.inspection, i.ended_ms
  FROM test_result AS t
  LEFT JOIN inspection AS i ON i.id = t.inspection
 WHERE t.id = ?
"""
_TAKE_BACK = "UPDATE test_result SET taken_back = ? WHERE id = ?"
_LATER_REPAIRS = """
SELECT r.repair, d.type
  FROM defect AS d
  JOIN defect_repair AS r ON r.defect = d.id
 WHERE d.unit = ? AND r.repaired_ms >= ?
 ORDER BY r.number
"""
_STANDING = "SELECT id, test, number, tested_ms FROM test_result WHERE unit = ? AND voided_by IS NULL"
_VOID = "UPDATE test_result SET voided_by = ? WHERE id = ?"


@dataclass(frozen=True, slots=True)
class ResultRow:
    """A result as the table holds it, with the end of its inspection, None while that runs or without one."""

    unit: str
    test: str
    passed: int
    tester: str
    production_day: str
    taken_back: str | None
    inspection: str | None
    ended_ms: int | None


def recorded(conn: sqlite3.Connection, a: Arrival) -> None:
    """Enter a result. One that was taken before a repair that is already here arrives voided."""
    body, test = a.body, a.ground.plant.tests[a.body["test"]]
    inspection = body.get("inspection")
    if inspection is not None:
        inspections.inspection_of(conn, a, inspection)
    if lack := result_fault(test, body):
        raise Refusal("malformed", lack)
    if a.rules >= FAILURES_STAND:
        _require_asked(a, test)
        _require_reason(conn, a, test)
    passed = has_passed(test, body)
    day = a.ground.day(a.happened_ms)
    what = (inspection, body.get("value"), int(passed), body["instrument"], body.get("calibrated_until"))
    when = (a.author, a.happened_ms, day, _voiding_repair(conn, a), a.number)
    how = (body.get("beyond", ""), body.get("again", ""))
    conn.execute(_RECORD, (a.id, a.unit, test.id, test.point, *what, *when, *how))
    mark_dirty(conn, day)
    if not passed:
        inspections.resettle(conn, inspection)
        units.alarm(conn, a, arrival_alarm(a.kind, test.id, "", "", a.author), stale=True)
        units.restate(conn, a)


def _require_asked(a: Arrival, test: Test) -> None:
    odd = implausible(test, a.body.get("value"))
    if odd and a.body.get("confirmed") is not True:
        raise Refusal("implausible_value", f"{odd}. Read it again; if it is right, enter it again and confirm it")


def _require_reason(conn: sqlite3.Connection, a: Arrival, test: Test) -> None:
    latest = conn.execute(_LATEST, (a.unit, test.id)).fetchone()
    if latest is None or latest[0] or latest[1] is not None or a.body.get("again"):
        return
    _, _, value, beyond, tester = latest
    reading = "" if value is None else f" with {told_reading(value, beyond)} {test.unit}"
    raise Refusal(
        "reason_needed",
        f"{test.id} failed before{reading}, measured by {tester}; enter the value again and say why it was done again",
    )


def result_of(conn: sqlite3.Connection, a: Arrival) -> ResultRow:
    """Return the result that the body names. Refuses one of another unit."""
    row = conn.execute(_ONE, (a.body["result"],)).fetchone()
    if row is None:
        raise Refusal("unknown_code", f"{a.body['result']} is no test result")
    result = ResultRow(*row)
    if result.unit != a.unit:
        raise Refusal("wrong_chassis", f"that result is of unit {result.unit}; this names {a.unit}")
    return result


def withdrawn(conn: sqlite3.Connection, a: Arrival) -> None:
    """Take a result back as a slip: its author, while the inspection runs; outside one, on the day it was taken.

    The row stays. A unit that was released on it needs a new value instead, which takes the release back aloud.
    """
    result = result_of(conn, a)
    if result.taken_back is not None:
        raise Refusal("already_withdrawn", "this result was taken back already")
    if a.author != result.tester:
        words = f"only {result.tester}, who entered it, takes it back; enter a further value and say why"
        raise Refusal("not_your_role", words)
    if result.ended_ms is not None:
        raise Refusal("inspection_ended", "that inspection has ended; enter a further value and say why")
    if result.inspection is None and a.ground.day(a.happened_ms) != result.production_day:
        raise Refusal("inspection_ended", "that was on an earlier day; enter a further value and say why")
    if a.unit_state == "released":
        raise Refusal("already_released", "the unit was released on this result; enter a further value and say why")
    conn.execute(_TAKE_BACK, (a.id, a.body["result"]))
    mark_dirty(conn, result.production_day)
    inspections.resettle(conn, result.inspection)


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
