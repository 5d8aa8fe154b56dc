"""The parts of a unit's page: each inspection, defect, test and step, as the record tells it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from qc.domain.line.machines import machine_words
from qc.domain.plant.naming import SaidNames
from qc.domain.plant.plant import Plant, Test, is_asked
from qc.domain.unit.release import Blocker
from qc.domain.unit.unit_record import Circle, DefectRecord, Event, InspectionRecord, TestRecord, UnitRecord
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import say, told
from qc.reports.units.operation_words import PURPOSES, OperationWords, is_readable, said_reading
from qc.store.reading.reads import KeptRelease
from qc.store.record.events import UnreadEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitLook:
    """One inspection of the unit. purpose: in words; presentation: its number where it is one.

    looked, total_zones: zones marked looked-at and zones of the model, None where none was to be looked at and nobody
    marked one: at a test bay, or at a further presentation, for which the first one stands; not_looked: (zone name,
    reason in words).
    ended_ms None: not ended. clean_major, clean_all: of an ended first presentation, else None.
    """

    id: str
    point: str
    point_name: str
    purpose: str
    is_presentation: bool
    presentation: int
    inspector: str
    light: str
    weather: str
    begun_ms: int
    ended_ms: int | None
    looked: int
    total_zones: int | None
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


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitDefect:
    """One defect with its whole life. origin: confirmed or suspected station, "" unknown.

    photos: by SHA-256 where on it the flaw is circled, None nowhere. dated: how the day of the work there is known,
    "scan" told at the station, "lead" reckoned by lead time, "" not at all.
    """

    id: str
    point: str
    zone: str
    zone_name: str
    type: str
    type_name: str
    severity: str
    grade: str
    lot: str
    note: str
    state: str
    cycles: int
    finder: str
    found_ms: int
    suspected: str
    confirmed: str
    origin_state: str
    dated: str
    repaired_by: str
    rechecked_by: str
    photos: Mapping[str, Circle | None]
    steps: tuple[DefectStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitTest:
    """A test that the unit needs or had. result: "passed", "failed", "voided", "missing"; limits in words.

    reading: the value as entered (">200"), "" for pass-or-fail or missing. calibrated_until: as recorded, None not
    recorded. again: why it was done again, "" where it was not. before: each earlier result in words, oldest first.
    only_with: the options of which the unit has none and that it is asked of, "" where it is asked of this one.
    """

    test: str
    name: str
    point: str
    unit_of_measure: str
    limits: str
    conditions: str
    reference: str
    reading: str
    result: str
    instrument: str
    calibrated_until: date | None
    tester: str
    tested_ms: int | None
    again: str
    before: tuple[str, ...]
    only_with: str


@dataclass(frozen=True, slots=True)
class BlockerLine:
    """Why the unit cannot be released now: code, what it says in words, and the part of the page that it points to.

    to: "d-…" a defect, "t-…" a test, "view-…" a drawing, "alarm", "" nothing. severity, grade: of the defect, "" of
    anything else.
    """

    code: str
    words: str
    to: str
    severity: str = ""
    grade: str = ""


def blocker_line(one: Blocker, record: UnitRecord, plant: Plant, in_words: OperationWords) -> BlockerLine:
    """Return what stands in the way with its side and name in words, no code of a zone or type."""
    defect = next((each for each in record.defects if each.id == one.ref), None)
    zone = plant.zones.get((record.model, defect.zone if defect else one.ref))
    at = f"{plant.views[zone.view].name}, {zone.name}" if zone and zone.view in plant.views else ""
    if defect is not None:
        words = f"{in_words.type_name(defect.type)}. {at or in_words.zone(defect.zone)}: {told(one.why)}"
        return BlockerLine(one.code, words, f"d-{defect.id}", defect.severity, defect.grade)
    if zone is not None and one.why:
        return BlockerLine(one.code, f"{at}: {told(one.why)}", f"view-{zone.view}")
    if one.code == "alarm":
        return BlockerLine(one.code, say("The alarm above: nobody has looked at the unit since"), "alarm")
    return BlockerLine(one.code, told(one.what), f"t-{one.ref}" if one.code == "test" else "")


@dataclass(frozen=True, slots=True)
class ReleaseLine:
    """Released by whom, when, against what; story_digest shows a later change. Never "safe"."""

    signed_by: str
    released_ms: int
    against: str
    story_digest: str


def release_line(kept: KeptRelease) -> ReleaseLine:
    """Return a frozen release as a line."""
    return ReleaseLine(kept.signed_by, kept.released_ms, kept.against, kept.story_digest)


def unit_look(one: InspectionRecord, record: UnitRecord, plant: Plant, in_words: OperationWords) -> UnitLook:
    """Return one inspection; a first presentation that has ended is clean or not."""
    skipped = tuple((in_words.zone(z.zone), code_words(z.reason)) for z in one.looks if not z.looked)
    judged = one.presentation == 1 and one.ended_ms is not None
    station = plant.stations.get(one.point)
    again = one.purpose == "presentation" and one.presentation > 1
    looks_at_zones = bool(one.looks) or (not again and (station is None or station.kind == "inspection"))
    return UnitLook(
        id=one.id,
        point=one.point,
        point_name=station.name if station else one.point,
        purpose=say(PURPOSES[one.purpose]) if one.purpose in PURPOSES else one.purpose,
        is_presentation=one.purpose == "presentation",
        presentation=one.presentation,
        inspector=one.inspector,
        light=one.light,
        weather=one.weather or "",
        begun_ms=one.begun_ms,
        ended_ms=one.ended_ms,
        looked=sum(z.looked for z in one.looks),
        total_zones=len(plant.zones_of(record.model, options=record.options)) if looks_at_zones else None,
        not_looked=skipped,
        clean_major=one.clean_major if judged else None,
        clean_all=one.clean_all if judged else None,
    )


def _concerns(event: Event, defect: str) -> bool:
    op = event.operation
    if not is_readable(event):
        return op.id == defect
    return op.id == defect or op.body.get("defect") == defect or defect in op.body.get("defects", ())


def unit_defect(one: DefectRecord, events: Sequence[Event], in_words: OperationWords) -> UnitDefect:
    """Return one defect with the operations that concern it."""
    return UnitDefect(
        id=one.id,
        point=one.point,
        zone=one.zone,
        zone_name=in_words.zone(one.zone),
        type=one.type,
        type_name=in_words.type_name(one.type),
        severity=one.severity,
        grade=one.grade,
        lot=one.lot,
        note=one.note,
        state=one.state,
        cycles=one.cycles,
        finder=one.finder,
        found_ms=one.found_ms,
        suspected=one.origin.suspected or "",
        confirmed=one.origin.confirmed or "",
        origin_state=one.origin.state,
        dated=one.work_day_basis,
        repaired_by=", ".join(one.repairers()),
        rechecked_by=one.rechecked_by or "",
        photos={sha256: one.circles.get(sha256) for sha256 in one.photos},
        steps=tuple(defect_step(event, in_words) for event in events if _concerns(event, one.id)),
    )


def defect_step(event: Event, in_words: OperationWords) -> DefectStep:
    """Return one operation as a step of the story."""
    words = in_words.tell(event) + machine_words(event.operation.session)
    return DefectStep(event.happened_ms, event.received_ms, event.operation.author, words, event.number)


def unread_step(entry: UnreadEntry) -> DefectStep:
    """Return what came in and is no operation as a step of the story, in words that repeat nothing of it."""
    words = say("an entry that cannot be read (refused, not in effect: {reason})", reason=told(entry.reason))
    return DefectStep(entry.happened_ms, entry.received_ms, entry.author, words, entry.number)


def unit_test(test: Test, record: UnitRecord, plant: Plant) -> UnitTest:
    """Return a test that the unit needs, with its latest result."""
    latest = record.latest_test(test.id)
    results = [one for one in record.tests if one.test == test.id]
    lower, upper = (latest.lower, latest.upper) if latest else (test.lower, test.upper)
    return UnitTest(
        test=test.id,
        name=test.name,
        point=test.point,
        unit_of_measure=test.unit,
        limits=_limits(lower, upper, test.unit) if test.kind == "measure" else say("pass or fail"),
        conditions=test.conditions,
        reference=test.reference,
        reading=_reading(latest) if latest else "",
        result=test_result(latest),
        instrument=latest.instrument if latest else "",
        calibrated_until=date.fromisoformat(latest.calibrated_until) if latest and latest.calibrated_until else None,
        tester=latest.tester if latest else "",
        tested_ms=latest.tested_ms if latest else None,
        again=code_words(latest.again) if latest and latest.again else "",
        before=tuple(_told_before(one) for one in results if one is not latest),
        only_with=""
        if is_asked(test.options, record.options)
        else say(" or ").join(map(SaidNames(plant).option, test.options)),
    )


def _reading(one: TestRecord) -> str:
    return "" if one.value is None else said_reading(one.value, one.beyond)


def _told_before(one: TestRecord) -> str:
    """Return a result that another stands beside: what it said, by whom, and what became of it."""
    said = " ".join(part for part in (_reading(one), one.unit if one.value is not None else "") if part)
    outcome = say("passed by {who}", who=one.tester) if one.passed else say("failed by {who}", who=one.tester)
    outcome += say(", done again ({why})", why=code_words(one.again)) if one.again else ""
    if one.taken_back_by is not None:
        outcome += say(", taken back ({why})", why=one.taken_back_why)
    elif one.voided_by:
        outcome += say(", voided by a repair")
    return f"{said}: {outcome}" if said else outcome


def test_result(latest: TestRecord | None) -> str:
    """Return what a test's latest result says."""
    if latest is None:
        return "missing"
    if latest.voided_by:
        return "voided"
    return "passed" if latest.passed else "failed"


def _limits(lower: float | None, upper: float | None, unit: str) -> str:
    if lower is None and upper is None:
        return say("no limit set")
    if lower is None:
        return say("at most {upper:g} {unit}", upper=upper, unit=unit).strip()
    if upper is None:
        return say("at least {lower:g} {unit}", lower=lower, unit=unit).strip()
    return say("{lower:g} to {upper:g} {unit}", lower=lower, upper=upper, unit=unit).strip()
