"""What the record would hold of the invented plant's defects, drawn without playing it through the journal.

The demo's own drawing functions make and find the defects; slips of coding and what is said of an origin follow the
story's shares, as ``qc/demo/settling.py`` plays them. Origins stand as they were said by the day asked for.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

import numpy as np

from qc.assets import folder
from qc.demo.acts import Log
from qc.demo.cast import LED
from qc.demo.making import Making
from qc.demo.places import Places
from qc.demo.schedule import Unit, schedule
from qc.demo.settling import SETTLED
from qc.demo.story import Story, read_story
from qc.domain.counted.counts import CellWeeks
from qc.domain.plant.calendar import ProductionCalendar, iso_week
from qc.domain.plant.plant import UNKNOWN, Plant
from qc.domain.tables.plant_tables import read_plant

PLANT = read_plant(folder("demo_data") / "plant")
STORY = read_story(folder("demo_data") / "story")
PLACES = Places(PLANT)


@dataclass(frozen=True, slots=True)
class Row:
    """A defect as recorded. suspected: the finder's guess; settled: what it ends as, UNK where nobody settles it.

    said: the day on which it was settled, None for never.
    """

    unit: Unit
    type: str
    true_type: str
    true_origin: str
    work_day: date
    point: str
    suspected: str
    settled: str
    said: date | None

    def origin(self, on: date) -> str:
        """Return whose it stands as on a day."""
        return self.settled if self.said is not None and self.said <= on else self.suspected


@dataclass(frozen=True)
class Drawn:
    """A seed's units and what the record holds of them."""

    story: Story
    plant: Plant
    units: tuple[Unit, ...]
    rows: tuple[Row, ...]

    @cached_property
    def calendar(self) -> ProductionCalendar:
        """Return the plant's calendar."""
        return ProductionCalendar(self.plant)

    @cached_property
    def models(self) -> tuple[str, ...]:
        """Return the models in the plant's order."""
        return tuple(self.plant.models)

    def table(self, weeks: int, basis: str = "found") -> CellWeeks:
        """Return the cells of weeks 1..weeks as they stand on the Monday after; basis "work": by week of the work."""
        on = self.story.monday(weeks + 1)
        counts: dict[tuple[str, str], np.ndarray] = {}
        for row in self.rows:
            week = row.unit.week if basis == "found" else self.story.week_of(row.work_day)
            if row.unit.week <= weeks and 1 <= week <= weeks:
                cell = row.origin(on), row.type
                if cell not in counts:
                    counts[cell] = np.zeros((weeks, len(self.models)), dtype=int)
                counts[cell][week - 1, self.models.index(row.unit.model)] += 1
        units = [[0] * len(self.models) for _ in range(weeks)]
        for unit in self.units:
            if unit.week <= weeks:
                units[unit.week - 1][self.models.index(unit.model)] += 1
        cells = tuple(sorted(counts))
        return CellWeeks(
            tuple(iso_week(self.story.monday(week)) for week in range(1, weeks + 1)),
            self.models,
            tuple(map(tuple, units)),
            cells,
            tuple(tuple(map(tuple, counts[cell].tolist())) for cell in cells),
            False,
        )

    def worked_units(self, weeks: int, station: str) -> np.ndarray:
        """Return the units presented in weeks 1..weeks, by model, in the week in which a station worked on them."""
        units = np.zeros((weeks, len(self.models)), dtype=int)
        for unit in self.units:
            week = self.story.week_of(self.calendar.work_day(unit.day, station))
            if 1 <= week <= weeks and unit.week <= weeks:
                units[week - 1, self.models.index(unit.model)] += 1
        return units


def drawn(seed: int, story: Story = STORY, plant: Plant = PLANT) -> Drawn:
    """Return the record of a seed; planted criticals are left out, as they enter no rate."""
    units = schedule(story, plant, seed, len(story.weeks))
    making = Making(story, plant, seed)
    rows = []
    for unit in units:
        log = Log(None, np.random.default_rng([seed, 40, unit.sequence]))  # draws only: nothing is added to it
        for made in making.of(unit):
            if made.found:
                rows.append(_row(log, story, plant, unit, made))
    return Drawn(story, plant, tuple(units), tuple(rows))


def gathered(record: Drawn, scatter: float, seed: int) -> Drawn:
    """Return a record of the same expected counts whose variance is so many times theirs, 1 as drawn.

    Each defect is kept with chance 2 / (scatter + 1), once or several times (geometric): causes of several on a unit.
    """
    source, share = np.random.default_rng([seed, 77]), 2 / (scatter + 1)
    rows = [row for row in record.rows if source.random() < share for _ in range(source.geometric(share))]
    return replace(record, rows=tuple(rows)) if scatter > 1 else record


def _row(log, story, plant, unit, made) -> Row:
    shares, type_ = story.origin, made.type
    twin = story.twin_of(type_)
    if twin and log.chance(story.noise["type_swapped"] * 0.6):  # 0.4 of them are corrected when read back
        type_ = twin
    zone = PLACES.zone(log, made.type, unit.model)
    suspected = PLACES.suspected(log, shares, made.origin, made.type, zone, made.found)
    settled, said = _settled(log, shares, plant, unit, made, suspected, zone)
    return Row(unit, type_, made.type, made.origin, made.work_day, made.found, suspected, settled, said)


def _settled(log, shares, plant, unit, made, suspected, zone):
    days = log.rng.uniform(0, 2.4) if log.chance(shares["within_3_days"]) else log.rng.uniform(4, 12)
    said = unit.day + timedelta(days=1 + int(days))
    draw = log.rng.random()
    if made.origin == UNKNOWN or draw < shares["never_confirmed"]:
        return suspected, None
    led = suspected != UNKNOWN and plant.stations[suspected].kind in LED
    if draw < shares["never_confirmed"] + shares["disputed"] and led:
        return (made.origin, said + timedelta(days=3)) if log.chance(SETTLED) else (UNKNOWN, said)
    if log.chance(shares["confirmed_right"]):
        return made.origin, said
    if suspected not in (UNKNOWN, made.origin):
        return suspected, said
    return PLACES.wrong_origin(log, made.origin, made.type, zone, made.found), said
