"""The periods that a report speaks of: half-open ranges of production days with a name that a page can print."""

from dataclasses import dataclass
from datetime import date, timedelta

WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Period:
    """Production days first <= day < end; name in words ("2026-W23", "8 weeks 2026-W16 to 2026-W23").

    partial: the period was not over when the report was made, so its counts still grow.
    """

    first: date
    end: date
    name: str
    partial: bool

    @property
    def weeks(self) -> int:
        """Return the whole ISO weeks in the period."""
        return (self.end - self.first).days // 7

    @property
    def last_day(self) -> date:
        """Return the last day that belongs to the period."""
        return self.end - timedelta(days=1)


def monday_of(day: date) -> date:
    """Return the Monday that begins the day's ISO week."""
    return day - timedelta(days=day.isoweekday() - 1)


def week_name(day: date) -> str:
    """Return the ISO week of a day as "2026-W10" (ISO 8601)."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


def week_of(day: date, today: date) -> Period:
    """Return the ISO week that holds the day; partial while today is in it."""
    monday = monday_of(day)
    return Period(monday, monday + WEEK, week_name(monday), today < monday + WEEK)


def weeks_before(week: Period, how_many: int) -> Period:
    """Return the whole weeks that end where the week begins; at least one."""
    if how_many < 1:
        raise ValueError(f"how_many must be at least 1 week, got {how_many!r}")
    first, last = week.first - how_many * WEEK, week.first - WEEK
    name = f"{how_many} weeks {week_name(first)} to {week_name(last)}" if how_many > 1 else f"week {week_name(first)}"
    return Period(first, week.first, name, False)


def weeks_up_to(week: Period, how_many: int) -> Period:
    """Return the weeks that end with this one, this one included; partial if this one is."""
    if how_many < 1:
        raise ValueError(f"how_many must be at least 1 week, got {how_many!r}")
    first = week.end - how_many * WEEK
    name = f"{how_many} weeks {week_name(first)} to {week.name}" if how_many > 1 else f"week {week.name}"
    return Period(first, week.end, name, week.partial)
