"""Escapes by point and by build week, with how complete the follow-up is: recent weeks always look good.

A unit counts as followed up once so many days have passed since it was presented that most of what dealers and users
find has come in. Points are compared on the followed weeks only.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from qc.domain.counts import PointFindings, Slice
from qc.domain.plant import FIELD
from qc.reports.asking import LEVEL, Asking
from qc.reports.origin_table import FOLLOW_DAYS
from qc.reports.periods import WEEK, Period, week_name
from qc.reports.wording import counted, percent
from qc.stats.answers import TooLittle
from qc.stats.escapes import FollowUp, follow_up
from qc.stats.intervals import ShareInterval, wilson_interval

ENOUGH = 0.95  # of a week's units followed up before the week is called complete (common practice, no source)


@dataclass(frozen=True, slots=True)
class BuildWeek:
    """Units presented in one week, and the defects found on them at the points and, later, after dispatch.

    follow: how many of the units were presented 60 days ago or more; TooLittle without units.
    """

    week: str
    units: int
    at_points: int
    after_dispatch: int
    follow: FollowUp | TooLittle

    @property
    def is_complete(self) -> bool:
        """Return whether what is found after dispatch hardly grows any more."""
        return isinstance(self.follow, FollowUp) and self.follow.is_complete


@dataclass(frozen=True, slots=True)
class PointEscape:
    """One point on the complete weeks: found there, passed (found later), share passed with interval.

    all_found, all_passed: the same on every week of the period, which still grows.
    """

    point: str
    name: str
    found: int
    passed: int
    share: ShareInterval | TooLittle
    all_found: int
    all_passed: int


@dataclass(frozen=True, slots=True)
class EscapeFollowUp:
    """Escapes of one period. weeks in time order, from the record's first on; complete: the leading
    ones that are followed up; points in flow order."""

    period: Period
    weeks: tuple[BuildWeek, ...]
    complete: int
    points: tuple[PointEscape, ...]
    followed_days: int
    sentence: str


def escape_follow_up(ask: Asking, period: Period) -> EscapeFollowUp:
    """Return the escapes of the period by build week and by point."""
    ripe = ask.today - timedelta(days=FOLLOW_DAYS - 1)  # the day of the 60th day ago is followed up, too
    begun = ask.counts.first_week() or period.end  # weeks before the record have nothing to tell
    starts = [first for n in range(period.weeks) if (first := period.first + n * WEEK) >= begun]
    weeks = _weeks(ask, starts, ripe)
    complete = _leading(weeks)
    points = _points(ask, period, starts[complete - 1] + WEEK if complete else period.first)
    return EscapeFollowUp(period, weeks, complete, points, FOLLOW_DAYS, _sentence(weeks[:complete], len(weeks)))


def _weeks(ask: Asking, starts: list[date], ripe: date) -> tuple[BuildWeek, ...]:
    units = [_units(ask, first, first + WEEK) for first in starts]
    followed = [_units(ask, first, max(first, min(first + WEEK, ripe))) for first in starts]
    names = [week_name(first) for first in starts]
    answers = follow_up(names, units, followed, ENOUGH)
    found = [_found(ask, first) for first in starts]
    return tuple(
        BuildWeek(name, n, at_points, later, answer)
        for name, n, (at_points, later), answer in zip(names, units, found, answers, strict=True)
    )


def _units(ask: Asking, first: date, end: date) -> int:
    return sum(ask.counts.seen_units(Slice(first, end, ask.models, ask.shifts)).values())


def _found(ask: Asking, first: date) -> tuple[int, int]:
    """Return the defects on a week's units found at the points, and after dispatch; unknown origins among them."""
    counts = ask.counts.origin_detection(Slice(first, first + WEEK, ask.models, ask.shifts))
    later = counts.points.index(FIELD)
    by_point = [
        sum(row[place] for row in (*counts.confirmed, *counts.suspected)) + counts.unknown[place]
        for place in range(len(counts.points))
    ]
    return sum(by_point) - by_point[later], by_point[later]


def _leading(weeks: tuple[BuildWeek, ...]) -> int:
    """Return how many weeks from the first on are complete; a week without units does not stand in the way."""
    count = 0
    for place, week in enumerate(weeks):
        if week.units and not week.is_complete:
            break
        count = place + 1 if week.units else count
    return count


def _points(ask: Asking, period: Period, end: date) -> tuple[PointEscape, ...]:
    ripe = _findings(ask, period.first, end)
    every = _findings(ask, period.first, period.end)
    return tuple(
        PointEscape(
            point,
            ask.place_name(point),
            ripe.found[place],
            ripe.passed[place],
            wilson_interval(ripe.passed[place], ripe.found[place] + ripe.passed[place], LEVEL),
            every.found[place],
            every.passed[place],
        )
        for place, point in enumerate(every.points)
    )


def _findings(ask: Asking, first: date, end: date) -> PointFindings:
    return ask.counts.point_findings(Slice(first, end, ask.models, ask.shifts))


def _sentence(complete: tuple[BuildWeek, ...], weeks: int) -> str:
    units, later = sum(week.units for week in complete), sum(week.after_dispatch for week in complete)
    if not units:
        return f"No week has been followed up for {FOLLOW_DAYS} days yet: what got through cannot be said."
    found = sum(week.at_points for week in complete) + later
    share = f", {percent(later / found)} of the {found} found at all" if found else ""
    return (
        f"{counted(len(complete), 'week')} of {weeks} followed up for {FOLLOW_DAYS} days: {later} found after dispatch "
        f"on {counted(units, 'unit')}{share}. Later weeks still grow and are no improvement."
    )
