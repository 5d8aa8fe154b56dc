"""What is to be expected from the story: counts by origin, by week found and by week made; no planted criticals."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from qc.demo.multipliers import multiplier
from qc.demo.story import Rate, Story
from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.plant import Plant


@dataclass(frozen=True, slots=True)
class Expected:
    """Mean counts in a week of the story at an origin: made there, and found of what was presented in the week.

    spread is the variance of the found count that comes from the unit effect, beyond the Poisson's own.
    """

    made: float
    found: float
    spread: float


def shifts_of(calendar: ProductionCalendar, story: Story, plant: Plant, week: int) -> Iterator[tuple[date, str]]:
    """Yield the production days and shifts of a week in order."""
    for offset in range(7):
        day = story.monday(week) + timedelta(days=offset)
        if calendar.is_working(day):
            yield from ((day, shift.id) for shift in plant.shifts.values() if day.isoweekday() in shift.days)


def working_shifts(calendar: ProductionCalendar, story: Story, plant: Plant, week: int) -> list[tuple[date, str]]:
    """Return the shifts of a week that present units: as many as its units need, early ones first where too many."""
    shifts = list(shifts_of(calendar, story, plant, week))
    needed = story.weeks[week - 1].units // story.units_a_shift
    if needed < len(shifts):
        shifts = [shift for shift in shifts if shift[1] == "early"][:needed]
    return shifts


def chance_found(story: Story, plant: Plant, type_: str, shift: str) -> float:
    """Return the chance that a defect that is there is found at an end point, over the shift's inspectors."""
    kind = plant.types[type_]
    point = kind.first_detect_point
    if point in ("T01", "T02"):
        first = story.detection[point]
        return first + (1 - first) * story.detection[f"then_{point}"]
    return sum(one.share(shift) * one.finds(kind.default_severity) for one in story.inspectors)


def expected(story: Story, plant: Plant) -> dict[tuple[int, str], Expected]:
    """Return the expected counts by (week, origin), every week of the story and every origin that has a rate."""
    calendar = ProductionCalendar(plant)
    made: dict[tuple[int, str], float] = defaultdict(float)
    found: dict[tuple[int, str], float] = defaultdict(float)
    spread: dict[tuple[int, str], float] = defaultdict(float)
    for week in story.weeks:
        shifts = working_shifts(calendar, story, plant, week.number)
        for day, shift in shifts:
            by_model = {model: count / len(shifts) for model, count in week.by_model.items()}
            _add(story, plant, calendar, (day, shift), by_model, made, found, spread)
    keys = [(week.number, origin) for week in story.weeks for origin in dict.fromkeys(r.origin for r in story.rates)]
    return {key: Expected(made[key], found[key], spread[key]) for key in keys}


def _add(
    story: Story,
    plant: Plant,
    calendar: ProductionCalendar,
    when: tuple[date, str],
    by_model: Mapping[str, float],
    made: dict[tuple[int, str], float],
    found: dict[tuple[int, str], float],
    spread: dict[tuple[int, str], float],
) -> None:
    day, shift = when
    of_unit: dict[tuple[str, str], float] = defaultdict(float)
    for rate in story.rates:
        work_day = calendar.work_day(day, rate.origin)
        times = multiplier(story, rate.type, rate.origin, work_day)
        chance = chance_found(story, plant, rate.type, shift)
        for model, units in by_model.items():
            mean = per_unit(rate, model) * times
            made[story.week_of(work_day), rate.origin] += units * mean
            found[story.week_of(day), rate.origin] += units * mean * chance
            of_unit[model, rate.origin] += mean * chance
    for (model, origin), mean in of_unit.items():
        # A gamma mixture of Poissons: variance = mean + mean²/shape, so the unit effect adds mean²/shape a unit.
        spread[story.week_of(day), origin] += by_model[model] * mean**2 / story.unit_shape


def per_unit(rate: Rate, model: str) -> float:
    """Return the mean number made on one unit of a model before any event."""
    return rate.per_100 / 100 * rate.factors[model]
