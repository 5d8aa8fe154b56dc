"""A unit as phones get it: one JSON object with what a person at the unit may act on."""

from typing import Any

from qc.domain.plant.plant import Plant
from qc.domain.unit.release import blockers, open_digest
from qc.domain.unit.retests import untold
from qc.domain.unit.unit_record import (
    DefectRecord,
    InspectionRecord,
    PassingRecord,
    PlaceRecord,
    TestRecord,
    UnitRecord,
)


def unit_view(record: UnitRecord, plant: Plant) -> dict[str, Any]:
    """Return the UnitView of the sync protocol. tests: the latest of each that stands; results: every result in
    order of coming into effect; release: None unless it stands.

    open_digest: what a sign-off of exactly this view names.
    """
    standing = {one.test: one for one in record.tests if one.taken_back_by is None}
    waiting = {one.id for one in untold(record.tests)}
    return {
        "chassis": record.chassis,
        "shop_number": record.shop_number,
        "sequence": record.sequence,
        "model": record.model,
        "options": list(record.options),
        **({"line": record.line} if record.line else {}),
        "state": record.state,
        "alarm": record.alarm,
        "last_number": record.last_number,
        "unplanned": record.is_unplanned,
        "place": _place(record.place),
        "passings": [_passing(one) for one in record.passings],
        "inspections": [_inspection(one) for one in record.inspections],
        "defects": [_defect(one) for one in record.defects],
        "tests": [_test(one) for one in standing.values()],
        "results": [_result(one, waiting) for one in record.tests],
        "blockers": [one.as_dict() for one in blockers(record, plant)] if record.state != "released" else [],
        "release": _release(record),
        "open_digest": open_digest(record),
    }


def _place(one: PlaceRecord | None) -> dict[str, Any] | None:
    return None if one is None else {"place": one.place, "by": one.by, "moved_ms": one.moved_ms}


def _passing(one: PassingRecord) -> dict[str, Any]:
    told = ("id", "station", "by", "passed_ms", "withdrawn")
    return {name: getattr(one, name) for name in told}


def _inspection(one: InspectionRecord) -> dict[str, Any]:
    return {
        "id": one.id,
        "point": one.point,
        "purpose": one.purpose,
        "presentation": one.presentation,
        "inspector": one.inspector,
        "light": one.light,
        "weather": one.weather,
        "begun_ms": one.begun_ms,
        "ended_ms": one.ended_ms,
        "looked": [look.zone for look in one.looks if look.looked],
        "not_looked": [{"zone": look.zone, "reason": look.reason} for look in one.looks if not look.looked],
    }


def _defect(one: DefectRecord) -> dict[str, Any]:
    return {
        "id": one.id,
        "inspection": one.inspection,
        "point": one.point,
        "zone": one.zone,
        "type": one.type,
        "severity": one.severity,
        **({"grade": one.grade} if one.grade else {}),
        **({"lot": one.lot} if one.lot else {}),
        "note": one.note,
        "mark": None if one.mark is None else list(one.mark),
        "found_ms": one.found_ms,
        "finder": one.finder,
        "state": one.state,
        "cycles": one.cycles,
        "said": one.said,
        "suspected": one.origin.suspected,
        "confirmed": one.origin.confirmed,
        "origin_state": one.origin.state,
        "photos": list(one.photos),
        "circles": {sha256: list(circle) for sha256, circle in one.circles.items()},
        "repaired_by": one.repaired_by,
        "changed_also_by": list(one.changed_also_by()),
        "number": one.number,
    }


def _test(one: TestRecord) -> dict[str, Any]:
    return {
        "test": one.test,
        "passed": one.passed,
        "value": one.value,
        "voided": one.voided_by is not None,
        "number": one.number,
    }


def _result(one: TestRecord, untold_ids: set[str]) -> dict[str, Any]:
    return {
        "id": one.id,
        "test": one.test,
        "inspection": one.inspection,
        "value": one.value,
        "beyond": one.beyond,
        "passed": one.passed,
        "voided": one.voided_by is not None,
        "again": one.again,
        "taken_back": one.taken_back_by is not None,
        "untold": one.id in untold_ids,
        "tester": one.tester,
        "tested_ms": one.tested_ms,
        "number": one.number,
    }


def _release(record: UnitRecord) -> dict[str, Any] | None:
    if record.state != "released" or not record.releases:
        return None
    last = record.releases[-1]
    return {"signed_by": last.signed_by, "released_ms": last.released_ms, "against": last.against}
