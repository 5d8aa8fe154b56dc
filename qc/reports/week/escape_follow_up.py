"""Escapes by point and by build week, like for like: what was found up to day 60 after each unit left.

What is found after dispatch comes weeks to months late, so an older week has had longer to show what got through.
Weeks are compared once they are followed up, and then only by what came up to day 60 of each unit. Later findings and
younger weeks stand beside, by number.
"""

from dataclasses import dataclass
from datetime import date

from qc.domain.counted.by_unit import DefectsByUnit
from qc.domain.counted.counts import FOLLOW_DAYS, LeftWeeks, PointFindings, Slice
from qc.domain.words.speaking import say
from qc.reports.asking import LEVEL, Asking
from qc.reports.how_many import units, weeks
from qc.reports.periods import WEEK, Period
from qc.reports.wording import percent
from qc.stats.answers import TooLittle
from qc.stats.intervals.by_unit import shares_by_unit
from qc.stats.intervals.one_sample import ShareInterval, wilson_interval
from qc.stats.origins.escapes import FollowUp, follow_up

FOLLOWED_WEEKS = 26  # whatever the charts show: 60 days and as many weeks again before them
ENOUGH = 0.95  # of a week's units followed up before the week is called complete (common practice, no source)


@dataclass(frozen=True, slots=True)
class BuildWeek:
    """Units presented in one week, and the defects found on them at the points and after dispatch.

    after_dispatch: up to day 60 after each unit left, so far; later: after it, in no comparison. follow: how many of
    those that left did so more than 60 days ago; TooLittle while none has left.
    """

    week: str
    units: int
    left: int
    at_points: int
    after_dispatch: int
    later: int
    follow: FollowUp | TooLittle

    @property
    def is_complete(self) -> bool:
        """Return whether what is found up to day 60 hardly grows any more."""
        return isinstance(self.follow, FollowUp) and self.follow.is_complete


@dataclass(frozen=True, slots=True)
class PointEscape:
    """One point on the followed units of the complete weeks, to day 60: found there, passed, share with interval by
    units.

    all_found, all_passed: on every week of the period and whenever found, which still grows.
    """

    point: str
    name: str
    found: int
    passed: int
    share: ShareInterval | TooLittle
    all_found: int
    all_passed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EscapeFollowUp:
    """Escapes of one period. weeks in time order, from the record's first on; complete: the leading
    ones that are followed up; points in flow order. units: the followed ones of the complete weeks; units_with: of
    these, on which something was found up to day 60, with interval; found: so many; share: of all that was found on
    them by then. later: found after day 60 on any unit of the period, in none of these."""

    period: Period
    weeks: tuple[BuildWeek, ...]
    complete: int
    points: tuple[PointEscape, ...]
    followed_days: int
    units: int
    units_with: ShareInterval | TooLittle
    found: int
    share: ShareInterval | TooLittle
    later: int
    sentence: str

    @property
    def still_grows(self) -> bool:
        """Return whether units of later weeks are not followed up yet."""
        return _grows(self.weeks[self.complete :])


def escape_follow_up(ask: Asking, period: Period) -> EscapeFollowUp:
    """Return the escapes of the period by build week and by point."""
    begun = ask.counts.first_week() or period.end  # weeks before the record have nothing to tell
    first = min(max(period.first, begun), period.end)
    left = ask.counts.left_weeks(Slice(first, period.end, ask.models, ask.shifts, builds=ask.builds), ask.now_ms)
    every = _weeks(left)
    complete = _leading(every)
    ripe = _ripe(ask, period, first + complete * WEEK)
    points = _points(ask, period, ripe)
    followed, within = sum(left.followed[:complete]), sum(left.followed_found[:complete])
    units_with = wilson_interval(sum(left.followed_with[:complete]), followed, LEVEL)
    share = shares_by_unit([ripe.after_dispatch], LEVEL, ripe.passed)[0]
    later = sum(left.later)
    told = _sentence(complete, every, units_with, within, share, later)
    return EscapeFollowUp(
        period=period,
        weeks=every,
        complete=complete,
        points=points,
        followed_days=FOLLOW_DAYS,
        units=followed,
        units_with=units_with,
        found=within,
        share=share,
        later=later,
        sentence=told,
    )


def _weeks(left: LeftWeeks) -> tuple[BuildWeek, ...]:
    answers = follow_up(left.left, left.followed, left.weeks, ENOUGH)
    rows = zip(left.weeks, left.units, left.left, left.at_points, left.so_far, left.later, answers, strict=True)
    return tuple(BuildWeek(*row) for row in rows)


def _grows(later: tuple[BuildWeek, ...]) -> bool:
    """Return whether units of the weeks after the complete ones are not followed up yet."""
    return any(week.units for week in later)


def _leading(weeks: tuple[BuildWeek, ...]) -> int:
    """Return how many weeks from the first on are complete; a week without units does not stand in the way."""
    count = 0
    for place, week in enumerate(weeks):
        if week.units and not week.is_complete:
            break
        count = place + 1 if week.units else count
    return count


def _ripe(ask: Asking, period: Period, end: date) -> DefectsByUnit:
    """Return what was found to day 60 on the followed units of the complete weeks, which end on a day."""
    return ask.counts.followed_by_unit(
        Slice(min(period.first, end), end, ask.models, ask.shifts, builds=ask.builds), ask.now_ms
    )


def _points(ask: Asking, period: Period, ripe: DefectsByUnit) -> tuple[PointEscape, ...]:
    every: PointFindings = ask.counts.point_findings(
        Slice(period.first, period.end, ask.models, ask.shifts, builds=ask.builds)
    )
    shares = shares_by_unit(ripe.passed, LEVEL)
    return tuple(
        PointEscape(
            point,
            ask.place_name(point),
            ripe.passed[place].whole - ripe.passed[place].part,
            ripe.passed[place].part,
            shares[place],
            every.found[place],
            every.passed[place],
        )
        for place, point in enumerate(every.points)
    )


def _sentence(
    complete: int,
    every: tuple[BuildWeek, ...],
    units_with: ShareInterval | TooLittle,
    found: int,
    share: ShareInterval | TooLittle,
    later: int,
) -> str:
    apart = say("{number} more came after day {day} and stand apart.", number=later, day=FOLLOW_DAYS) if later else ""
    if isinstance(units_with, TooLittle):
        none = say(
            "No week has been followed up for {days} days yet: what got through cannot be said.", days=FOLLOW_DAYS
        )
        return " ".join(part for part in (none, apart) if part)
    values = {
        "weeks": weeks(complete),
        "all": len(every),
        "days": FOLLOW_DAYS,
        "found": found,
        "units_with": units_with.defectives,
        "units": units(units_with.inspected),
        "share": percent(units_with.share),
        "level": percent(LEVEL),
        "low": percent(units_with.low),
        "high": percent(units_with.high),
    }
    if isinstance(share, TooLittle):
        told = say(
            "{weeks} of {all} followed up for {days} days after release: {found} found after dispatch, on {units_with} "
            "of {units} ({share}; {level} range {low} to {high}).",
            **values,
        )
    else:
        told = say(
            "{weeks} of {all} followed up for {days} days after release: {found} found after dispatch, {part} of the "
            "{whole} found by then, on {units_with} of {units} ({share}; {level} range {low} to {high}).",
            part=percent(share.share),
            whole=share.inspected,
            **values,
        )
    grows = say("Later weeks still grow and are no improvement.") if _grows(every[complete:]) else ""
    return " ".join(part for part in (told, apart, grows) if part)
