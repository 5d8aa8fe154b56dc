"""A unit's record as its operations tell it: a pure fold over the events in effect.

It believes the verdicts and applies no rule of its own, so that a release can be judged from the operations and not
from a table that somebody may have changed. The store's tables must come out equal (a property test).
"""

from collections.abc import Iterable
from dataclasses import replace

from qc.domain.plant import Plant
from qc.domain.unit_record import DefectRecord, Event, InspectionRecord, UnitRecord, UnitState
from qc.domain.unit_steps import STEPS, Folding


def fold(events: Iterable[Event]) -> UnitRecord | None:
    """Return the record that one unit's events tell, None where none plans the unit.

    Events in the order in which they came into effect; those not applied are kept aside in ``not_in_effect``.
    """
    state: Folding | None = None
    aside: list[Event] = []
    for event in events:
        if event.verdict != "applied":
            aside.append(event)
        elif event.operation.kind == "unit_planned":
            state = _planned(event)
        elif state is not None:
            _apply(state, event)
    return None if state is None else _finished(state, aside)


def _planned(event: Event) -> Folding:
    op, body = event.operation, event.operation.body
    return Folding(
        UnitRecord(
            chassis=op.unit or "",
            shop_number=body["shop_number"],
            sequence=body["sequence"],
            model=body["model"],
            options=tuple(body.get("options", ())),
            build_sheet=body.get("build_sheet"),
            planned_day=body["planned_day"],
        ),
        event,
    )


def _apply(state: Folding, event: Event) -> None:
    step = STEPS.get(event.operation.kind)
    if step is not None:  # a kind that is on no unit may name one all the same; it changes nothing there
        step(state, event, event.operation.body)
    state.last = event


def working_state(
    passes: Iterable[str],
    inspections: Iterable[InspectionRecord],
    defects: Iterable[DefectRecord],
    plant: Plant,
) -> UnitState:
    """Return where a unit that is not released stands.

    At the end points once a presentation or other look began at one; in rework while nobody is looking there and a
    defect is open (not yet repaired); on the line once anything passed a station.
    """
    looks = list(inspections)
    end_points = plant.end_points()
    at_end = [one for one in looks if one.point in end_points]
    if not at_end:
        return "on_line" if looks or any(True for _ in passes) else "planned"
    looking = any(one.ended_ms is None for one in at_end)
    return "in_rework" if not looking and any(one.state == "open" for one in defects) else "at_end_points"


def _finished(state: Folding, aside: list[Event]) -> UnitRecord:
    return replace(
        state.unit,
        state=_state(state),
        last_number=state.last.since,
        looked_since_alarm=_looked_since_alarm(state),
        passes=tuple(sorted(state.passes.items(), key=lambda one: (one[1], one[0]))),
        inspections=tuple(_presented(list(state.inspections.values()))),
        defects=tuple(state.defects.values()),
        tests=tuple(state.tests.values()),
        releases=tuple(state.releases),
        not_in_effect=tuple(aside),
    )


def _state(state: Folding) -> UnitState:
    # Whether it is released is known after each event; where it stands otherwise only the last one need tell.
    if state.unit.state == "released":
        return "released"
    return working_state(state.passes, state.inspections.values(), state.defects.values(), state.last.plant)


def _looked_since_alarm(state: Folding) -> bool:
    return any(state.inspections[one].ended_ms is not None for one in state.since_alarm)


def _presented(inspections: list[InspectionRecord]) -> list[InspectionRecord]:
    """Number the presentations at each point by when they began, not by when they arrived."""
    order = sorted(
        (one for one in inspections if one.purpose == "presentation"), key=lambda one: (one.begun_ms, one.number)
    )
    seen: dict[str, int] = {}
    rank: dict[str, int] = {}
    for one in order:
        rank[one.id] = seen[one.point] = seen.get(one.point, 0) + 1
    return [replace(one, presentation=rank.get(one.id, 0)) for one in inspections]
