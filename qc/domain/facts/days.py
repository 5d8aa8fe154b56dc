"""Which days a plant's record can speak of, and which an operation may name.

A day typed wrongly (9999, 0001) must not stretch a calendar: it is refused at the door, and one that an earlier
program let in is counted nowhere and told as a fault of the data.
"""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from qc.domain.facts.operations import Fault

FIRST_DAY, END_DAY = date(2000, 1, 1), date(2100, 1, 1)  # no record of a plant that uses this reaches beyond
_YEAR = 366
_LONG = 10 * _YEAR

# Of each kind the field that names a day, and how many days it may lie before and after the day of receipt. What has
# happened may be a day ahead, since the plant's clock and the server's may stand on two sides of midnight.
_WINDOWS: Mapping[str, tuple[str, int, int]] = {
    "unit_planned": ("planned_day", _LONG, _LONG),
    "plan_changed": ("changes.planned_day", _LONG, _LONG),
    "test_recorded": ("calibrated_until", _LONG, _LONG),
    "field_finding": ("found_day", _LONG, 1),
    "change_noted": ("from_day", _LONG, _YEAR),
    "plant_revised": ("from_day", _YEAR, 1),
}


def is_countable(day: date) -> bool:
    """Return whether a day can stand in a calendar of the record: FIRST_DAY <= day < END_DAY."""
    return FIRST_DAY <= day < END_DAY


def _named(body: Mapping[str, Any], field: str) -> Any:
    group, _, name = field.rpartition(".")
    return (body[group] if group else body).get(name)


def day_fault(kind: str, body: Mapping[str, Any], received: date) -> Fault | None:
    """Return the day of a well-shaped body that is too far from the day of receipt, None where none is.

    The words name the day and the range that would do.
    """
    if kind not in _WINDOWS:
        return None
    field, before, after = _WINDOWS[kind]
    told = _named(body, field)
    if told is None:
        return None
    first = max(received - timedelta(days=before), FIRST_DAY)
    last = min(received + timedelta(days=after), END_DAY - timedelta(days=1))
    if first <= date.fromisoformat(told) <= last:
        return None
    return Fault(f"body.{field}", f"{told} is outside {first.isoformat()} to {last.isoformat()}; give the day it is")
