"""Criticals: every one by number and by date, with the units between them; never a rate, never a percentage."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class CriticalLine:
    """One critical defect, as the list shows it.

    found_day: production day; point: where it was first recorded ("FIELD" after dispatch); origin: confirmed
    or else suspected station, "" not known; origin_state: "none", "suspected", "confirmed", "disputed", "settled".
    state: "open", "repaired", "closed". units_since_last: units presented at the end points since the critical
    before it, by whole days; None for the first in the history. alike: ids of criticals of the same type found in
    the 14 days before it.
    """

    defect: str
    unit: str
    shop_number: str
    model: str
    type: str
    type_name: str
    zone: str
    zone_name: str
    point: str
    found_day: date
    found_ms: int
    finder: str
    origin: str
    origin_name: str
    origin_state: str
    state: str
    units_since_last: int | None
    alike: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Safety:
    """The criticals of the week, and those of the history before it, latest first.

    units_since: units presented since the last critical, None where there never was one.
    bells: sentences where two criticals of one type stand within 14 days, () where none do.
    sentence: the week in words.
    """

    week: tuple[CriticalLine, ...]
    before: tuple[CriticalLine, ...]
    units_since: int | None
    bells: tuple[str, ...]
    sentence: str
