"""A unit's record while operations are put to it: what each entry is now, and what it was before the latest of them.

The steps (`unit_steps`) write entries; `settle` then brings up to date what follows from several of them together.
Whoever keeps tables writes what changed between before and now, and calls `begin_anew`.
"""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field
from typing import TypeVar

from qc.domain.plant.plant import Plant
from qc.domain.unit.unit_record import (
    DefectRecord,
    Event,
    InspectionRecord,
    PassingRecord,
    PassRecord,
    PhotoRecord,
    ReleaseRecord,
    TestRecord,
    UnitRecord,
    UnitState,
    altered,
)

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Kept(dict[K, V]):
    """Entries by key, in order of coming into effect. Entries are replaced, never taken away.

    before: of each key that was set since it was last emptied what stood there before, None for a new one.
    """

    __slots__ = ("before",)

    def __init__(self) -> None:
        super().__init__()
        self.before: dict[K, V | None] = {}

    def __setitem__(self, key: K, value: V) -> None:
        if key not in self.before:
            self.before[key] = self.get(key)
        dict.__setitem__(self, key, value)


def _blank(chassis: str) -> UnitRecord:
    return UnitRecord(
        chassis=chassis, shop_number="", sequence=0, model="", options=(), build_sheet=None, planned_day=""
    )


@dataclass(slots=True)
class Folding:
    """A unit being put together. unit holds the state only as far as released or not, and no entries.

    is_replanned: its plan changed since it was last written; which points it needs depends on its day.
    last: the latest event in effect, None before the unit is planned. photos by (defect, SHA-256), None where
    one was taken away; passes by station, None where each passing was taken back.
    """

    unit: UnitRecord
    last: Event | None = None
    passes: Kept[str, PassRecord | None] = field(default_factory=Kept)
    passings: Kept[str, PassingRecord] = field(default_factory=Kept)
    inspections: Kept[str, InspectionRecord] = field(default_factory=Kept)
    defects: Kept[str, DefectRecord] = field(default_factory=Kept)
    tests: Kept[str, TestRecord] = field(default_factory=Kept)
    photos: Kept[tuple[str, str], PhotoRecord | None] = field(default_factory=Kept)
    releases: list[ReleaseRecord] = field(default_factory=list)
    is_replanned: bool = False
    since_alarm: set[str] = field(default_factory=set)  # inspections begun since the alarm

    @classmethod
    def of(cls, chassis: str) -> "Folding":
        """Return a unit of which nothing is known yet."""
        return cls(_blank(chassis))

    @property
    def is_planned(self) -> bool:
        """Whether the unit was planned."""
        return self.last is not None

    def holds(self, id_: str) -> bool:
        """Tell whether an operation is in effect here that others may name."""
        return id_ in self.defects or id_ in self.inspections or id_ in self.tests or id_ in self.passings

    def passed(self) -> dict[str, PassRecord]:
        """Return the first pass of each station whose passing stands."""
        return {station: one for station, one in self.passes.items() if one is not None}

    def begin_anew(self) -> None:
        """Take what stands now for what stood before."""
        for kept in (self.passes, self.passings, self.inspections, self.defects, self.tests, self.photos):
            kept.before.clear()
        self.is_replanned = False


def settle(state: Folding) -> None:
    """Bring up to date what follows from several entries, for those that changed since `Folding.begin_anew`.

    Which presentation an inspection is, whether its defects are of a first one, and whether it was clean.
    """
    _number_presentations(state)
    for id_ in state.defects.before:
        _place_defect(state, state.defects[id_])
    named: set[str | None] = {one.inspection for one in _changed(state.defects)}
    named |= {one.inspection for one in _changed(state.tests)}
    for one in named | set(state.inspections.before):
        if one is not None:
            _judge_clean(state, state.inspections[one])


def _changed(kept: Kept[K, V]) -> Iterable[V]:
    return (kept[key] for key in kept.before)


def _number_presentations(state: Folding) -> None:
    """Number the presentations at each point by when they began, not by when they arrived."""
    new = [state.inspections[id_] for id_, before in state.inspections.before.items() if before is None]
    for point in {one.point for one in new if one.purpose == "presentation"}:
        at_point = [one for one in state.inspections.values() if (one.point, one.purpose) == (point, "presentation")]
        for rank, one in enumerate(sorted(at_point, key=lambda one: (one.begun_ms, one.number)), start=1):
            if one.presentation != rank:
                state.inspections[one.id] = altered(one, presentation=rank)
                for defect in [defect for defect in state.defects.values() if defect.inspection == one.id]:
                    _place_defect(state, defect)


def _place_defect(state: Folding, defect: DefectRecord) -> None:
    first = defect.inspection is not None and state.inspections[defect.inspection].presentation == 1
    if defect.first_presentation != first:
        state.defects[defect.id] = altered(defect, first_presentation=first)


def _judge_clean(state: Folding, one: InspectionRecord) -> None:
    if one.ended_ms is None:
        return
    clean_all, clean_major = cleanness(one.id, state.defects.values(), state.tests.values())
    if (one.clean_all, one.clean_major) != (clean_all, clean_major):
        state.inspections[one.id] = altered(one, clean_all=clean_all, clean_major=clean_major)


def cleanness(inspection: str, defects: Iterable[DefectRecord], tests: Iterable[TestRecord]) -> tuple[bool, bool]:
    """Return whether an inspection found nothing that stands, and nothing above minor; a failed test is neither."""
    if any(one.inspection == inspection and not one.passed and one.taken_back_by is None for one in tests):
        return False, False
    found = {one.severity for one in defects if one.inspection == inspection and one.state != "withdrawn"}
    return not found, found <= {"minor"}


def state_of(state: Folding) -> UnitState:
    """Return where the unit stands: what is released stays so until an alarm takes it back, what is cancelled until it
    is taken up again."""
    assert state.last is not None
    if state.unit.cancelled is not None:
        return "cancelled"
    if state.unit.state == "released":
        return "released"
    return working_state(state.passed(), state.inspections.values(), state.defects.values(), state.last.plant)


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
