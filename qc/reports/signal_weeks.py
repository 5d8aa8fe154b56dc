"""The weeks that a signal stood, for those who must leave them out of what they call usual."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class SignalWeeks:
    """Weeks in which a signal stood at a station for the types that it sums: Mondays first to last, both counted.

    first is the earliest week in which it may have begun; is_rise: it says more, not fewer.
    """

    station: str
    types: tuple[str, ...]
    first: date
    last: date
    is_rise: bool = True


def of_station(signals: Iterable[SignalWeeks], station: str) -> tuple[SignalWeeks, ...]:
    """Return the signals of one station."""
    return tuple(one for one in signals if one.station == station)


def of_types(signals: Iterable[SignalWeeks], types: Iterable[str]) -> tuple[SignalWeeks, ...]:
    """Return the signals that sum any of these types, at whatever station."""
    wanted = set(types)
    return tuple(one for one in signals if wanted.intersection(one.types))
