"""What the rules ask of a plant: its tables, graph and calendar, with answers worked out once for each revision."""

from collections.abc import Callable
from datetime import date
from functools import lru_cache

import orjson

from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_tables import plant_from_tables

_MINUTE = 60_000


class PlantRules:
    """A plant with its graph and calendar, and answers that are remembered."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        calendar = ProductionCalendar(plant)
        graph = BuildGraph(plant)

        @lru_cache(maxsize=4096)
        def day_and_shift(minute: int, station: str) -> tuple[str, str]:
            day, shift = calendar.day_and_shift(minute * _MINUTE, station)
            return day.isoformat(), shift

        @lru_cache(maxsize=4096)
        def work_day(day: str, station: str) -> str:
            return calendar.work_day(date.fromisoformat(day), station).isoformat()

        @lru_cache(maxsize=64)
        def calendar_day(minute: int) -> date:
            return calendar.local(minute * _MINUTE).date()

        self._day_and_shift = day_and_shift
        self._own_shifts = frozenset(one.id for one in plant.stations.values() if one.shifts)
        self._calendar_day = calendar_day
        self.work_day: Callable[[str, str], str] = work_day
        self.possible_origins: Callable[[str, str, str], tuple[str, ...]] = lru_cache(graph.possible_origins)

    def day_and_shift(self, ms: int, station: str = "") -> tuple[str, str]:
        """Return the production day (ISO) and the shift of an instant at a station; shifts begin at whole minutes."""
        return self._day_and_shift(ms // _MINUTE, station if station in self._own_shifts else "")

    def calendar_day(self, ms: int) -> date:
        """Return the day that the plant's own calendar shows at an instant, whatever shift runs."""
        return self._calendar_day(ms // _MINUTE)

    def day(self, ms: int) -> str:
        """Return the production day (ISO) of an instant."""
        return self._day_and_shift(ms // _MINUTE, "")[0]


class UnknownRevision(Exception):
    """The record names a revision of the plant's tables that it does not hold."""


class PlantRevisions:
    """The rules of every plant revision in a record, the present one at hand and older ones read when asked for."""

    def __init__(self, plant: Plant, tables_of: Callable[[str], str | None]) -> None:
        """tables_of returns the kept JSON of a revision's tables, None where the record has no such revision."""
        self._held = {plant.revision: PlantRules(plant)}
        self._tables_of = tables_of

    def of(self, revision: str) -> PlantRules:
        """Return the rules of a revision. Raises UnknownRevision, PlantFaults."""
        if revision not in self._held:
            tables = self._tables_of(revision)
            if tables is None:
                raise UnknownRevision(f"the record names plant revision {revision}, whose tables it does not hold")
            self._held[revision] = PlantRules(plant_from_tables(orjson.loads(tables)))
        return self._held[revision]
