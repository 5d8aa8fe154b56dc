"""The one writer of the derived tables: rows and dirty days, from what changed in a unit or in the line.

A row is a pure function of its record; one whose record changed and whose row did not is not written again.
"""

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from typing import Any, Protocol, TypeVar

import orjson

from qc.domain.line.line_record import Enrolled, Line, Machine, Member, Mute, Note, Revised
from qc.domain.unit.folding import Folding, K, Kept, V, settle, state_of
from qc.domain.unit.unit_record import DefectRecord, InspectionRecord, PhotoRecord, TestRecord
from qc.store.record.tables_kept import revisions_told

Row = tuple[Any, ...]


def _writing(table: str, key: str, stay: str, change: str = "") -> str:
    """Return the statement that enters a row, or changes the one that has its key.

    key, stay, change: the columns of its key, those that stay as they were and those that change, with blanks between;
    a row's values come in this order.
    """
    columns = f"{key} {stay} {change}".split()
    changed = ", ".join(f"{name} = excluded.{name}" for name in change.split())
    return (
        f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
        f" ON CONFLICT ({', '.join(key.split())}) DO {f'UPDATE SET {changed}' if changed else 'NOTHING'}"
    )


_UNIT = _writing(
    "unit",
    "chassis",
    "shop_number sequence model",
    "options build_sheet planned_day line state alarm released_ms released_by met_by last_number",
)
_PASS = _writing("station_pass", "unit station", "", "passed_ms production_day number")
_NO_PASS = "DELETE FROM station_pass WHERE unit = ? AND station = ?"
_INSPECTION = _writing(
    "inspection",
    "id",
    "unit point purpose inspector device light weather begun_ms number",
    "presentation ended_ms production_day shift clean_all clean_major",
)
_LOOK = _writing("zone_look", "inspection zone", "", "looked reason note number")
_DEFECT = _writing(
    "defect",
    "id",
    "unit model inspection point found_ms production_day shift finder device linked_to number received_ms",
    "first_presentation zone type severity grade lot note mark state cycles repair_minutes repaired_by rechecked_by"
    " withdrawn_why duplicate_of suspected confirmed origin_state origin_ms work_day work_day_basis changed_also_by",
)
_PHOTO = _writing("defect_photo", "defect sha256", "", "view number circle")
_NO_PHOTO = "DELETE FROM defect_photo WHERE defect = ? AND sha256 = ?"
_CHANGE = _writing("defect_change", "defect field number", "author value")
_REPAIR = _writing("defect_repair", "defect number", "repair cycle repairer method minutes repaired_ms")
_TEST = _writing(
    "test_result",
    "id",
    "unit test point inspection value passed instrument calibrated_until tester tested_ms production_day number"
    " beyond again",
    "voided_by taken_back",
)
_NOTE = _writing("change_note", "id", "station change what types from_day noted_by number")
_MUTE = _writing(
    "signal_mute",
    "id",
    "station type direction reason from_day until muted_by number",
    "ended_day ended_by",
)
_MUTES = """
SELECT id, station, type, direction, reason, from_day, until, muted_by, number, ended_day, ended_by
  FROM signal_mute
"""
_PERSON = _writing("person", "code", "", "name role stations ended secret passphrase secret_by secret_ms number also")
_PEOPLE = "SELECT code, name, role, stations, ended, secret, passphrase, secret_by, secret_ms, number, also FROM person"
_DEVICE = _writing("device", "code", "", "enrolled_ms enrolled_by revoked secret number")
_DEVICES = "SELECT code, enrolled_ms, enrolled_by, revoked, secret, number FROM device"
_MACHINE = _writing("machine", "code", "may in_name_of secret made_by made_ms", "ended number")
_MACHINES = "SELECT code, may, in_name_of, secret, made_by, made_ms, ended, number FROM machine"
_REVISED = _writing("plant_change", "id", "revision previous reason from_day revised_by at_console revised_ms number")
_DIRTY = "INSERT OR IGNORE INTO dirty_day (production_day) VALUES (?)"


def write_units(conn: sqlite3.Connection, states: Iterable[Folding]) -> None:
    """Write what changed in these units since each was last written, and mark the days that it changed."""
    rows: dict[str, list[Row]] = {}
    days: set[str] = set()
    for state in states:
        settle(state)
        for statement, changed in _rows_of(state, days):
            rows.setdefault(statement, []).extend(changed)
        state.begin_anew()
    for statement, changed in rows.items():
        _write(conn, statement, changed)
    mark_dirty(conn, days)


def _write(conn: sqlite3.Connection, statement: str, rows: list[Row]) -> None:
    if rows:  # most tables have none of most pushes, and asking for nothing costs as much as a row
        conn.executemany(statement, rows)


def _rows_of(state: Folding, days: set[str]) -> Iterator[tuple[str, list[Row]]]:
    unit = state.unit.chassis
    if state.is_replanned:
        days.update(one.production_day for one in state.inspections.values() if one.production_day)
    yield _UNIT, [_unit(state)]
    yield from _passes(state, days)
    yield _INSPECTION, _changed(state.inspections, lambda _, one: _inspection(unit, one), days)
    yield _LOOK, [row for now, before in _pairs(state.inspections) for row in _looks(now, before)]
    yield _DEFECT, _changed(state.defects, lambda _, one: _defect(unit, state.unit.model, one), days)
    yield _TEST, _changed(state.tests, lambda _, one: _test(unit, one), days)
    photos = [(key, state.photos[key]) for key in state.photos.before]
    yield _PHOTO, [(*key, one.view, one.number, _circle(one)) for key, one in photos if one is not None]
    yield _NO_PHOTO, [key for key, one in photos if one is None]
    for now, before in _pairs(state.defects):  # what is only ever added to
        yield _CHANGE, [_change(now.id, one) for one in now.changes[len(before.changes) if before else 0 :]]
        yield _REPAIR, [_repair(now.id, one) for one in now.repairs[len(before.repairs) if before else 0 :]]


def _pairs(kept: Kept[K, V]) -> Iterator[tuple[V, V | None]]:
    return ((kept[key], before) for key, before in kept.before.items())


class _Dated(Protocol):
    """What counts on a production day (ISO), None while it has none."""

    @property
    def production_day(self) -> str | None: ...


D = TypeVar("D", bound=_Dated)


def _changed(kept: Kept[K, D], row_of: Callable[[K, D], Row], days: set[str]) -> list[Row]:
    """Return the rows that changed; the production days under which they counted or count now are added to days."""
    rows = []
    for key, before in kept.before.items():
        now = kept[key]
        row = row_of(key, now)
        if before is None or row_of(key, before) != row:
            rows.append(row)
            days.update(one.production_day for one in (before, now) if one and one.production_day)
    return rows


def _unit(state: Folding) -> Row:
    unit = state.unit
    assert state.last is not None
    met_by = unit.met.by if unit.is_unplanned and unit.met else None
    released = (state.releases[-1].released_ms, state.releases[-1].signed_by) if state.releases else (None, None)
    what = (unit.shop_number, unit.sequence, unit.model, _json(unit.options), unit.build_sheet, unit.planned_day)
    return (unit.chassis, *what, unit.line, state_of(state), unit.alarm, *released, met_by, state.last.since)


def _passes(state: Folding, days: set[str]) -> Iterator[tuple[str, list[Row]]]:
    """Yield the rows of first passes. One that was taken back moves the day of the unit's work on whatever was seen."""
    unit, now = state.unit.chassis, [(station, state.passes[station]) for station in state.passes.before]
    gone = [(unit, station) for station, one in now if one is None]
    if gone:
        days.update(one.production_day for one in state.inspections.values() if one.production_day)
    days.update(one.production_day for pair in _pairs(state.passes) for one in pair if one is not None)
    yield _PASS, [(unit, station, *one) for station, one in now if one is not None]
    yield _NO_PASS, gone


def _inspection(unit: str, one: InspectionRecord) -> Row:
    begun = (one.point, one.purpose, one.inspector, one.device, one.light, one.weather, one.begun_ms, one.number)
    ended = (one.ended_ms, one.production_day, one.shift, one.clean_all, one.clean_major)
    return (one.id, unit, *begun, one.presentation, *ended)


def _looks(now: InspectionRecord, before: InspectionRecord | None) -> list[Row]:
    known = {id(look) for look in before.looks} if before else ()  # a look that was not marked again is the same one
    new = [look for look in now.looks if id(look) not in known]
    return [(now.id, look.zone, look.looked, look.reason, look.note, look.number) for look in new]


def _defect(unit: str, model: str, one: DefectRecord) -> Row:
    found = (one.inspection, one.point, one.found_ms, one.production_day, one.shift, one.finder, one.device)
    mark = None if one.mark is None else _json(one.mark)
    shown = (one.zone, one.type, one.severity, one.grade, one.lot, one.note, mark)
    minutes = sum(repair.minutes for repair in one.repairs)
    repaired = (one.cycles, minutes, one.repaired_by, one.rechecked_by, one.withdrawn_why, one.duplicate_of)
    origin = (one.origin.suspected, one.origin.confirmed, one.origin.state, one.origin.at_ms)
    work = (one.work_day, one.work_day_basis, _json(one.changed_also_by()) if one.changes else "[]")
    came = (one.linked_to, one.number, one.received_ms, one.first_presentation)
    return (one.id, unit, model, *found, *came, *shown, one.state, *repaired, *origin, *work)


def _circle(one: PhotoRecord) -> str | None:
    return None if one.circle is None else _json(one.circle)


def _change(defect: str, one: tuple[str, int, str, Any]) -> Row:
    name, number, author, value = one
    return (defect, name, number, author, _json(value))


def _repair(defect: str, one: Any) -> Row:
    return (defect, one.number, one.id, one.cycle, one.repairer, one.method, one.minutes, one.repaired_ms)


def _test(unit: str, one: TestRecord) -> Row:
    what = (one.test, one.point, one.inspection, one.value, one.passed, one.instrument, one.calibrated_until)
    when = (one.tester, one.tested_ms, one.production_day, one.number)
    return (one.id, unit, *what, *when, one.beyond, one.again, one.voided_by, one.taken_back)


def _json(value: Any) -> str:
    return orjson.dumps(value).decode()


def write_line(conn: sqlite3.Connection, line: Line) -> None:
    """Write the notes, mutes, people, phones, machines and revisions that changed since the line was last written."""
    _write(conn, _NOTE, [_note(one) for one, _ in _pairs(line.notes)])
    _write(conn, _MUTE, [_mute(one) for one, _ in _pairs(line.mutes)])
    _write(conn, _PERSON, [_member(one) for one, _ in _pairs(line.people)])
    _write(conn, _DEVICE, [_phone(one) for one, _ in _pairs(line.devices)])
    _write(conn, _MACHINE, [_machine(one) for one, _ in _pairs(line.machines)])
    _write(conn, _REVISED, [_revised(one) for one, _ in _pairs(line.revisions)])
    line.begin_anew()


def read_line(conn: sqlite3.Connection) -> Line:
    """Return the line as its tables keep it, without the notes, for which no rule asks."""
    line = Line()
    for mute in _named(conn.execute(_MUTES)):
        line.mutes[mute["id"]] = Mute(**mute)
    for row in _named(conn.execute(_PEOPLE)):
        flags = {name: bool(row[name]) for name in ("ended", "passphrase")}
        lists = {name: tuple(orjson.loads(row[name])) for name in ("stations", "also")}
        line.people[row["code"]] = Member(**{**row, **flags, **lists})
    for row in _named(conn.execute(_DEVICES)):
        line.devices[row["code"]] = Enrolled(**{**row, "revoked": bool(row["revoked"])})
    for row in _named(conn.execute(_MACHINES)):
        may = tuple(orjson.loads(row["may"]))
        line.machines[row["code"]] = Machine(**{**row, "may": may, "ended": bool(row["ended"])})
    for revised in revisions_told(conn):
        line.revisions[revised.id] = revised
    line.begin_anew()
    return line


def _named(rows: sqlite3.Cursor) -> Iterator[dict[str, Any]]:
    """Yield rows by the names of their columns, whatever the connection makes of a row."""
    names = [name for name, *_ in rows.description]
    return (dict(zip(names, row, strict=True)) for row in rows)


def _note(one: Note) -> Row:
    what = (one.station, one.change, one.what, _json(one.types), one.from_day)
    return (one.id, *what, one.noted_by, one.number)


def _mute(one: Mute) -> Row:
    what = (one.station, one.type, one.direction, one.reason, one.from_day, one.until)
    return (one.id, *what, one.muted_by, one.number, one.ended_day, one.ended_by)


def _member(one: Member) -> Row:
    secret = (one.secret, int(one.passphrase), one.secret_by, one.secret_ms)
    return (one.code, one.name, one.role, _json(one.stations), int(one.ended), *secret, one.number, _json(one.also))


def _phone(one: Enrolled) -> Row:
    return (one.code, one.enrolled_ms, one.enrolled_by, int(one.revoked), one.secret, one.number)


def _machine(one: Machine) -> Row:
    return (one.code, _json(one.may), one.in_name_of, one.secret, one.made_by, one.made_ms, int(one.ended), one.number)


def _revised(one: Revised) -> Row:
    what = (one.revision, one.previous, one.reason, one.from_day)
    return (one.id, *what, one.revised_by, one.at_console, one.revised_ms, one.number)


def mark_dirty(conn: sqlite3.Connection, days: Iterable[str]) -> None:
    """Mark found production days (ISO) whose counts changed."""
    _write(conn, _DIRTY, [(day,) for day in sorted(days)])
