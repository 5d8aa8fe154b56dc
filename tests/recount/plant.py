"""The plant's tables as a stranger reads them: csv and toml, no code of the project."""

import csv
import tomllib
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache, cached_property
from pathlib import Path
from zoneinfo import ZoneInfo

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
END_KINDS = ("test", "inspection")  # kinds of station at which a unit is presented
NOT_KNOWN = "UNK"


@dataclass(frozen=True, slots=True)
class Shift:
    """One shift of the plant: minutes after midnight and the weekdays on which it works."""

    id: str
    start: int
    end: int
    days: frozenset[int]


class PlantTables:
    """What the tables say, row by row. Codes are looked up here and nowhere else."""

    def __init__(self, folder: Path) -> None:
        with (folder / "plant.toml").open("rb") as file:
            self.about = tomllib.load(file)
        self.stations = {row["id"]: row for row in _rows(folder / "stations.csv")}
        self.types = {row["code"]: row for row in _rows(folder / "defect_types.csv")}
        self.tests = {row["id"]: row for row in _rows(folder / "tests.csv")}
        self.zones = _rows(folder / "zones.csv")
        self.models = {model["code"]: model for model in self.about["model"]}
        self.zone = ZoneInfo(self.about["plant"]["time_zone"])
        self.holidays = frozenset(self.about["calendar"]["holidays"])
        self.shifts = tuple(
            Shift(one["id"], _minutes(one["start"]), _minutes(one["end"]), frozenset(map(WEEKDAYS.index, one["days"])))
            for one in self.about["shift"]
        )

    @cached_property
    def end_points(self) -> tuple[str, ...]:
        """Return the stations at which units are presented, in the order of the flow."""
        return tuple(one for one in self.flow if self.stations[one]["kind"] in END_KINDS)

    @cached_property
    def flow(self) -> tuple[str, ...]:
        """Return the main line in the order in which a unit moves."""
        after = dict(self.about["links"]["flow"])
        first = next(one for one in after if one not in after.values())
        order = [first]
        while order[-1] in after:
            order.append(after[order[-1]])
        return tuple(order)

    @cached_property
    def upstream(self) -> dict[str, frozenset[str]]:
        """Return for each station those whose work has gone into what arrives there; rework loops are no way."""
        links = [*self.about["links"]["flow"], *self.about["links"]["feed"]]
        before: dict[str, set[str]] = {}
        for source, target in links:
            before.setdefault(target, set()).add(source)

        def above(station: str) -> set[str]:
            near = before.get(station, set())
            return near.union(*(above(one) for one in near)) if near else set()

        return {station: frozenset(above(station)) for station in self.stations}

    def builds(self, station: str, model: str) -> bool:
        """Return whether the build of a model contains a station."""
        return _holds(self.stations[station]["models"], model)

    def points_of(self, model: str) -> tuple[str, ...]:
        """Return the end points of a model's build."""
        return tuple(one for one in self.end_points if self.builds(one, model))

    def zones_of(self, model: str) -> tuple[dict[str, str], ...]:
        """Return a model's zones."""
        return tuple(row for row in self.zones if row["model"] == model)

    def local(self, ms: int) -> datetime:
        """Return an instant on the plant's clock."""
        return datetime.fromtimestamp(ms / 1000, self.zone)

    def day_and_shift(self, ms: int) -> tuple[date, str]:
        """Return the production day and shift of an instant; "" for the shift outside of all of them."""
        here = self.local(ms)
        minutes = here.hour * 60 + here.minute
        for back in (0, 1):  # a shift over midnight belongs to the day it began
            day, at = here.date() - timedelta(days=back), minutes + back * 24 * 60
            for shift in self.shifts:
                end = shift.end + (24 * 60 if shift.end <= shift.start else 0)
                if day.weekday() in shift.days and shift.start <= at < end:
                    return day, shift.id
        return here.date(), ""

    def works_on(self, day: date) -> bool:
        """Return whether any shift works on a day."""
        return day not in self.holidays and any(day.weekday() in shift.days for shift in self.shifts)

    def working_days_before(self, day: date, count: int) -> date:
        """Return the day that lies so many working days before another."""
        while count:
            day -= timedelta(days=1)
            count -= self.works_on(day)
        return day

    def working_days_between(self, first: date, last: date) -> int:
        """Return how many working days lie after ``first`` up to and with ``last``."""
        return sum(self.works_on(first + timedelta(days=k)) for k in range(1, (last - first).days + 1))


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _minutes(clock: str) -> int:
    hours, minutes = clock.split(":")
    return int(hours) * 60 + int(minutes)


def _holds(models: str, model: str) -> bool:
    return models in ("", "all") or model in models.split(";")


@cache
def week_of(day: date) -> str:
    """Return the ISO 8601 week of a day, like 2026-W10."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02}"


def monday_of(week: str) -> date:
    """Return the Monday of an ISO week."""
    year, number = week.split("-W")
    return date.fromisocalendar(int(year), int(number), 1)
