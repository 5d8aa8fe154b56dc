"""The release record: a frozen copy of the unit's whole story as JSON, with a digest that shows a later change."""

import hashlib
from collections.abc import Iterable
from dataclasses import fields
from typing import Any

import orjson

from qc.domain.plant.plant import Plant
from qc.domain.unit.origins import Origin
from qc.domain.unit.unit_record import DefectRecord, Event, InspectionRecord, RepairRecord, TestRecord, UnitRecord

FORMAT = 2  # of the story; a later format leaves earlier records as they are. 2: what stands beside a failed test
# What the records hold for the counts and the tables alone, worked out from the plant's calendar, and the words of the
# last repair or re-check (said) and where a flaw is circled, which only who works on the defect next is shown: earlier
# releases hold none of it.
_COUNTED = frozenset(
    (
        *("production_day", "shift", "clean_all", "clean_major", "first_presentation", "work_day", "work_day_basis"),
        *("received_ms", "taken_back", "said", "circles"),
    )
)

_TOLD: dict[type[Any], tuple[str, ...]] = {
    kind: tuple(field.name for field in fields(kind) if field.name not in _COUNTED)
    for kind in (InspectionRecord, TestRecord, DefectRecord, RepairRecord, Origin)
}


def story(record: UnitRecord, plant: Plant, sign_off: Event, events: Iterable[Event], chain: dict[str, Any]) -> bytes:
    """Return the story of a unit at its release as JSON, keys in order.

    chain: size and head of the journal just before the sign-off. Holds the unit, what was looked at by whom in
    which light, each test with value, limits and instrument, each defect to its end, people by code, when each
    device says it happened and when the server had it.
    """
    op = sign_off.operation
    told = {
        "format": FORMAT,
        "unit": _unit(record),
        "plant_revision": plant.revision,
        "demo_limits_not_for_use": plant.demo,
        "released": {
            "by": op.author,
            "against": op.body["against"],
            "open_digest": op.body["open_digest"],
            "seen_through": op.seen_through,
            "device": op.device,
            "device_ms": op.wall_ms,
            "released_ms": sign_off.happened_ms,
            "received_ms": sign_off.received_ms,
            "operation": op.id,
            "number": sign_off.number,
        },
        "chain": chain,
        "stations_passed": [{"station": station, "passed_ms": ms} for station, ms in record.passes],
        "inspections": [_inspection(one) for one in record.inspections],
        "tests": [_shallow(one) for one in record.tests],
        "nonconformities": [_defect(one) for one in record.defects],
        "operations": [_operation(event) for event in events],
    }
    return orjson.dumps(told, option=orjson.OPT_SORT_KEYS)


def digest_of(text: bytes) -> str:
    """Return the SHA-256 (hex) of a story's bytes."""
    return hashlib.sha256(text).hexdigest()


def _unit(record: UnitRecord) -> dict[str, Any]:
    names = ("chassis", "shop_number", "sequence", "model", "options", "build_sheet", "planned_day")
    told = {name: getattr(record, name) for name in names}
    return {**told, "line": record.line} if record.line else told  # releases of before it could be said hold none


def _inspection(one: InspectionRecord) -> dict[str, Any]:
    told = _shallow(one)
    told["looked_at"] = sorted(look.zone for look in one.looks if look.looked)
    told["not_looked_at"] = [
        {"zone": look.zone, "reason": look.reason, "note": look.note} for look in one.looks if not look.looked
    ]
    del told["looks"]
    return told


def _defect(one: DefectRecord) -> dict[str, Any]:
    told = _shallow(one)
    told["origin"], told["repairs"] = _shallow(one.origin), [_shallow(repair) for repair in one.repairs]
    for name in ("grade", "lot"):  # releases of before these could be said hold none
        if not told[name]:
            del told[name]
    return told


def _shallow(one: InspectionRecord | TestRecord | DefectRecord | RepairRecord | Origin) -> dict[str, Any]:
    """Return a record's fields as they are: `asdict` would copy each of hundreds of looks, to be dropped again."""
    return {name: getattr(one, name) for name in _TOLD[type(one)]}


def _operation(event: Event) -> dict[str, Any]:
    op = event.operation
    return {
        "number": event.number,
        "id": op.id,
        "kind": op.kind,
        "by": op.author,
        "device": op.device,
        "device_ms": op.wall_ms,
        "happened_ms": event.happened_ms,
        "received_ms": event.received_ms,
        "clock_suspect": event.clock_suspect,
        "verdict": event.verdict,
    }
