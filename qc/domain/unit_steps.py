"""What each kind of operation does to a unit's record, one step a kind."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from qc.domain.alarms import arrival_alarm, joined_alarm
from qc.domain.judging import groups_of, has_passed, shared_minutes, voided_tests
from qc.domain.origins import after
from qc.domain.plant import FIELD, Plant
from qc.domain.retests import told_failures
from qc.domain.unit_record import (
    DefectRecord,
    Event,
    InspectionRecord,
    Look,
    ReleaseRecord,
    RepairRecord,
    TestRecord,
    UnitRecord,
    UnitState,
)


@dataclass(slots=True)
class Folding:
    """What is being put together: dictionaries by id in order of coming into effect.

    last: the latest event so far. The unit's state is kept only as far as released or not.
    """

    unit: UnitRecord
    last: Event
    passes: dict[str, int] = field(default_factory=dict)
    inspections: dict[str, InspectionRecord] = field(default_factory=dict)
    defects: dict[str, DefectRecord] = field(default_factory=dict)
    tests: dict[str, TestRecord] = field(default_factory=dict)
    releases: list[ReleaseRecord] = field(default_factory=list)
    since_alarm: set[str] = field(default_factory=set)  # inspections begun since the alarm


def _raise_alarm(state: Folding, words: str, *, stale: bool) -> None:
    if state.unit.state != "released":
        return
    unit_state: UnitState = "at_end_points" if stale else "released"  # where it stands the end of the fold tells
    state.unit = replace(state.unit, alarm=joined_alarm(state.unit.alarm, words), state=unit_state)
    state.since_alarm.clear()


def _passed(state: Folding, event: Event, body: Any) -> None:
    station = body["station"]
    state.passes[station] = min(state.passes.get(station, event.happened_ms), event.happened_ms)


def _begun(state: Folding, event: Event, body: Any) -> None:
    op = event.operation
    state.inspections[op.id] = InspectionRecord(
        op.id,
        body["point"],
        body["purpose"],
        op.author,
        op.device,
        body["light"],
        body.get("weather"),
        event.happened_ms,
        event.number,
    )
    if state.unit.alarm and event.plant.stations[body["point"]].kind == "inspection":
        state.since_alarm.add(op.id)


def _ended(state: Folding, event: Event, body: Any) -> None:
    one = state.inspections[body["inspection"]]
    state.inspections[one.id] = replace(one, ended_ms=event.happened_ms)


def _looked(state: Folding, event: Event, body: Any) -> None:
    _mark(state, body["inspection"], [Look(zone, True, "", "", event.number) for zone in body["zones"]])


def _not_looked(state: Folding, event: Event, body: Any) -> None:
    look = Look(body["zone"], False, body["reason"], body.get("note", ""), event.number)
    _mark(state, body["inspection"], [look])


def _mark(state: Folding, inspection: str, looks: Iterable[Look]) -> None:
    one = state.inspections[inspection]
    marked = {old.zone: old for old in one.looks}
    for look in looks:
        if look.zone not in marked or marked[look.zone].number <= look.number:
            marked.pop(look.zone, None)  # the newer mark stands last
            marked[look.zone] = look
    state.inspections[inspection] = replace(one, looks=tuple(marked.values()))


def _recorded(state: Folding, event: Event, body: Any) -> None:
    op = event.operation
    mark = body.get("mark")
    defect = DefectRecord(
        id=op.id,
        inspection=body.get("inspection"),
        point=body.get("point", FIELD),
        zone=body["zone"],
        type=body["type"],
        severity=body["severity"],
        note=body.get("note", ""),
        mark=None if mark is None else (mark[0], mark[1]),
        found_ms=event.happened_ms,
        finder=op.author,
        device=op.device,
        number=event.number,
        linked_to=body.get("linked_to"),
    )
    state.defects[op.id] = defect
    _tell_failures(state, defect, body.get("result"))
    _alarm_for(state, event, defect)


def _tell_failures(state: Folding, defect: DefectRecord, names: str | None) -> None:
    if defect.is_open and defect.point != FIELD:
        for id_ in told_failures(defect, names, state.tests.values()):
            state.tests[id_] = replace(state.tests[id_], told_by=defect.id)


def _alarm_for(state: Folding, event: Event, defect: DefectRecord) -> None:
    if words := arrival_alarm(event.operation.kind, defect.type, defect.zone, defect.severity, event.operation.author):
        _raise_alarm(state, words, stale=event.operation.kind != "field_finding" and defect.point != FIELD)


def _corrected(state: Folding, event: Event, body: Any) -> None:
    defect = state.defects[body["defect"]]
    newest = {name: max(n for f, n, _, _ in defect.changes if f == name) for name, _, _, _ in defect.changes}
    values = {name: value for name, value in body["changes"].items() if event.number > newest.get(name, 0)}
    if "mark" in values and values["mark"] is not None:
        values["mark"] = (values["mark"][0], values["mark"][1])
    told = tuple((name, event.number, event.operation.author, value) for name, value in body["changes"].items())
    changed = replace(defect, changes=defect.changes + told, **values)
    state.defects[defect.id] = changed
    if changed.type != defect.type and changed.repairs:
        last = changed.repairs[-1]
        _void(state, (changed.type,), event.plant, event.operation.id, last)
    if changed.type != defect.type:
        _tell_failures(state, changed, None)
    if changed.is_open and changed.severity == "critical" != defect.severity:
        _alarm_for(state, event, changed)


def _withdrawn(state: Folding, event: Event, body: Any) -> None:
    defect = state.defects[body["defect"]]
    state.defects[defect.id] = replace(
        defect, state="withdrawn", withdrawn_why=body["why"], duplicate_of=body.get("duplicate_of")
    )


def _photographed(state: Folding, event: Event, body: Any) -> None:
    defect = state.defects[body["defect"]]
    if body["sha256"] not in defect.photos:
        state.defects[defect.id] = replace(defect, photos=(*defect.photos, body["sha256"]))


def _photo_withdrawn(state: Folding, event: Event, body: Any) -> None:
    defect = state.defects[body["defect"]]
    left = tuple(sha256 for sha256 in defect.photos if sha256 != body["sha256"])
    state.defects[defect.id] = replace(defect, photos=left)


def _tested(state: Folding, event: Event, body: Any) -> None:
    op, test = event.operation, event.plant.tests[body["test"]]
    result = TestRecord(
        id=op.id,
        test=test.id,
        point=test.point,
        inspection=body.get("inspection"),
        value=body.get("value"),
        passed=has_passed(test, body),
        instrument=body["instrument"],
        calibrated_until=body.get("calibrated_until"),
        note=body.get("note", ""),
        tester=op.author,
        tested_ms=event.happened_ms,
        number=event.number,
        unit=test.unit,
        lower=test.lower,
        upper=test.upper,
        beyond=body.get("beyond", ""),
        again=body.get("again", ""),
        confirmed=body.get("confirmed", False),
        hazard=test.hazard,
        fails_into=test.defect_on_fail,
    )
    voided_by = _voiding_repair(state, event, result)
    state.tests[op.id] = result if voided_by is None else replace(result, voided_by=voided_by)
    if not result.passed:
        _told_already(state, state.tests[op.id])
        _raise_alarm(state, arrival_alarm(op.kind, test.id, "", "", op.author), stale=True)


def _told_already(state: Folding, result: TestRecord) -> None:
    """Tie a failure to the defect that tells it already: of its type and not settled yet."""
    for defect in state.defects.values():
        if defect.is_open and defect.point != FIELD and told_failures(defect, None, [result]):
            state.tests[result.id] = replace(result, told_by=defect.id)


def _test_taken_back(state: Folding, event: Event, body: Any) -> None:
    result = state.tests[body["result"]]
    state.tests[result.id] = replace(
        result,
        taken_back_by=event.operation.author,
        taken_back_why=body["reason"],
        taken_back_ms=event.happened_ms,
    )


def _voiding_repair(state: Folding, event: Event, result: TestRecord) -> str | None:
    """Return the first repair here already that was done after this late result was taken, None without one."""
    tied = set(event.plant.tests[result.test].voided_by)
    later = [
        repair
        for defect in state.defects.values()
        for repair in defect.repairs
        if repair.repaired_ms >= result.tested_ms and tied & groups_of((defect.type,), event.plant)
    ]
    return min(later, key=lambda one: one.number).id if later else None


def _repaired(state: Folding, event: Event, body: Any) -> None:
    op = event.operation
    minutes = shared_minutes(body["minutes"], len(body["defects"]))
    types, at_plant = [], []
    for id_, share in zip(body["defects"], minutes, strict=True):
        defect = state.defects[id_]
        if defect.state == "withdrawn":
            continue
        repair = RepairRecord(op.id, event.number, defect.cycles, op.author, body["method"], share, event.happened_ms)
        state.defects[id_] = replace(defect, state="repaired", rechecked_by=None, repairs=(*defect.repairs, repair))
        types.append(defect.type)
        at_plant += [defect.type] if defect.point != FIELD else []
    _void(state, types, event.plant, op.id, None)
    if at_plant:  # a dealer's repair of what the field found is expected after dispatch
        _raise_alarm(state, arrival_alarm(op.kind, ", ".join(at_plant), "", "", op.author), stale=True)


def _void(state: Folding, types: Iterable[str], plant: Plant, by: str, last: RepairRecord | None) -> None:
    """Void the results of the tests tied to the types' groups; with ``last`` only those not clearly after it."""
    tied = voided_tests(groups_of(types, plant), plant)
    for result in state.tests.values():
        later = last is not None and result.number > last.number and result.tested_ms > last.repaired_ms
        if result.test in tied and result.voided_by is None and not later:
            state.tests[result.id] = replace(result, voided_by=by)


def _accepted(state: Folding, event: Event, body: Any) -> None:
    defect = state.defects[body["defect"]]
    if defect.state == "repaired":
        state.defects[defect.id] = replace(defect, state="closed", rechecked_by=event.operation.author)


def _failed(state: Folding, event: Event, body: Any) -> None:
    defect = state.defects[body["defect"]]
    again = replace(defect, state="open", cycles=defect.cycles + 1, rechecked_by=None)
    state.defects[defect.id] = again
    _tell_failures(state, again, None)
    _alarm_for(state, event, again)


def _origin(state: Folding, event: Event, body: Any) -> None:
    defect = state.defects[body["defect"]]
    now = after(defect.origin, event.operation.kind, body.get("station", ""), event.happened_ms)
    state.defects[defect.id] = replace(defect, origin=now)


def _released(state: Folding, event: Event, body: Any) -> None:
    op = event.operation
    state.releases.append(
        ReleaseRecord(op.id, op.author, body["against"], body["open_digest"], event.happened_ms, event.number)
    )
    state.unit = replace(state.unit, state="released", alarm="")
    state.since_alarm.clear()


STEPS: dict[str, Callable[[Folding, Event, Any], None]] = {
    "station_passed": _passed,
    "inspection_begun": _begun,
    "inspection_ended": _ended,
    "zone_looked_at": _looked,
    "zone_not_looked_at": _not_looked,
    "defect_recorded": _recorded,
    "field_finding": _recorded,
    "defect_corrected": _corrected,
    "defect_withdrawn": _withdrawn,
    "photo_attached": _photographed,
    "photo_withdrawn": _photo_withdrawn,
    "test_recorded": _tested,
    "test_withdrawn": _test_taken_back,
    "repair_done": _repaired,
    "recheck_accepted": _accepted,
    "recheck_failed": _failed,
    "origin_suspected": _origin,
    "origin_confirmed": _origin,
    "origin_passed_on": _origin,
    "origin_disputed": _origin,
    "origin_settled": _origin,
    "unit_released": _released,
}
