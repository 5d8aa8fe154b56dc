"""Units by a range of their shop numbers or planned days, in order of sequence: what is done to many at once."""

import sqlite3
from dataclasses import dataclass

from qc.domain.handed.unit_range import RangeUnit

_UNITS = """
SELECT chassis, shop_number, model, state
  FROM unit
 WHERE {which}
 ORDER BY sequence, chassis
 LIMIT :most
"""
# Ends of one length, so that 9 does not stand after 10.
_OF_NUMBERS = "length(shop_number) = length(:first) AND shop_number >= :first AND shop_number <= :last"
_NUMBERED = _UNITS.format(which=_OF_NUMBERS)
_IN_RANGE = f"""
SELECT chassis, shop_number, planned_day, state, released_by, model, line, met_by
  FROM unit
 WHERE {_OF_NUMBERS}
 ORDER BY sequence, chassis
 LIMIT :most
"""
_PLANNED = _UNITS.format(which="met_by IS NULL AND planned_day >= :first AND planned_day <= :last")


@dataclass(frozen=True, slots=True)
class NumberedUnit:
    """A unit with its numbers; state as in the record."""

    chassis: str
    shop_number: str
    model: str
    state: str


def units_numbered(connection: sqlite3.Connection, first: str, last: str, most: int) -> list[NumberedUnit]:
    """Return the units whose shop number is one of a range, both ends in it, of the length of its ends."""
    return _units(connection, _NUMBERED, first, last, most)


def units_planned(connection: sqlite3.Connection, first: str, last: str, most: int) -> list[NumberedUnit]:
    """Return the units planned for one of some days (ISO), both ends in it."""
    return _units(connection, _PLANNED, first, last, most)


def units_in_range(connection: sqlite3.Connection, first: str, last: str, most: int) -> list[RangeUnit]:
    """Return the same units as `units_numbered` does, with what an act on them asks."""
    rows = connection.execute(_IN_RANGE, {"first": first, "last": last, "most": most})
    return [
        RangeUnit(
            chassis=row[0],
            shop_number=row[1],
            planned_day=row[2],
            is_cancelled=row[3] == "cancelled",
            is_released=row[3] == "released",
            released_by=row[4] or "",
            model=row[5],
            line=row[6],
            met_by=row[7] or "",
        )
        for row in rows
    ]


def _units(connection: sqlite3.Connection, query: str, first: str, last: str, most: int) -> list[NumberedUnit]:
    rows = connection.execute(query, {"first": first, "last": last, "most": most})
    return [NumberedUnit(*row) for row in rows]
