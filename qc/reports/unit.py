"""One unit's life: who looked, who tested, what was found, what was done, who released it and against what."""

from dataclasses import dataclass
from datetime import date


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
