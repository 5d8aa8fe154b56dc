"""One unit's life: who looked, who tested, what was found, what was done, who released it and against what."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from qc.domain.calendar import ProductionCalendar
from qc.domain.plant import Plant
from qc.domain.release import blockers
from qc.domain.unit_record import Event, UnitRecord
from qc.reports.units.operation_words import OperationWords
from qc.reports.units.unit_parts import (
    BlockerLine,
    DefectStep,
    ReleaseLine,
    UnitDefect,
    UnitLook,
    UnitTest,
    defect_step,
    release_line,
    test_result,
    unit_defect,
    unit_look,
    unit_test,
    unread_step,
)
from qc.reports.wording import counted, listed
from qc.store.reading.reads import Reads
from qc.store.record.events import UnreadEntry

__all__ = [
    "BlockerLine",
    "DefectStep",
    "ReleaseLine",
    "UnitDefect",
    "UnitLook",
    "UnitReport",
    "UnitTest",
    "unit_report",
]


@dataclass(frozen=True, slots=True, kw_only=True)
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
    in_words = OperationWords(plant, record.model)
    stops = tuple(BlockerLine(one.code, one.what, one.ref) for one in blockers(record, plant))
    kept = [release_line(one) for one in reads.releases_of(chassis)]
    now = kept[-1] if kept and record.state == "released" else None
    return UnitReport(
        chassis=record.chassis,
        shop_number=record.shop_number,
        sequence=record.sequence,
        model=record.model,
        model_name=plant.models[record.model].name if record.model in plant.models else record.model,
        options=record.options,
        planned_day=date.fromisoformat(record.planned_day),
        state=record.state,
        alarm=record.alarm,
        passes=tuple(
            (station, in_words.place(station), ms) for station, ms in sorted(record.passes, key=lambda one: one[1])
        ),
        looks=tuple(unit_look(one, record, plant, in_words) for one in record.inspections),
        defects=tuple(unit_defect(one, events, in_words) for one in record.defects),
        tests=tuple(unit_test(one, record) for one in plant.tests_of(record.model)),
        blockers=stops,
        release=now,
        earlier_releases=tuple(kept[:-1] if now else kept),
        story=_story(events, reads.unread_entries(chassis), in_words),
        summary=_summary(record, stops, now, plant),
        cautions=_cautions(record, plant),
    )


def _story(events: Sequence[Event], unread: Sequence[UnreadEntry], in_words: OperationWords) -> tuple[DefectStep, ...]:
    steps = [defect_step(event, in_words) for event in events] + [unread_step(entry) for entry in unread]
    return tuple(sorted(steps, key=lambda step: (step.happened_ms, step.number)))


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
    "failure_untold": "failures that no defect tells",
    "recheck": "re-checks",
    "inspection_running": "inspections running",
    "concession": "concessions",
    "alarm": "alarm",
}


def _cautions(record: UnitRecord, plant: Plant) -> tuple[str, ...]:
    """Return the cautions of open defects, their zones and the tests that are due, the standing line last."""
    waiting = [one for one in record.defects if one.is_open]
    zones = [plant.zones.get((record.model, one.zone)) for one in waiting]
    work = [plant.types[one.type].caution or "" for one in waiting if one.type in plant.types]
    tests = [test for test in plant.tests_of(record.model) if test_result(record.latest_test(test.id)) != "passed"]
    codes = dict.fromkeys([*(zone.caution for zone in zones if zone), *work, *(test.caution for test in tests)])
    return (*(plant.cautions[code].short for code in codes if code in plant.cautions), plant.standing_line)
