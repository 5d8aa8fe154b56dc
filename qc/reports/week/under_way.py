"""Units that some end points have presented and others not: in no figure of the line yet, told one by one."""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date

from qc.domain.counted.counts import UnitUnderWay
from qc.domain.words.speaking import say, say_many
from qc.reports.asking import Asking
from qc.reports.periods import Period
from qc.reports.wording import listed


@dataclass(frozen=True, slots=True)
class UnderWay:
    """Units under way at the end of a day, longest first; of every shift, since a unit has none before it counts.

    Their points stand with their names. defects: found on them so far. sentence: how many and where they wait, ""
    where there are none.
    """

    day: date
    units: tuple[UnitUnderWay, ...]
    defects: int
    sentence: str


def units_under_way(ask: Asking, week: Period) -> UnderWay:
    """Return the units under way at the end of the week, or now where it is not over."""
    day = min(week.last_day, ask.today)
    units = ask.counts.under_way(day, ask.models, ask.builds)
    defects = sum(one.defects for one in units)
    when = say("now") if day == ask.today else say("at the end of {week}", week=week.name)
    named = tuple(replace(one, presented=_named(ask, one.presented), awaited=_named(ask, one.awaited)) for one in units)
    return UnderWay(day, named, defects, _sentence(named, defects, when))


def _named(ask: Asking, points: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(map(ask.names.place, points))


def _sentence(units: tuple[UnitUnderWay, ...], defects: int, when: str) -> str:
    if not units:
        return ""
    waits = Counter(one.awaited for one in units)
    where = listed(
        [
            say_many("{number} waits for {points}", "{number} wait for {points}", count, points=listed(points))
            for points, count in sorted(waits.items())
        ],
        4,
    )
    if not defects:
        return say_many(
            "{number} unit under way {when} is in no figure of the line yet: {where}.",
            "{number} units under way {when} are in no figure of the line yet: {where}.",
            len(units),
            when=when,
            where=where,
        )
    return say_many(
        "{number} unit under way {when} is in no figure of the line yet: {where}; {defects} found on it so far.",
        "{number} units under way {when} are in no figure of the line yet: {where}; {defects} found on them so far.",
        len(units),
        when=when,
        where=where,
        defects=say_many("{number} defect", "{number} defects", defects),
    )
