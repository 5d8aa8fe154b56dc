"""Which units are presented, when, and with what found: the one definition that every count of units rests on.

A unit counts once every end point of its build has presented it and only then, on the production day and in the
shift in which the latest of those first presentations ended. With it count the defects of its first presentations.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from tests.recount.plant import monday_of, week_of
from tests.recount.record import FIELD, Defect, Look, Record, Unit

SEVERITIES = ("critical", "major", "minor")


@dataclass(frozen=True, slots=True)
class Narrowed:
    """What a view counts. models, shifts: empty for all."""

    models: tuple[str, ...] = ()
    shifts: tuple[str, ...] = ()

    def takes(self, model: str, shift: str) -> bool:
        return (not self.models or model in self.models) and (not self.shifts or shift in self.shifts)


@dataclass(frozen=True, slots=True)
class Presented:
    """A unit whose first presentations have all ended, and the defects found at them and not withdrawn."""

    unit: Unit
    day: date
    shift: str
    looks: dict[str, Look]
    defects: tuple[Defect, ...]

    @property
    def week(self) -> str:
        return week_of(self.day)


class Counted:
    """Units and first presentations of a record."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.plant = record.plant

    @cached_property
    def first_looks(self) -> dict[tuple[str, str], Look]:
        """Return the first presentation of each unit at each end point, begun or ended."""
        first: dict[tuple[str, str], Look] = {}
        for look in sorted(self.record.looks.values(), key=lambda look: (look.begun, look.number)):
            if look.purpose == "presentation":
                first.setdefault((look.unit, look.point), look)
        return first

    @cached_property
    def looks_by_week(self) -> dict[tuple[str, str], list[Look]]:
        """Return the first presentations that have ended, by point and ISO week."""
        told: dict[tuple[str, str], list[Look]] = {}
        for look in self.first_looks.values():
            if look.day is not None:
                told.setdefault((look.point, week_of(look.day)), []).append(look)
        return told

    @cached_property
    def failed_in(self) -> frozenset[str]:
        """Return the inspections in which a test failed."""
        return frozenset(
            one.look for unit in self.record.units.values() for one in unit.tests if one.look and not one.passed
        )

    @cached_property
    def found_in(self) -> dict[str, list[Defect]]:
        """Return the standing defects of each inspection."""
        told: dict[str, list[Defect]] = {}
        for one in self.record.defects.values():
            if one.look and one.state != "withdrawn":
                told.setdefault(one.look, []).append(one)
        return told

    @cached_property
    def units(self) -> tuple[Presented, ...]:
        """Return the presented units in the order in which they became so."""
        told = [one for one in map(self._presented, self.record.units.values()) if one is not None]
        return tuple(sorted(told, key=lambda one: (max(look.ended or 0 for look in one.looks.values()), one.day)))

    @cached_property
    def by_week(self) -> dict[str, list[Presented]]:
        told: dict[str, list[Presented]] = {}
        for one in self.units:
            told.setdefault(one.week, []).append(one)
        return told

    @cached_property
    def shift_of(self) -> dict[str, str]:
        """Return the shift in which each unit became presented, by chassis number."""
        return {one.unit.chassis: one.shift for one in self.units}

    def _presented(self, unit: Unit) -> Presented | None:
        looks = {point: self.first_looks.get((unit.chassis, point)) for point in self.plant.points_of(unit.model)}
        whole = {point: look for point, look in looks.items() if look is not None and look.ended is not None}
        if not whole or len(whole) < len(looks):
            return None
        last = max(whole.values(), key=lambda look: look.ended or 0)
        assert last.day is not None
        return Presented(unit, last.day, last.shift, whole, self.first_defects(unit))

    @cached_property
    def under_way(self) -> tuple[tuple[Unit, frozenset[str]], ...]:
        """Return units that some end point has presented and another has not, with those that have."""
        told = []
        for unit in self.record.units.values():
            points = self.plant.points_of(unit.model)
            looks = [self.first_looks.get((unit.chassis, point)) for point in points]
            done = frozenset(look.point for look in looks if look is not None and look.ended is not None)
            if done and len(done) < len(points):
                told.append((unit, done))
        return tuple(told)

    def first_defects(self, unit: Unit) -> tuple[Defect, ...]:
        """Return the standing defects of a unit's first presentations, wherever they stand in the week."""
        return tuple(one for one in unit.defects if one.state != "withdrawn" and self.is_first(one))

    def is_first(self, defect: Defect) -> bool:
        """Return whether a defect was found at a first presentation: within it, or at that point beside it."""
        if defect.point == FIELD:
            return False
        look = self.first_looks.get((defect.unit, defect.point))
        return look is not None and defect.look == look.id

    def in_weeks(self, weeks: tuple[str, ...], narrowed: Narrowed) -> tuple[Presented, ...]:
        """Return the units presented in some weeks of a view."""
        return tuple(
            one
            for week in sorted(set(weeks))
            for one in self.by_week.get(week, ())
            if narrowed.takes(one.unit.model, one.shift)
        )

    def work_day(self, station: str, one: Presented) -> date:
        """Return the day of a unit's work at a station: its scan, else the lead-time rule back from its last look."""
        scanned = one.unit.passes.get(station)
        if scanned is not None:
            return self.plant.day_and_shift(scanned)[0]
        return self.plant.working_days_before(one.day, int(self.plant.stations[station]["lead_days"]))


def weeks_to(last: str, count: int) -> tuple[str, ...]:
    """Return so many ISO weeks up to and with one, oldest first."""
    end = monday_of(last)
    return tuple(week_of(end - timedelta(weeks=back)) for back in range(count - 1, -1, -1))


def standing(defects: tuple[Defect, ...], severities: tuple[str, ...]) -> list[Defect]:
    """Return those of some severities."""
    return [one for one in defects if one.severity in severities]
