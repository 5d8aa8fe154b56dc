"""Which days are worked, by the plant and by each of its stations, and how many of them lie between two days."""

from bisect import bisect_left
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from qc.domain.plant.plant import Plant, Shift

DAY = timedelta(days=1)
LONGEST_SHUTDOWN = 366  # days that are looked back for working days


@dataclass(frozen=True)
class WorkingDays:
    """The days of somebody's calendar. weekdays: ISO weekdays 1..7 that are worked; closed: days that are not."""

    weekdays: frozenset[int]
    closed: frozenset[date]

    def works(self, day: date) -> bool:
        """Return whether the day is worked."""
        return day.isoweekday() in self.weekdays and day not in self.closed

    def since(self, found: date, today: date) -> int:
        """Return how many working days lie after the day found, up to and with today; 0 where today is not later."""
        if today <= found:
            return 0
        first, end = found + DAY, today.toordinal() + 1
        weeks, rest = divmod(end - first.toordinal(), 7)
        odd = sum((first + timedelta(days=n)).isoweekday() in self.weekdays for n in range(rest))
        away = bisect_left(self._away, end) - bisect_left(self._away, first.toordinal())
        return weeks * len(self.weekdays) + odd - away

    def back(self, day: date, days: int) -> date:
        """Return the day so many working days before a day; one that is not worked counts as the one before it.

        The day itself where no weekday is ever worked.
        """
        if not self.weekdays:
            return day
        found = self._last(day)
        for _ in range(days):
            found = self._last(found - DAY)
        return found

    def more_than(self, days: int, today: date) -> date:
        """Return the day before which something was found more than so many working days ago.

        ``day < more_than(n, today)`` holds just where ``since(day, today) > n``. Where nobody has worked so much in
        the last year, it is the day a year ago.
        """
        day, worked = today, int(self.works(today))
        while worked <= days and (today - day).days <= LONGEST_SHUTDOWN:
            day -= DAY
            worked += self.works(day)
        return day

    def _last(self, day: date) -> date:
        while not self.works(day):
            day -= DAY
        return day

    @cached_property
    def _away(self) -> list[int]:
        return sorted(day.toordinal() for day in self.closed if day.isoweekday() in self.weekdays)


def weekdays_of(shifts: Iterable[Shift]) -> frozenset[int]:
    """Return the ISO weekdays to whose production shifts belong."""
    return frozenset((day + shift.belongs_later(day) - 1) % 7 + 1 for shift in shifts for day in shift.days)


def plant_days(plant: Plant) -> WorkingDays:
    """Return the days on which any shift of the plant works and the whole of it is not closed."""
    return WorkingDays(weekdays_of(plant.shifts.values()), plant.closed_days())


def station_days(plant: Plant) -> Mapping[str, WorkingDays]:
    """Return the days of each station that has its own: of its shifts, without those on which it or the plant closes.

    A station that works in every shift and closes with the plant is not among them: the plant's days are its.
    """
    closing = {one for shutdown in plant.shutdowns for one in shutdown.stations}
    return {
        one.id: WorkingDays(weekdays_of(plant.shifts_of(one.id)), plant.closed_days(one.id))
        for one in plant.stations.values()
        if one.shifts or one.id in closing
    }
