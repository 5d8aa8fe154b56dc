"""A unit's record is what its operations in effect tell, in the order in which they came into effect, and no more."""

from dataclasses import replace

import pytest

from qc.assets import folder
from qc.domain.acts.unit import fold
from qc.domain.facts.operations import Operation
from qc.domain.tables.plant_rules import PlantRules
from qc.domain.tables.plant_tables import read_plant
from qc.domain.unit.unit_record import Event

PLANT = read_plant(folder("demo_data") / "plant")
PLANT_RULES = PlantRules(PLANT)
UNIT = "0PC7T3600TW030001"
MINUTE = 60_000
PLANNED = {"model": "T36", "shop_number": "PC7130001", "sequence": 30001, "planned_day": "2026-03-02"}
DEFECT = {"point": "D01", "zone": "front.gas", "type": "EXT-01", "severity": "minor"}


def event(number, kind, author="I1", at=None, verdict="applied", since=None, **body):
    """Return an event whose id is "op" and its number; it happened ``at`` minutes, else minutes as its number."""
    at_ms = (number if at is None else at) * MINUTE
    op = Operation(
        id=f"op{number}",
        device="P1",
        install_epoch="e1",
        seq=number,
        kind=kind,
        schema=1,
        unit=UNIT,
        body=body,
        author=author,
        deps=(),
        seen_through=0,
        wall_ms=at_ms,
        tz_min=0,
        session="s1",
        mono_ms=0,
    )
    return Event(number, op, at_ms, verdict, PLANT_RULES, since or number)


def record(*events):
    return fold([event(1, "unit_planned", "PL1", **PLANNED), *events])


def test_without_a_plan_there_is_no_unit():
    assert fold([]) is None
    assert fold([event(2, "defect_recorded", **DEFECT)]) is None


def test_what_was_not_applied_has_no_effect_and_is_kept_aside():
    refused = event(2, "defect_recorded", verdict="refused", **DEFECT)

    unit = record(refused)

    assert (unit.defects, unit.not_in_effect, unit.last_number) == ((), (refused,), 1)


def test_the_last_number_is_that_of_the_operation_that_brought_the_change():
    assert record(event(2, "station_passed", since=9, station="S01")).last_number == 9


@pytest.mark.parametrize(("first", "second"), [(5, 20), (20, 5)])
def test_presentations_are_numbered_by_when_they_began(first, second):
    begun = {"point": "D01", "purpose": "presentation", "light": "bright"}
    unit = record(
        event(2, "inspection_begun", at=first, **begun),
        event(3, "inspection_begun", at=second, **begun),
        event(4, "inspection_begun", at=10, **{**begun, "purpose": "relook"}),
        event(5, "inspection_begun", at=10, **{**begun, "point": "T01"}),
    )

    numbers = [one.presentation for one in unit.inspections]
    assert numbers == ([1, 2, 0, 1] if first < second else [2, 1, 0, 1])


def test_a_station_was_passed_when_it_was_first_passed():
    unit = record(
        event(2, "station_passed", at=30, station="S02"),
        event(3, "station_passed", at=10, station="S02"),
        event(4, "station_passed", at=20, station="S01"),
    )

    assert unit.passes == (("S02", 10 * MINUTE), ("S01", 20 * MINUTE))


def test_a_later_mark_of_a_zone_stands():
    begun = event(2, "inspection_begun", point="D01", purpose="presentation", light="bright")
    looked = event(3, "zone_looked_at", inspection="op2", zones=["front.gas", "front.plate"])
    blocked = event(4, "zone_not_looked_at", inspection="op2", zone="front.gas", reason="blocked")

    marks = {look.zone: look.looked for look in record(begun, looked, blocked).inspections[0].looks}
    again = {look.zone: look.looked for look in record(begun, blocked, looked).inspections[0].looks}
    assert marks == {"front.gas": False, "front.plate": True}
    assert again == marks  # by the server's number, whatever waited for what


def test_cycles_count_failed_rechecks_and_repairers_are_those_of_the_present_cycle():
    work = {"defects": ["op2"], "method": "rework"}

    (defect,) = record(
        event(2, "defect_recorded", **DEFECT),
        event(3, "repair_done", "RW1", **work, minutes=7),
        event(4, "recheck_failed", "I2", defect="op2", reason="loose"),
        event(5, "repair_done", "RW2", **work, minutes=2),
    ).defects

    assert (defect.state, defect.cycles, defect.repairers(), defect.repaired_by) == ("repaired", 1, ("RW2",), "RW2")
    assert [one.minutes for one in defect.repairs] == [7, 2]


@pytest.mark.parametrize(("taken", "sent", "voided"), [(2, 2, True), (9, 9, False), (2, 9, True), (5, 9, True)])
def test_a_result_counts_only_if_it_was_taken_and_sent_after_the_repair(taken, sent, voided):
    """The repair is the fifth operation, at five minutes."""
    gas = {**DEFECT, "type": "GAS-01", "severity": "critical"}
    result = event(sent, "test_recorded", "TB1", at=taken, test="G1", value=3, instrument="IN-1")
    repair = event(5, "repair_done", "RW1", defects=["op3"], method="rework", minutes=7)
    found = event(3, "defect_recorded", **gas)

    unit = record(*sorted([result, repair, found], key=lambda one: one.number))

    assert (unit.tests[0].voided_by is not None) is voided


def test_the_limits_of_the_day_judge_a_result():
    from types import MappingProxyType

    stricter = replace(PLANT.tests["G1"], upper=5.0)
    later = replace(PLANT, tests=MappingProxyType({**PLANT.tests, "G1": stricter}))
    first = event(2, "test_recorded", test="G1", value=7, instrument="IN-1")
    second = event(3, "test_recorded", test="G1", value=7, instrument="IN-1")._replace(plant_rules=PlantRules(later))

    assert [(one.passed, one.upper) for one in record(first, second).tests] == [(True, 10.0), (False, 5.0)]
