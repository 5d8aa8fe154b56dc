"""The end of section 7: what was found up to day 60 after each unit left, week by week of its presentation."""

from functools import cached_property

from tests.recount.attributed import Expected, Marks, Rows, Sheet, Value, Words
from tests.recount.everywhere import counted, literal
from tests.recount.presented import Presented, weeks_to
from tests.recount.record import FIELD, Defect
from tests.recount.review_origins import WINDOW
from tests.recount.review_passed import found_and_passed, passed_shares
from tests.recount.shares import percent, wilson
from tests.recount.view import View, spoken

DAYS = 60
WEEKS = 26
ENOUGH = 0.95  # of a week's units that left, before it is called complete
PLACE = "weeks followed up"


class FollowUp:
    """Units by the week in which they were presented, and what was found on them."""

    def __init__(self, view: View) -> None:
        self.view = view
        self.weeks = [week for week in weeks_to(view.week, WEEKS) if week >= view.record_weeks[0]]

    def age(self, one: Presented) -> int | None:
        """Return days since the unit was released, None while it has not left."""
        if one.unit.released is None:
            return None
        return (self.view.today - self.view.plant.day_and_shift(one.unit.released)[0]).days

    def left(self, units: tuple[Presented, ...]) -> list[Presented]:
        return [one for one in units if self.age(one) is not None]

    def followed(self, units: tuple[Presented, ...]) -> list[Presented]:
        """Return the units whose sixtieth day after release is over."""
        return [one for one in units if (self.age(one) or 0) > DAYS]

    def within(self, one: Presented) -> list[Defect]:
        """Return what came after dispatch up to day 60."""
        return [found for found in self.after(one) if not self.is_late(one, found)]

    def after(self, one: Presented) -> list[Defect]:
        return [found for found in one.unit.defects if found.point == FIELD and found.state != "withdrawn"]

    def is_late(self, one: Presented, found: Defect) -> bool:
        if one.unit.released is None:
            return False
        return (found.day - self.view.plant.day_and_shift(one.unit.released)[0]).days > DAYS

    @cached_property
    def complete(self) -> list[str]:
        """Return the leading weeks of which enough that left are followed up."""
        told: list[str] = []
        for k, week in enumerate(self.weeks):
            units = self.view.units(week)
            left = self.left(units)
            if units and (not left or len(self.followed(units)) < ENOUGH * len(left)):
                break
            told = self.weeks[: k + 1] if units else told
        return told


def follow_up_sheet(view: View) -> Sheet:
    follow = FollowUp(view)
    followed = follow.followed(view.units(*follow.complete))
    within = sum(len(follow.within(one)) for one in followed)
    whole = within + sum(len(one.defects) for one in followed)
    with_one = sum(bool(follow.within(one)) for one in followed)
    low, high = wilson(with_one, len(followed)) if followed else (0.0, 0.0)
    later = sum(follow.is_late(one, found) for one in view.units(*follow.weeks) for found in follow.after(one))
    recent = view.units(*weeks_to(view.week, WINDOW))
    sums = {
        spoken(point, view.plant.stations): tuple(map(len, _point(follow, point)[0])) for point in view.plant.end_points
    }
    words: list[Words] = [
        *literal(f"followed up {DAYS} days", f"more than {DAYS} days ago"),
        *literal(f"followed up for {DAYS} days", f"day {DAYS}"),
        counted("{a} of {b} units left more", a=len(follow.followed(recent)), b=len(recent)),
        *(
            [counted("Every one of {b} units left more", b=len(recent))]
            if len(follow.followed(recent)) == len(recent)
            else []
        ),
        *(
            counted(f"{{n}} {noun} of {{m}} followed up", n=len(follow.complete), m=len(follow.weeks))
            for noun in ("weeks", "week")
        ),
        counted("{d} found after dispatch, {p} % of the {t} found by then, on {a} of {b} units", d=within,
                p=percent(within, whole), t=whole, a=with_one, b=len(followed)),
        counted("({p} %; 95 % range {a} % to {b} %)", f"few lines|{PLACE}",
                p=percent(with_one, len(followed)), a=low, b=high),
        counted("{p} % of units", "few lines > Got through", p=percent(with_one, len(followed))),
        counted("the {n} units that left more", PLACE, n=len(followed)),
        counted("the {n} unit that left more", PLACE, n=len(followed)),
        counted("{n} more came after day", n=later),
        *(
            counted(f"{{n}} complete {noun} of {{m}} weeks", n=len(follow.complete), m=len(follow.weeks))
            for noun in ("weeks", "week")
        ),
    ]  # fmt: skip
    return Sheet(
        words=words,
        rows=[
            Rows("What each point let through, {n} complete week{words:words}", lambda *_: _points(follow), PLACE),
            Rows("Findings by build week, {words:words}", lambda *_: _weeks(follow)),
        ],
        marks=[Marks("escapes", lambda words: [sum(sums.get(words.split(":")[0], (0, 0)))])],
    )


Pair = tuple[list[Defect], list[Defect]]


def _point(follow: FollowUp, point: str) -> tuple[Pair, Pair]:
    """Return what a point found and passed: on the followed units of the complete weeks, and on all."""
    view = follow.view

    def on(units: tuple[Presented, ...], to_day_60: bool) -> list[Defect]:
        return [
            one
            for unit in units
            for one in (*unit.defects, *(follow.within(unit) if to_day_60 else follow.after(unit)))
        ]

    return (
        found_and_passed(view, point, on(tuple(follow.followed(view.units(*follow.complete))), True)),
        found_and_passed(view, point, on(view.units(*follow.weeks), False)),
    )


def _points(follow: FollowUp) -> Expected:
    told: list[tuple[str, list[tuple[Value, ...]]]] = []
    points = [(point, *_point(follow, point)) for point in follow.view.plant.end_points]
    shares = passed_shares([ripe for _, ripe, _ in points])
    for (point, ripe, every), share in zip(points, shares, strict=True):
        counts = [(len(found),) for found in (*ripe, *every)]
        told.append((spoken(point, follow.view.plant.stations), [*counts[:2], share, *counts[2:]]))
    return Expected(told)


def _weeks(follow: FollowUp) -> Expected:
    told: list[tuple[str, list[tuple[Value, ...]]]] = []
    for week in reversed(follow.weeks):
        units = follow.view.units(week)
        left, ripe = follow.left(units), follow.followed(units)
        shown = (len(ripe), len(left), percent(len(ripe), len(left))) if left else ()
        at_points = sum(len(one.defects) for one in units)
        within = sum(len(follow.within(one)) for one in units)
        late = sum(len(follow.after(one)) for one in units) - within
        told.append((week, [(len(units),), shown, (at_points,), (within,), (late,), ()]))
    return Expected(told)
