"""What each kind of operation does to a unit's record, one step a kind."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from qc.domain.plant.chassis import numbers_of
from qc.domain.plant.judging import groups_of, has_passed, shared_minutes, voided_tests
from qc.domain.plant.naming import Names
from qc.domain.plant.plant import FIELD, Plant
from qc.domain.unit.alarms import arrival_alarm, joined_alarm
from qc.domain.unit.folding import Folding
from qc.domain.unit.origins import after, work_station
from qc.domain.unit.retests import told_failures
from qc.domain.unit.unit_record import (
    CancelRecord,
    DefectRecord,
    Event,
    InspectionRecord,
    Look,
    MetRecord,
    PassingRecord,
    PassRecord,
    PhotoRecord,
    PlaceRecord,
    ReleaseRecord,
    RepairRecord,
    TestRecord,
    UnitState,
    altered,
    entered,
)


def planned(state: Folding, event: Event, body: Any) -> None:
    """Enter a new unit; one that was met before keeps what was recorded on it and has its plan from now on."""
    known = state.unit
    state.unit = replace(
        known,
        chassis=event.operation.unit or "",
        shop_number=body["shop_number"],
        sequence=body["sequence"],
        model=body["model"],
        options=tuple(body.get("options", ())),
        build_sheet=body.get("build_sheet"),
        planned_day=body["planned_day"],
        line=body.get("line", known.line),
        met=known.met and known.met._replace(planned=True),
    )
    state.is_replanned = known.met is not None


def met(state: Folding, event: Event, body: Any) -> None:
    """Enter a unit that no plan holds yet; of one that is on record nothing changes."""
    if state.is_planned:
        return
    op, (day, _) = event.operation, event.day_and_shift()
    sequence, shop = numbers_of(event.plant, op.unit or "", body["model"])
    state.unit = replace(
        state.unit,
        chassis=op.unit or "",
        shop_number=shop,
        sequence=sequence,
        model=body["model"],
        planned_day=day,
        line=body.get("line", ""),
        met=MetRecord(op.author, event.happened_ms),
    )


def plan_changed(state: Folding, event: Event, body: Any) -> None:
    """Take over what the planner changed."""
    unit, changes = state.unit, body["changes"]
    state.unit = replace(
        unit,
        planned_day=changes.get("planned_day", unit.planned_day),
        options=tuple(changes.get("options", unit.options)),
        build_sheet=changes.get("build_sheet", unit.build_sheet),
        line=changes.get("line", unit.line),
    )
    state.is_replanned = True


def cancelled(state: Folding, event: Event, body: Any) -> None:
    """Mark the unit as cancelled; what was recorded on it stays."""
    state.unit = replace(state.unit, cancelled=CancelRecord(event.operation.author, body["reason"], event.happened_ms))


def taken_up(state: Folding, event: Event, body: Any) -> None:
    """Take a cancelled unit up again: it stands where what was recorded on it leaves it."""
    state.unit = replace(state.unit, cancelled=None)


def _raise_alarm(state: Folding, words: str, *, stale: bool) -> None:
    if state.unit.state != "released":
        return
    unit_state: UnitState = "at_end_points" if stale else "released"  # where it stands the end of the fold tells
    state.unit = replace(state.unit, alarm=joined_alarm(state.unit.alarm, words), state=unit_state)
    state.since_alarm.clear()


def station_passed(state: Folding, event: Event, body: Any) -> None:
    """Note the first pass of a station; defects made there are dated by it from now on."""
    op, station = event.operation, body["station"]
    day, _ = event.day_and_shift(station)
    state.passings[op.id] = PassingRecord(op.id, station, op.author, event.happened_ms, day, event.number)
    _first_pass(state, event, station)


def moved(state: Folding, event: Event, body: Any) -> None:
    """Note where the unit stands: of several tellings the one that happened last, whatever arrived last."""
    before = state.unit.place
    if before is None or (before.moved_ms, before.number) < (event.happened_ms, event.number):
        place = PlaceRecord(body["place"].strip(), event.operation.author, event.happened_ms, event.number)
        state.unit = replace(state.unit, place=place)


def passing_withdrawn(state: Folding, event: Event, body: Any) -> None:
    """Take a passing back as a slip: the first of those that stand counts, lead times where none does."""
    one = state.passings[body["passing"]]
    state.passings[one.id] = one._replace(withdrawn=True)
    _first_pass(state, event, one.station)


def _first_pass(state: Folding, event: Event, station: str) -> None:
    """Bring up to date when a station was first passed, and the days of the work that rest on it."""
    told = [one for one in state.passings.values() if one.station == station and not one.withdrawn]
    first = min(told, key=lambda one: (one.passed_ms, one.number), default=None)
    now = None if first is None else PassRecord(first.passed_ms, first.production_day, first.number)
    if now == state.passes.get(station):
        return
    state.passes[station] = now
    for defect in [one for one in state.defects.values() if one.origin.charged == station]:
        if now is None:
            day, basis = _work_day(state, event, defect, work_station(defect.origin, event.plant))
        else:
            day, basis = now.production_day, "scan"
        state.defects[defect.id] = altered(defect, work_day=day, work_day_basis=basis)


def inspection_begun(state: Folding, event: Event, body: Any) -> None:
    """Enter an inspection."""
    op = event.operation
    state.inspections[op.id] = entered(
        InspectionRecord,
        id=op.id,
        point=body["point"],
        purpose=body["purpose"],
        inspector=op.author,
        device=op.device,
        light=body["light"],
        weather=body.get("weather"),
        begun_ms=event.happened_ms,
        number=event.number,
    )
    if state.unit.alarm and event.plant.is_final_inspection(body["point"]):
        state.since_alarm.add(op.id)


def inspection_ended(state: Folding, event: Event, body: Any) -> None:
    """End an inspection: from now on it has a day and is clean or not."""
    one = state.inspections[body["inspection"]]
    day, shift = event.day_and_shift(one.point)
    state.inspections[one.id] = altered(one, ended_ms=event.happened_ms, production_day=day, shift=shift)


def zones_looked_at(state: Folding, event: Event, body: Any) -> None:
    """Mark zones as looked at, clean ones included."""
    _mark(state, body["inspection"], [Look(zone, True, "", "", event.number) for zone in body["zones"]])


def zone_not_looked_at(state: Folding, event: Event, body: Any) -> None:
    """Mark a zone as not looked at, and why."""
    look = Look(body["zone"], False, body["reason"], body.get("note", ""), event.number)
    _mark(state, body["inspection"], [look])


def _mark(state: Folding, inspection: str, looks: Iterable[Look]) -> None:
    one = state.inspections[inspection]
    marked = {old.zone: old for old in one.looks}
    for look in looks:
        if look.zone not in marked or marked[look.zone].number <= look.number:
            marked.pop(look.zone, None)  # the newer mark stands last
            marked[look.zone] = look
    state.inspections[inspection] = altered(one, looks=tuple(marked.values()))


def defect_recorded(state: Folding, event: Event, body: Any) -> None:
    """Enter a defect found at the plant, or after dispatch: that one counts on the day that its finder names."""
    op = event.operation
    mark = body.get("mark")
    point = body.get("point", FIELD)
    day, shift = (body["found_day"], "") if op.kind == "field_finding" else event.day_and_shift(point)
    defect = entered(
        DefectRecord,
        id=op.id,
        inspection=body.get("inspection"),
        point=point,
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
        production_day=day,
        shift=shift,
        received_ms=event.received_ms,
        grade=body.get("grade", ""),
        lot=body.get("lot", ""),
    )
    state.defects[op.id] = defect
    _tell_failures(state, defect, body.get("result"))
    _alarm_for(state, event, defect)


def _tell_failures(state: Folding, defect: DefectRecord, names: str | None) -> None:
    if defect.is_open and defect.point != FIELD:
        for id_ in told_failures(defect, names, state.tests.values()):
            state.tests[id_] = altered(state.tests[id_], told_by=defect.id)


def _alarm_for(state: Folding, event: Event, defect: DefectRecord) -> None:
    if state.unit.state != "released":
        return
    names = Names(event.plant, event.rules)
    what, zone = names.flaw(defect.type, defect.grade), names.zone(state.unit.model, defect.zone)
    if words := arrival_alarm(event.operation.kind, what, zone, defect.severity, event.operation.author):
        _raise_alarm(state, words, stale=event.operation.kind != "field_finding" and defect.point != FIELD)


def defect_corrected(state: Folding, event: Event, body: Any) -> None:
    """Change fields of a defect; of two changes to one field the one with the higher number shows."""
    defect = state.defects[body["defect"]]
    newest = {name: max(n for f, n, _, _ in defect.changes if f == name) for name, _, _, _ in defect.changes}
    values = {name: value for name, value in body["changes"].items() if event.number > newest.get(name, 0)}
    if "mark" in values and values["mark"] is not None:
        values["mark"] = (values["mark"][0], values["mark"][1])
    if "lot" in values:
        values["lot"] = values["lot"] or ""
    if "severity" in values and "grade" not in body["changes"]:
        values["grade"] = ""  # which of the plant's own it was says no more what it is
    told = tuple((name, event.number, event.operation.author, value) for name, value in body["changes"].items())
    changed = altered(defect, changes=defect.changes + told, **values)
    state.defects[defect.id] = changed
    if changed.type != defect.type and changed.repairs:
        last = changed.repairs[-1]
        _void(state, (changed.type,), event.plant, event.operation.id, last)
    if changed.type != defect.type:
        _tell_failures(state, changed, None)
    if changed.is_open and changed.severity == "critical" != defect.severity:
        _alarm_for(state, event, changed)


def defect_withdrawn(state: Folding, event: Event, body: Any) -> None:
    """Withdraw a defect that is none, or that another record already tells."""
    defect = state.defects[body["defect"]]
    state.defects[defect.id] = altered(
        defect, state="withdrawn", withdrawn_why=body["why"], duplicate_of=body.get("duplicate_of")
    )


def photo_attached(state: Folding, event: Event, body: Any) -> None:
    """Tie a photo, by the hash of its bytes, to a defect; the bytes come on their own way.

    Of one that is tied already it says anew where the flaw is circled, None nowhere.
    """
    defect, sha256 = state.defects[body["defect"]], body["sha256"]
    is_new = sha256 not in defect.photos
    if not is_new and "circle" not in body:
        return
    circle = tuple(body["circle"]) if body.get("circle") else None
    before = PhotoRecord(body.get("view"), event.number) if is_new else state.photos[defect.id, sha256]
    assert before is not None, "a photo that is named by its defect"
    photos = (*defect.photos, sha256) if is_new else defect.photos
    others = {name: one for name, one in defect.circles.items() if name != sha256}
    state.defects[defect.id] = altered(defect, photos=photos, circles=others | {sha256: circle} if circle else others)
    state.photos[defect.id, sha256] = before._replace(circle=circle)


def photo_withdrawn(state: Folding, event: Event, body: Any) -> None:
    """Take a photo away from a defect, such as one that could not be opened. The record keeps that there was one."""
    defect, sha256 = state.defects[body["defect"]], body["sha256"]
    if sha256 in defect.photos:
        state.defects[defect.id] = altered(
            defect,
            photos=tuple(one for one in defect.photos if one != sha256),
            circles={name: one for name, one in defect.circles.items() if name != sha256},
        )
        state.photos[defect.id, sha256] = None


def test_recorded(state: Folding, event: Event, body: Any) -> None:
    """Enter a result. One that was taken before a repair that is already here arrives voided."""
    op, test = event.operation, event.plant.tests[body["test"]]
    result = entered(
        TestRecord,
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
        production_day=event.day_and_shift(test.point)[0],
    )
    voided_by = _voiding_repair(state, event, result)
    state.tests[op.id] = result if voided_by is None else altered(result, voided_by=voided_by)
    if not result.passed:
        _told_already(state, state.tests[op.id])
        _raise_alarm(
            state, arrival_alarm(op.kind, Names(event.plant, event.rules).test(test.id), "", "", op.author), stale=True
        )


def _told_already(state: Folding, result: TestRecord) -> None:
    """Tie a failure to the defect that tells it already: of its type and not settled yet."""
    for defect in state.defects.values():
        if defect.is_open and defect.point != FIELD and told_failures(defect, None, [result]):
            state.tests[result.id] = altered(result, told_by=defect.id)


def test_withdrawn(state: Folding, event: Event, body: Any) -> None:
    """Take a result back as a slip; the row stays, and so does what its failure asks for."""
    op, result = event.operation, state.tests[body["result"]]
    state.tests[result.id] = altered(
        result,
        taken_back=op.id,
        taken_back_by=op.author,
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


def repair_done(state: Folding, event: Event, body: Any) -> None:
    """Note a repair of one or several defects and void the tests tied to their groups; minutes are shared evenly."""
    op = event.operation
    minutes = shared_minutes(body["minutes"], len(body["defects"]))
    types, at_plant = [], []
    for id_, share in zip(body["defects"], minutes, strict=True):
        defect = state.defects[id_]
        if defect.state == "withdrawn":
            continue
        repair = RepairRecord(op.id, event.number, defect.cycles, op.author, body["method"], share, event.happened_ms)
        repairs, said = (*defect.repairs, repair), body.get("note") or ""
        state.defects[id_] = altered(defect, state="repaired", rechecked_by=None, repairs=repairs, said=said)
        types.append(defect.type)
        at_plant += [defect.type] if defect.point != FIELD else []
    _void(state, types, event.plant, op.id, None)
    if at_plant:  # a dealer's repair of what the field found is expected after dispatch
        what = ", ".join(Names(event.plant, event.rules).type(code) for code in at_plant)
        _raise_alarm(state, arrival_alarm(op.kind, what, "", "", op.author), stale=True)


def _void(state: Folding, types: Iterable[str], plant: Plant, by: str, last: RepairRecord | None) -> None:
    """Void the results of the tests tied to the types' groups; with ``last`` only those not clearly after it."""
    tied = voided_tests(groups_of(types, plant), plant)
    for result in state.tests.values():
        later = last is not None and result.number > last.number and result.tested_ms > last.repaired_ms
        if result.test in tied and result.voided_by is None and not later:
            state.tests[result.id] = altered(result, voided_by=by)


def recheck_accepted(state: Folding, event: Event, body: Any) -> None:
    """Close a repaired defect; a second acceptance changes nothing."""
    defect = state.defects[body["defect"]]
    if defect.state == "repaired":
        state.defects[defect.id] = altered(defect, state="closed", rechecked_by=event.operation.author)


def recheck_failed(state: Folding, event: Event, body: Any) -> None:
    """Open a repaired or closed defect again: the same defect, one more cycle."""
    defect = state.defects[body["defect"]]
    again = altered(defect, state="open", cycles=defect.cycles + 1, rechecked_by=None, said=body.get("reason") or "")
    state.defects[defect.id] = again
    _tell_failures(state, again, None)
    _alarm_for(state, event, again)


def origin_spoken(state: Folding, event: Event, body: Any) -> None:
    """Take a word on where a defect was made, and date the work by it."""
    defect = state.defects[body["defect"]]
    now = after(defect.origin, event.operation.kind, body.get("station", ""), event.happened_ms)
    day, basis = _work_day(state, event, defect, work_station(now, event.plant))
    state.defects[defect.id] = altered(defect, origin=now, work_day=day, work_day_basis=basis)


def _work_day(state: Folding, event: Event, defect: DefectRecord, station: str | None) -> tuple[str | None, str]:
    """Return the day the work was done at the origin and how it is known: by scan, by lead time, or not at all."""
    if station is None:
        return None, ""
    scan = state.passes.get(station)
    if scan is not None:
        return scan.production_day, "scan"
    return event.plant_rules.work_day(defect.production_day, station), "lead"


def unit_released(state: Folding, event: Event, body: Any) -> None:
    """Release the unit."""
    op = event.operation
    state.releases.append(
        ReleaseRecord(op.id, op.author, body["against"], body["open_digest"], event.happened_ms, event.number)
    )
    state.unit = replace(state.unit, state="released", alarm="")
    state.since_alarm.clear()
