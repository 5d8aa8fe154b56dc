"""Units that some end points have presented and others not: in no figure of the line yet, told one by one."""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date

from qc.domain.counts import UnitUnderWay
from qc.reports.asking import Asking
from qc.reports.periods import Period
from qc.reports.wording import counted, listed


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
    units = ask.counts.under_way(day, ask.models)
    defects = sum(one.defects for one in units)
    when = "now" if day == ask.today else f"at the end of {week.name}"
    named = tuple(replace(one, presented=_named(ask, one.presented), awaited=_named(ask, one.awaited)) for one in units)
    return UnderWay(day, named, defects, _sentence(named, defects, when))


def _named(ask: Asking, points: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(map(ask.names.place, points))


def _sentence(units: tuple[UnitUnderWay, ...], defects: int, when: str) -> str:
    if not units:
        return ""
    waits = Counter(one.awaited for one in units)
    where = listed([f"{count} {_wait(count)} for {listed(points)}" for points, count in sorted(waits.items())], 4)
    found = f"; {counted(defects, 'defect')} found on {'it' if len(units) == 1 else 'them'} so far" if defects else ""
    are = "is" if len(units) == 1 else "are"
    return f"{counted(len(units), 'unit')} under way {when} {are} in no figure of the line yet: {where}{found}."


def _wait(count: int) -> str:
    return "waits" if count == 1 else "wait"
