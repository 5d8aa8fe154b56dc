"""A unit's record as its operations tell it: a pure fold over the events in effect.

It believes the verdicts and applies no rule of its own, so that a release can be judged from the operations and not
from a table that somebody may have changed.
"""

from collections.abc import Iterable
from dataclasses import replace

from qc.domain.acts.kinds import BEGINS, KINDS
from qc.domain.unit.folding import Folding, settle, state_of
from qc.domain.unit.unit_record import Event, UnitRecord


def fold(events: Iterable[Event]) -> UnitRecord | None:
    """Return the record that one unit's events tell, None where none plans the unit.

    Events in the order in which they came into effect; those not applied are kept aside in ``not_in_effect``.
    """
    state, aside = folded("", events)
    return record_of(state, aside) if state.is_planned else None


def folded(chassis: str, events: Iterable[Event]) -> tuple[Folding, list[Event]]:
    """Return one unit as its events leave it, ready for the next, and the events that are not in effect."""
    state, aside = Folding.of(chassis), []
    for event in events:
        if event.verdict == "applied":
            put(state, event)
        else:
            aside.append(event)
    settle(state)
    state.begin_anew()
    return state, aside


def put(state: Folding, event: Event) -> None:
    """Let an operation in effect change its unit; nothing where it is not on a unit, or on one that is not planned."""
    kind = KINDS[event.operation.kind]
    if kind.on_unit and (state.is_planned or kind.name in BEGINS):
        kind.step(state, event, event.operation.body)
        state.last = event


def record_of(state: Folding, aside: Iterable[Event] = ()) -> UnitRecord:
    """Return the record of a planned and settled unit; aside: its events that are not in effect."""
    assert state.last is not None
    passes = [(station, one.passed_ms) for station, one in state.passed().items()]
    return replace(
        state.unit,
        state=state_of(state),
        last_number=state.last.since,
        looked_since_alarm=any(state.inspections[one].ended_ms is not None for one in state.since_alarm),
        passes=tuple(sorted(passes, key=lambda one: (one[1], one[0]))),
        passings=tuple(state.passings.values()),
        inspections=tuple(state.inspections.values()),
        defects=tuple(state.defects.values()),
        tests=tuple(state.tests.values()),
        releases=tuple(state.releases),
        not_in_effect=tuple(aside),
    )
