"""Which unit comes to daylight when: the units of the story in order, with the inspector who walks round each."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from qc.demo.story import Story
from qc.demo.truth import shifts_of, working_shifts
from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.chassis import full_number, shop_number
from qc.domain.plant.plant import Plant


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit as planned. week counts from 1; slot is its place in the shift, from 0; inspector does D01."""

    sequence: int
    chassis: str
    shop_number: str
    model: str
    week: int
    day: date
    shift: str
    slot: int
    inspector: str


def schedule(story: Story, plant: Plant, seed: int, weeks: int, following: int = 0) -> list[Unit]:
    """Return the units of the first ``weeks`` weeks in daylight order, then ``following`` units of the days after."""
    rng = np.random.default_rng([seed, 1])
    calendar = ProductionCalendar(plant)
    units: list[Unit] = []
    for week in story.weeks[:weeks]:
        models = _shuffled(rng, [model for model, count in week.by_model.items() for _ in range(count)])
        shifts = working_shifts(calendar, story, plant, week.number)
        units += _units(story, plant, rng, (week.number, shifts), models, plant.sequence_start + len(units))
    mix = story.weeks[weeks - 1].by_model
    models = _shuffled(rng, [model for model, count in mix.items() for _ in range(count)])[:following]
    shifts = list(shifts_of(calendar, story, plant, weeks + 1)) if following else []
    return units + list(_units(story, plant, rng, (weeks + 1, shifts), models, plant.sequence_start + len(units)))


def _shuffled(rng: np.random.Generator, models: list[str]) -> list[str]:
    return [models[place] for place in rng.permutation(len(models))]


def _units(
    story: Story,
    plant: Plant,
    rng: np.random.Generator,
    week: tuple[int, list[tuple[date, str]]],
    models: list[str],
    first: int,
) -> Iterator[Unit]:
    number, shifts = week
    slots = [(day, shift, slot) for day, shift in shifts for slot in range(story.units_a_shift)]
    for place, model in enumerate(models):
        day, shift, slot = slots[place]
        sequence = first + place
        yield Unit(
            sequence=sequence,
            chassis=full_number(plant, model, sequence),
            shop_number=shop_number(plant, model, sequence),
            model=model,
            week=number,
            day=day,
            shift=shift,
            slot=slot,
            inspector=_drawn(rng, story, shift),
        )


def _drawn(rng: np.random.Generator, story: Story, shift: str) -> str:
    shares = [one.share(shift) for one in story.inspectors]
    return story.inspectors[int(rng.choice(len(shares), p=shares))].code
