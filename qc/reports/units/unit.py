"""One unit's life: who looked, who tested, what was found, what was done, who released it and against what."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.naming import SaidNames
from qc.domain.plant.plant import Plant, Test
from qc.domain.unit.release import blockers
from qc.domain.unit.unit_record import Event, MetRecord, PlaceRecord, UnitRecord
from qc.domain.words.speaking import ENGLISH, say, say_many, spoken, told
from qc.reports.units.operation_words import OperationWords
from qc.reports.units.time_line import Moment, time_line
from qc.reports.units.unit_parts import (
    BlockerLine,
    DefectStep,
    ReleaseLine,
    UnitDefect,
    UnitLook,
    UnitTest,
    blocker_line,
    defect_step,
    release_line,
    test_result,
    unit_defect,
    unit_look,
    unit_test,
    unread_step,
)
from qc.reports.wording import listed
from qc.store.reading.reads import Reads
from qc.store.record.events import UnreadEntry

__all__ = [
    "BlockerLine",
    "DefectStep",
    "Moment",
    "ReleaseLine",
    "UnitDefect",
    "UnitLook",
    "UnitReport",
    "UnitTest",
    "unit_report",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitReport:
    """The unit's page. line: on which of several it is built, in words, "" where the plant has one; options: as
    planned; planned_day: None while no plan holds it; met: that it was met
    before the plan, None else; place: where it stands, None where nobody told; moments: its line of time;
    dated: in words where its passing was told, and that elsewhere lead times stand for it; story: every operation;
    blocked: the blockers by kind, each kind with its number in words.

    summary: one sentence ("2 things stand in its way: 1 test and 1 re-check." or "Released by QM1 on 2026-06-11
    against …").
    """

    chassis: str
    shop_number: str
    sequence: int
    model: str
    model_name: str
    line: str
    options: tuple[str, ...]
    planned_day: date | None
    met: MetRecord | None
    state: str
    alarm: str
    place: PlaceRecord | None
    moments: tuple[Moment, ...]
    dated: str
    looks: tuple[UnitLook, ...]
    defects: tuple[UnitDefect, ...]
    tests: tuple[UnitTest, ...]
    blockers: tuple[BlockerLine, ...]
    blocked: tuple[tuple[str, tuple[BlockerLine, ...]], ...]
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
    with spoken(ENGLISH):  # they are known again by their English forms
        waiting = list(blockers(record, plant))
    stops = tuple(blocker_line(one, record, plant, in_words) for one in waiting)
    kept = [release_line(one) for one in reads.releases_of(chassis)]
    now = kept[-1] if kept and record.state == "released" else None
    return UnitReport(
        chassis=record.chassis,
        shop_number=record.shop_number,
        sequence=record.sequence,
        model=record.model,
        model_name=plant.models[record.model].name if record.model in plant.models else record.model,
        line=_line(record, plant),
        options=tuple(map(SaidNames(plant).option, record.options)),
        planned_day=None if record.is_unplanned else date.fromisoformat(record.planned_day),
        met=record.met,
        state=record.state,
        alarm=record.alarm,
        moments=time_line(record, events, plant),
        place=record.place,
        dated=_dated(record, plant),
        looks=tuple(unit_look(one, record, plant, in_words) for one in record.inspections),
        defects=tuple(unit_defect(one, events, in_words) for one in record.defects),
        tests=tuple(unit_test(one, record, plant) for one in _tests(record, plant)),
        blockers=stops,
        blocked=tuple(_blocked(stops)),
        release=now,
        earlier_releases=tuple(kept[:-1] if now else kept),
        story=_story(events, reads.unread_entries(chassis), in_words),
        summary=_summary(record, stops, now, plant),
        cautions=_cautions(record, plant),
    )


def _line(record: UnitRecord, plant: Plant) -> str:
    if len(plant.lines) < 2:
        return ""
    counted_on = plant.line_of(record.model, record.line)
    name = SaidNames(plant).line(counted_on)
    told_one = record.line == counted_on or len(plant.lines_of(record.model)) < 2
    if told_one or not counted_on:
        return say("on {line}", line=name) if counted_on else say("on no line of the plant's tables")
    if not record.line:
        return say(
            "nobody said its line: it counts on {first}, the first that builds it, until a plan says another",
            first=name,
        )
    return say(
        "{line} builds no {model}: it counts on {first}, the first that does, until a plan says another",
        line=SaidNames(plant).line(record.line),
        model=record.model,
        first=name,
    )


def _dated(record: UnitRecord, plant: Plant) -> str:
    if not record.passes:
        return say("No station told that it passed: the day of the work is reckoned by the plant's lead times.")
    passed = listed([SaidNames(plant).place(station) for station, _ in record.passes], 40)
    return say(
        "Told to have passed {places}. Elsewhere the day of the work is reckoned by the plant's lead times.",
        places=passed,
    )


def _story(events: Sequence[Event], unread: Sequence[UnreadEntry], in_words: OperationWords) -> tuple[DefectStep, ...]:
    steps = [defect_step(event, in_words) for event in events] + [unread_step(entry) for entry in unread]
    return tuple(sorted(steps, key=lambda step: (step.happened_ms, step.number)))


def _summary(record: UnitRecord, stops: Sequence[BlockerLine], release: ReleaseLine | None, plant: Plant) -> str:
    if release is not None:
        day = ProductionCalendar(plant).local(release.released_ms).date().isoformat()
        said = say(
            "Released by {who} on {day} against {against}.",
            who=release.signed_by,
            day=day,
            against=told(release.against),
        )
        alarm = say("Something arrived after the release: see the alarm.") if record.alarm else ""
        return f"{said} {alarm}".strip()
    if record.cancelled is not None:
        day = ProductionCalendar(plant).local(record.cancelled.cancelled_ms).date().isoformat()
        one = record.cancelled
        return say("Cancelled by {who} on {day}: {reason}.", who=one.by, day=day, reason=one.reason)
    if not stops:
        return say("Nothing stands in its way; a person signs it.")
    return say_many(
        "{number} thing stands in its way: {things}.",
        "{number} things stand in its way: {things}.",
        len(stops),
        things=listed([words for words, _ in _blocked(stops)], 9),
    )


def _blocked(stops: Sequence[BlockerLine]) -> list[tuple[str, tuple[BlockerLine, ...]]]:
    """Return what stands in the way by kind, each with its number in words, in the order of the gate."""
    kinds = {code: tuple(one for one in stops if one.code == code) for code in (one.code for one in stops)}
    return [
        (_BLOCKED[code](len(own)) if code in _BLOCKED else f"{len(own)} {code}", own) for code, own in kinds.items()
    ]


_BLOCKED: Mapping[str, Callable[[int], str]] = {
    "identity": lambda n: say_many("{number} plate not read", "{number} plates not read", n),
    "zone": lambda n: say_many("{number} zone not looked at", "{number} zones not looked at", n),
    "test": lambda n: say_many("{number} test", "{number} tests", n),
    "defect": lambda n: say_many("{number} open defect", "{number} open defects", n),
    "failure_untold": lambda n: say_many(
        "{number} failure that no defect tells", "{number} failures that no defect tells", n
    ),
    "recheck": lambda n: say_many("{number} re-check", "{number} re-checks", n),
    "inspection_running": lambda n: say_many("{number} inspection running", "{number} inspections running", n),
    "concession": lambda n: say_many("{number} concession", "{number} concessions", n),
    "alarm": lambda n: say_many("{number} alarm", "{number} alarms", n),
    "cancelled": lambda n: say_many("{number} cancelled", "{number} cancelled", n),
    "unplanned": lambda n: say_many("{number} plan", "{number} plans", n),
}


def _tests(record: UnitRecord, plant: Plant) -> list[Test]:
    """Return the tests that are asked of the unit, and those that were done though its options do not ask for them."""
    asked = plant.tests_of(record.model, options=record.options, line=record.line)
    done = {one.test for one in record.tests}
    return [one for one in plant.tests_of(record.model) if one in asked or one.id in done]


def _cautions(record: UnitRecord, plant: Plant) -> tuple[str, ...]:
    """Return the cautions of open defects, their zones and the tests that are due.

    The standing line, which closes them, is at the foot of each page, right below them.
    """
    if not plant.cautions:
        return ()
    waiting = [one for one in record.defects if one.is_open]
    zones = [plant.zones.get((record.model, one.zone)) for one in waiting]
    work = [plant.types[one.type].caution or "" for one in waiting if one.type in plant.types]
    tests = [
        test
        for test in plant.tests_of(record.model, options=record.options)
        if test_result(record.latest_test(test.id)) != "passed"
    ]
    codes = dict.fromkeys([*(zone.caution for zone in zones if zone), *work, *(test.caution for test in tests)])
    return tuple(plant.cautions[code].short for code in codes if code in plant.cautions)
