"""One unit's life: who looked, who tested, what was found, what was done, who released it and against what."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from qc.domain.calendar import ProductionCalendar
from qc.domain.plant import Plant, Test
from qc.domain.release import blockers
from qc.domain.unit_record import DefectRecord, Event, InspectionRecord, TestRecord, UnitRecord
from qc.reports.told import Teller
from qc.reports.wording import counted, listed
from qc.store.reads import KeptRelease, Reads


@dataclass(frozen=True, slots=True)
class UnitLook:
    """One inspection of the unit. purpose: "presentation", "relook", "containment"; presentation: its number.

    looked, total_zones: zones marked looked-at and zones of the model; not_looked: (zone name, reason in words).
    ended_ms None: not ended. clean_major, clean_all: of an ended first presentation, else None.
    """

    id: str
    point: str
    point_name: str
    purpose: str
    presentation: int
    inspector: str
    light: str
    weather: str
    begun_ms: int
    ended_ms: int | None
    looked: int
    total_zones: int
    not_looked: tuple[tuple[str, str], ...]
    clean_major: bool | None
    clean_all: bool | None


@dataclass(frozen=True, slots=True)
class DefectStep:
    """One step of a defect's life: when (device's claim and server's receipt), by whom, in words."""

    happened_ms: int
    received_ms: int
    author: str
    words: str
    number: int


@dataclass(frozen=True, slots=True)
class UnitDefect:
    """One defect with its whole life. origin: confirmed or suspected station, "" unknown; photos: SHA-256 each."""

    id: str
    point: str
    zone: str
    zone_name: str
    type: str
    type_name: str
    severity: str
    note: str
    state: str
    cycles: int
    finder: str
    found_ms: int
    suspected: str
    confirmed: str
    origin_state: str
    repaired_by: str
    rechecked_by: str
    photos: tuple[str, ...]
    steps: tuple[DefectStep, ...]


@dataclass(frozen=True, slots=True)
class UnitTest:
    """A test that the unit needs or had. result: "passed", "failed", "voided", "missing"; limits in words.

    value None: pass-or-fail, or missing. calibrated_until: as recorded, None not recorded.
    """

    test: str
    name: str
    point: str
    unit_of_measure: str
    limits: str
    conditions: str
    reference: str
    value: float | None
    result: str
    instrument: str
    calibrated_until: date | None
    tester: str
    tested_ms: int | None
    earlier: int


@dataclass(frozen=True, slots=True)
class BlockerLine:
    """Why the unit cannot be released now: code, words, and what it points to."""

    code: str
    words: str
    ref: str


@dataclass(frozen=True, slots=True)
class ReleaseLine:
    """Released by whom, when, against what; story_digest shows a later change. Never "safe"."""

    signed_by: str
    released_ms: int
    against: str
    story_digest: str


@dataclass(frozen=True, slots=True)
class UnitReport:
    """The unit's page. options: as planned; passes: (station, name, ms) in time order; story: every operation.

    summary: one sentence ("held: 2 majors open" or "released by QM1 on 2026-06-11 against …").
    """

    chassis: str
    shop_number: str
    sequence: int
    model: str
    model_name: str
    options: tuple[str, ...]
    planned_day: date | None
    state: str
    alarm: str
    passes: tuple[tuple[str, str, int], ...]
    looks: tuple[UnitLook, ...]
    defects: tuple[UnitDefect, ...]
    tests: tuple[UnitTest, ...]
    blockers: tuple[BlockerLine, ...]
    release: ReleaseLine | None
    earlier_releases: tuple[ReleaseLine, ...]
    story: tuple[DefectStep, ...]
    summary: str
    cautions: tuple[str, ...]


def unit_report(reads: Reads, plant: Plant, chassis: str) -> UnitReport:
    """Return one unit's page. Raises KeyError where the unit is not planned."""
    record = reads.unit_story(chassis)
    if record is None:
        raise KeyError(f"unit {chassis} is not planned here")
    events = reads.operations_of(chassis)
    teller = Teller(plant, record.model)
    stops = tuple(BlockerLine(one.code, one.what, one.ref) for one in blockers(record, plant))
    kept = [_release(one) for one in reads.releases_of(chassis)]
    now = kept[-1] if kept and record.state == "released" else None
    return UnitReport(
        record.chassis,
        record.shop_number,
        record.sequence,
        record.model,
        plant.models[record.model].name if record.model in plant.models else record.model,
        record.options,
        date.fromisoformat(record.planned_day),
        record.state,
        record.alarm,
        tuple((station, teller.place(station), ms) for station, ms in sorted(record.passes, key=lambda one: one[1])),
        tuple(_look(one, record, plant, teller) for one in record.inspections),
        tuple(_defect(one, events, teller) for one in record.defects),
        tuple(_test(one, record) for one in plant.tests_of(record.model)),
        stops,
        now,
        tuple(kept[:-1] if now else kept),
        tuple(_step(event, teller) for event in sorted(events, key=lambda one: (one.happened_ms, one.number))),
        _summary(record, stops, now, plant),
        _cautions(record, plant),
    )


def _release(kept: KeptRelease) -> ReleaseLine:
    return ReleaseLine(kept.signed_by, kept.released_ms, kept.against, kept.story_digest)


def _look(one: InspectionRecord, record: UnitRecord, plant: Plant, teller: Teller) -> UnitLook:
    skipped = tuple((teller.zone(z.zone), z.reason.replace("_", " ")) for z in one.looks if not z.looked)
    judged = one.presentation == 1 and one.ended_ms is not None
    standing = [d for d in record.defects if d.inspection == one.id and d.state != "withdrawn"]
    failed = any(t.inspection == one.id and not t.passed for t in record.tests)
    station = plant.stations.get(one.point)
    return UnitLook(
        one.id,
        one.point,
        station.name if station else one.point,
        one.purpose,
        one.presentation,
        one.inspector,
        one.light,
        one.weather or "",
        one.begun_ms,
        one.ended_ms,
        sum(z.looked for z in one.looks),
        len(plant.zones_of(record.model)),
        skipped,
        not failed and all(d.severity == "minor" for d in standing) if judged else None,
        not failed and not standing if judged else None,
    )


def _concerns(event: Event, defect: str) -> bool:
    op = event.operation
    return op.id == defect or op.body.get("defect") == defect or defect in op.body.get("defects", ())


def _defect(one: DefectRecord, events: Sequence[Event], teller: Teller) -> UnitDefect:
    known = teller.type(one.type)
    return UnitDefect(
        one.id,
        one.point,
        one.zone,
        teller.zone(one.zone),
        one.type,
        known.removeprefix(f"{one.type} "),
        one.severity,
        one.note,
        one.state,
        one.cycles,
        one.finder,
        one.found_ms,
        one.origin.suspected or "",
        one.origin.confirmed or "",
        one.origin.state,
        ", ".join(one.repairers()),
        one.rechecked_by or "",
        one.photos,
        tuple(_step(event, teller) for event in events if _concerns(event, one.id)),
    )


def _step(event: Event, teller: Teller) -> DefectStep:
    return DefectStep(event.happened_ms, event.received_ms, event.operation.author, teller.tell(event), event.number)


def _test(test: Test, record: UnitRecord) -> UnitTest:
    latest = record.latest_test(test.id)
    results = [one for one in record.tests if one.test == test.id]
    lower, upper = (latest.lower, latest.upper) if latest else (test.lower, test.upper)
    return UnitTest(
        test.id,
        test.name,
        test.point,
        test.unit,
        _limits(lower, upper, test.unit) if test.kind == "measure" else "pass or fail",
        test.conditions,
        test.reference,
        latest.value if latest else None,
        _result(latest),
        latest.instrument if latest else "",
        date.fromisoformat(latest.calibrated_until) if latest and latest.calibrated_until else None,
        latest.tester if latest else "",
        latest.tested_ms if latest else None,
        max(0, len(results) - 1),
    )


def _result(latest: TestRecord | None) -> str:
    if latest is None:
        return "missing"
    if latest.voided_by:
        return "voided"
    return "passed" if latest.passed else "failed"


def _limits(lower: float | None, upper: float | None, unit: str) -> str:
    if lower is None and upper is None:
        return "no limit set"
    if lower is None:
        return f"at most {upper:g} {unit}".strip()
    if upper is None:
        return f"at least {lower:g} {unit}".strip()
    return f"{lower:g} to {upper:g} {unit}".strip()


def _summary(record: UnitRecord, stops: Sequence[BlockerLine], release: ReleaseLine | None, plant: Plant) -> str:
    if release is not None:
        day = ProductionCalendar(plant).local(release.released_ms).date().isoformat()
        alarm = " Something arrived after the release: see the alarm." if record.alarm else ""
        return f"Released by {release.signed_by} on {day} against {release.against}.{alarm}"
    if not stops:
        return "Not released. Nothing blocks its release; a person signs it."
    order = list(dict.fromkeys(one.code for one in stops))
    counts = [f"{sum(one.code == code for one in stops)} {_BLOCKED.get(code, code)}" for code in order]
    return f"Not released; held by {counted(len(stops), 'thing')}: {listed(counts, 7)}."


_BLOCKED = {
    "identity": "identity",
    "zone": "zones not looked at",
    "test": "tests",
    "defect": "open defects",
    "recheck": "re-checks",
    "inspection_running": "inspections running",
    "concession": "concessions",
    "alarm": "alarm",
}


def _cautions(record: UnitRecord, plant: Plant) -> tuple[str, ...]:
    """Return the cautions of the zones with an open defect and of the tests that are due, the standing line last."""
    zones = [plant.zones.get((record.model, one.zone)) for one in record.defects if one.is_open]
    tests = [test for test in plant.tests_of(record.model) if _result(record.latest_test(test.id)) != "passed"]
    codes = dict.fromkeys([*(zone.caution for zone in zones if zone), *(test.caution for test in tests)])
    return (*(plant.cautions[code].short for code in codes if code in plant.cautions), plant.standing_line)
