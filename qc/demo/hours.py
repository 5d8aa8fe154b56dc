"""When somebody is at work: the shifts of the story's weeks as stretches of time."""

from bisect import bisect_right
from dataclasses import dataclass
from datetime import date, timedelta

from qc.demo.story import Story
from qc.demo.truth import shifts_of
from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.plant import Plant

MINUTE = 60_000
SHIFT_MINUTES = 8 * 60


@dataclass(frozen=True, slots=True)
class Stretch:
    """A shift of a day: begins and ends in milliseconds since 1970 UTC; week of the story."""

    begins: int
    ends: int
    day: date
    shift: str
    week: int


class Hours:
    """The shifts from a few weeks before the story to a few after, in order."""

    def __init__(self, story: Story, plant: Plant) -> None:
        calendar = ProductionCalendar(plant)
        self._story = story
        self.stretches = [
            self._stretch(calendar, day, shift, week)
            for week in range(-3, len(story.weeks) + 9)
            for day, shift in shifts_of(calendar, story, plant, week)
        ]
        self._begins = [stretch.begins for stretch in self.stretches]
        # Nothing that begins later is played, so that what follows from it still finds a shift.
        self.horizon = self.end_of_week(len(story.weeks) + 3)
        self._by_day = {(stretch.day, stretch.shift): stretch for stretch in self.stretches}

    @staticmethod
    def _stretch(calendar: ProductionCalendar, day: date, shift: str, week: int) -> Stretch:
        begins = calendar.instant(day, shift)
        return Stretch(begins, begins + SHIFT_MINUTES * MINUTE, day, shift, week)

    def of(self, day: date, shift: str) -> Stretch:
        """Return a shift's stretch. Raises KeyError where nobody works."""
        return self._by_day[day, shift]

    def at(self, ms: int) -> Stretch:
        """Return the stretch that holds an instant, else the next one to begin."""
        place = bisect_right(self._begins, ms) - 1
        if place >= 0 and ms < self.stretches[place].ends:
            return self.stretches[place]
        return self.stretches[place + 1]

    def work(self, ms: int, minutes: float = 0.0) -> int:
        """Return the instant after ``minutes`` of working time from ``ms``, waiting for the next shift where needed."""
        left = round(minutes * MINUTE)
        while True:
            stretch = self.at(ms)
            ms = max(ms, stretch.begins)
            if ms + left < stretch.ends:
                return ms + left
            left -= stretch.ends - ms
            ms = stretch.ends

    def days_later(self, ms: int, days: float) -> int:
        """Return a working instant about ``days`` later."""
        return self.work(ms + round(timedelta(days=days).total_seconds() * 1000))

    def meeting(self, ms: int) -> int:
        """Return the next line-side meeting at or after an instant: two and a half hours into a shift."""
        offset = 150 * MINUTE
        stretch = self.at(ms)
        if ms <= stretch.begins + offset:
            return stretch.begins + offset
        return self.at(stretch.ends).begins + offset

    def end_of_week(self, week: int) -> int:
        """Return when the last shift of a week ends."""
        return max(stretch.ends for stretch in self.stretches if stretch.week == week)
