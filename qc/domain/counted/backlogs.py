"""What waits for somebody's word or look, row by row, as the store hands it to the reports.

An open origin is one of four things: nobody has named a place, somebody said that it is not known, a place is suspected
and its lead has not answered, or the lead disputes it and the manager's word is due. They are never one count.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

CONFIRM_DAYS = 3  # working days in which an origin should be confirmed (common practice, no source)


@dataclass(frozen=True, slots=True)
class ConfirmBefore:
    """The day before which something was found more than CONFIRM_DAYS working days ago.

    own: that day by the working days of each station that has its own.
    """

    day: date
    own: Mapping[str, date] = field(default_factory=dict)

    def at(self, station: str) -> date:
        """Return the day for what waits at a station."""
        return self.own.get(station, self.day)

    def texts(self) -> dict[str, str]:
        """Return both as text: ``before``, an ISO day, and ``own``, a JSON object of them by station."""
        own = {station: day.isoformat() for station, day in self.own.items()}
        return {"before": self.day.isoformat(), "own": json.dumps(own)}


@dataclass(frozen=True, slots=True)
class OpenOrigins:
    """Defects whose origin is open, by what is so; overdue: of all of them, found before the day asked for."""

    unnamed: int = 0
    not_known: int = 0
    suspected: int = 0
    disputed: int = 0
    overdue: int = 0

    @property
    def total(self) -> int:
        """Return all of them."""
        return self.unnamed + self.not_known + self.suspected + self.disputed


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenOrigin:
    """One defect whose origin is open. point: FIELD after dispatch; station: that it stands against, "" for none.

    since: the day of the dispute, else the day found; said_by, reason: of a dispute, else "". grade: which of the
    plant's own severities, "" for none.
    """

    defect: str
    unit: str
    shop_number: str
    model: str
    type: str
    severity: str
    grade: str
    point: str
    found_day: date
    finder: str
    station: str
    since: date
    said_by: str
    reason: str


@dataclass(frozen=True, slots=True)
class ClockedType:
    """Majors and minors of one type on the units of a period: found, of these repaired, minutes clocked on those."""

    type: str
    found: int
    repaired: int
    minutes: int


@dataclass(frozen=True, slots=True)
class RepairedType:
    """Repairs of one type done in a period, and how many of them came back at the re-check."""

    type: str
    repairs: int
    came_back: int


@dataclass(frozen=True, slots=True)
class EscapedCell:
    """Findings after dispatch of one station and type on the units of a period, within some days of their release.

    station: confirmed or else suspected, "UNK" for neither; units: with at least one.
    """

    station: str
    type: str
    defects: int
    units: int


@dataclass(frozen=True, slots=True)
class Escaped:
    """Units that left in a period, those of them with a finding, and the findings by station and type."""

    units: int
    units_with: int
    cells: tuple[EscapedCell, ...]
