"""The periods that a report speaks of: half-open ranges of production days with a name that a page can print."""

from dataclasses import dataclass
from datetime import date, timedelta

from qc.domain.plant.calendar import iso_week
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import marked, say

WEEK = timedelta(days=7)
ONE_WEEK = "{first}"
NAMED_WEEK = marked("week {first}")
SEVERAL_WEEKS = marked("{weeks} weeks {first} to {last}")


@dataclass(frozen=True, slots=True)
class Period:
    """Production days first <= day < end.

    form: what it is called, with places {first} and {last} for its weeks, {weeks} for how many, {why}, {left}.
    partial: the period was not over when the report was made, so its counts still grow. why: the reason for which a
    person chose it; left: how many of its weeks serve, 0 for all.
    """

    first: date
    end: date
    form: str
    partial: bool
    why: str = ""
    left: int = 0

    @property
    def name(self) -> str:
        """Return its name in the language spoken: "2026-W23", "8 weeks 2026-W16 to 2026-W23"."""
        weeks = {"first": week_words(self.code), "last": week_words(week_name(self.last_day))}
        return say(self.form, weeks=self.weeks, why=self.why, left=self.left, **weeks)

    @property
    def code(self) -> str:
        """Return the ISO week that it is, or begins in, as addresses and counts name it."""
        return week_name(self.first)

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
    return iso_week(day)


def week_of(day: date, today: date) -> Period:
    """Return the ISO week that holds the day; partial while today is in it."""
    monday = monday_of(day)
    return Period(monday, monday + WEEK, ONE_WEEK, today < monday + WEEK)


def weeks_before(week: Period, how_many: int) -> Period:
    """Return the whole weeks that end where the week begins; at least one."""
    if how_many < 1:
        raise ValueError(f"how_many must be at least 1 week, got {how_many!r}")
    return Period(week.first - how_many * WEEK, week.first, SEVERAL_WEEKS if how_many > 1 else NAMED_WEEK, False)


def weeks_up_to(week: Period, how_many: int) -> Period:
    """Return the weeks that end with this one, this one included; partial if this one is."""
    if how_many < 1:
        raise ValueError(f"how_many must be at least 1 week, got {how_many!r}")
    return Period(week.end - how_many * WEEK, week.end, SEVERAL_WEEKS if how_many > 1 else NAMED_WEEK, week.partial)
