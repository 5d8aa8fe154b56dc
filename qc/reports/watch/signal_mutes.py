"""Which signals a manager has muted, and when a muted one comes back before its day."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from qc.domain.words.said_weeks import day_figures
from qc.domain.words.speaking import say
from qc.reports.periods import WEEK
from qc.reports.watch.causes import rate_ratio
from qc.reports.watch.watching import Moved
from qc.stats.answers import TooLittle
from qc.store.reading.reads import Reads

# Asked anew each week that a mute lasts, so more than the 95 % of one look (common practice, no source).
WORSE_LEVEL = 0.99


@dataclass(frozen=True, slots=True, kw_only=True)
class Mute:
    """A signal that a manager does not want listed before a day. type: the label of the watched sum, with its name.

    from_day: the production day on which it was muted; until: the last day on which it is not listed.
    """

    id: str
    station: str
    type: str
    type_name: str
    direction: Literal["up", "down"]
    reason: str
    from_day: date
    until: date
    muted_by: str


def standing_mutes(reads: Reads, today: date, name: Callable[[str], str]) -> tuple[Mute, ...]:
    """Return the mutes that stand on a production day, first to end first; name gives a watched sum's name."""
    return tuple(
        Mute(
            id=one["id"],
            station=one["station"],
            type=one["type"],
            type_name=name(one["type"]),
            direction=one["direction"],
            reason=one["reason"],
            from_day=date.fromisoformat(one["from_day"]),
            until=date.fromisoformat(one["until"]),
            muted_by=one["muted_by"],
        )
        for one in reads.standing_mutes(today.isoformat())
    )


def mute_of(cause: Sequence[Moved], mutes: Sequence[Mute], first: date, scatter: float) -> Mute | None:
    """Return the mute that keeps a cause off the list, None where none does; first: Monday of the watch's first week.

    scatter: variance of what is watched over Poisson's, 0 for no more.
    What the manager did not see when muting is listed all the same: the other direction, an alarm raised since on
    types that the muted sum does not hold, a further move that began since, and a rise that is clearly worse since.
    """
    return next((mute for mute in mutes if _holds(mute, cause, first, scatter)), None)


def muted_words(mutes: Sequence[Mute]) -> str:
    """Return how many signals are kept off the list and until when; mutes holds at least one."""
    ends = sorted(one.until for one in mutes)
    first, last = day_figures(ends[0]), day_figures(ends[-1])
    if first == last:
        return say("{number} muted until {day}.", number=len(ends), day=first)
    return say("{number} muted until {day} to {last}.", number=len(ends), day=first, last=last)


def _holds(mute: Mute, cause: Sequence[Moved], first: date, scatter: float) -> bool:
    place = (cause[0].series.station, cause[0].direction)
    own = next((one.series for one in cause if one.series.label == mute.type), None)
    if place != (mute.station, mute.direction) or own is None:
        return False
    seen = (mute.from_day - first) // WEEK - 1  # place of the last week that was whole on that day
    known = [one for one in cause if one.listed <= seen or not set(one.series.types).isdisjoint(own.types)]
    return len(known) == len(cause) and not any(_has_gone_on(one, seen, scatter) for one in cause)


def _has_gone_on(move: Moved, seen: int, scatter: float) -> bool:
    """Whether a move began, or a rise became clearly worse, after the week that was the last whole one when muted."""
    if move.begun > seen:
        return True
    series, before, after = move.series, slice(move.begun, seen + 1), slice(seen + 1, None)
    then, since = ((sum(series.defects[one]), sum(series.expected[one])) for one in (before, after))
    ratio = rate_ratio(then, since, WORSE_LEVEL, scatter)
    return move.direction == "up" and not isinstance(ratio, TooLittle) and ratio.low > 1
