"""What is made wrong on each unit, and where it is first found: chance alone, before anybody records anything."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np

from qc.demo.multipliers import multiplier
from qc.demo.schedule import Unit
from qc.demo.story import Critical, Story
from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.plant import FIELD, Plant, Severity


@dataclass(frozen=True, slots=True)
class Made:
    """A defect that is there. found: T01, T02, D01, FIELD for a planted escape, "" for what no end point found."""

    type: str
    origin: str
    severity: Severity
    work_day: date
    found: str
    planted: Critical | None = None


class Making:
    """Draws the defects of units. The same seed and unit give the same defects, whatever else is drawn."""

    def __init__(self, story: Story, plant: Plant, seed: int) -> None:
        self._story = story
        self._plant = plant
        self._seed = seed
        self._calendar = ProductionCalendar(plant)
        self._days: dict[date, tuple[np.ndarray, tuple[date, ...]]] = {}
        self._means = {
            model: np.array([rate.per_100 / 100 * rate.factors[model] for rate in story.rates])
            for model in plant.models
        }

    @cached_property
    def _by_code(self) -> Mapping[str, int]:
        return {one.code: place for place, one in enumerate(self._story.inspectors)}

    def of(self, unit: Unit, critical: Critical | None = None) -> list[Made]:
        """Return the unit's defects in rate order, a planted critical last."""
        rng = np.random.default_rng([self._seed, 2, unit.sequence])
        times, work_days = self._on(unit.day)
        effect = rng.gamma(self._story.unit_shape, 1 / self._story.unit_shape)
        counts = rng.poisson(self._means[unit.model] * times * effect)
        made = [
            self._made(rng, unit, place, work_days[place])
            for place in map(int, np.flatnonzero(counts))
            for _ in range(int(counts[place]))
        ]
        return made + ([self._planted(unit, critical)] if critical else [])

    def _on(self, day: date) -> tuple[np.ndarray, tuple[date, ...]]:
        if day not in self._days:
            work_days = tuple(self._calendar.work_day(day, rate.origin) for rate in self._story.rates)
            pairs = zip(self._story.rates, work_days, strict=True)
            times = np.array([multiplier(self._story, rate.type, rate.origin, worked) for rate, worked in pairs])
            self._days[day] = times, work_days
        return self._days[day]

    def _made(self, rng: np.random.Generator, unit: Unit, place: int, work_day: date) -> Made:
        rate = self._story.rates[place]
        kind = self._plant.types[rate.type]
        return Made(rate.type, rate.origin, kind.default_severity, work_day, self._found(rng, unit, rate.type))

    def _found(self, rng: np.random.Generator, unit: Unit, type_: str) -> str:
        kind = self._plant.types[type_]
        detection, point = self._story.detection, kind.first_detect_point
        if point in ("T01", "T02"):
            if rng.random() < detection[point]:
                return point
            return "D01" if rng.random() < detection[f"then_{point}"] else ""
        inspector = self._story.inspectors[self._by_code[unit.inspector]]
        return "D01" if rng.random() < inspector.finds(kind.default_severity) else ""

    def _planted(self, unit: Unit, critical: Critical) -> Made:
        work_day = self._calendar.work_day(unit.day, critical.origin)
        assert critical.found in ("T01", "D01", FIELD), critical.found
        return Made(critical.type, critical.origin, "critical", work_day, critical.found, critical)


def planted_units(story: Story, units: list[Unit], seed: int) -> dict[int, Critical]:
    """Return which unit, by sequence, carries which planted critical: one of its week and model, none twice.

    Where the story names the inspector, the unit is one that this inspector walked round.
    """
    rng = np.random.default_rng([seed, 3])
    chosen: dict[int, Critical] = {}
    for critical in story.criticals:
        fitting = [
            unit.sequence
            for unit in units
            if (unit.week, unit.model) == (critical.week, critical.model)
            and unit.sequence not in chosen
            and critical.inspector in ("", unit.inspector)
        ]
        if fitting:
            chosen[fitting[int(rng.integers(len(fitting)))]] = critical
    return chosen
