"""A station lead's page: own defects by the day the work was done and by the day found, and what waits."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from qc.domain.counts import StationWeeks
from qc.reports.periods import Period
from qc.stats.answers import TooLittle


@dataclass(frozen=True, slots=True)
class UsualRange:
    """The usual range of a week's defects on its own number of units, and how it was got.

    low, high: defects, both usual; expected: the mean; weeks: whole weeks it rests on, exposed units in them.
    """

    low: int
    high: int
    expected: float
    weeks: int
    units: int
    level: float
    method: str


@dataclass(frozen=True, slots=True)
class WeekDot:
    """One dot of the run: defects of the week (confirmed + suspected), units exposed, and what is usual for them.

    state: "usual", "more", "fewer", "partial" (not over or its units not all seen yet), "no units".
    """

    week: str
    confirmed: int
    suspected: int
    defects: int
    defectives: int
    exposed: int
    usual: UsualRange | TooLittle
    state: Literal["usual", "more", "fewer", "partial", "no units", "too little"]


@dataclass(frozen=True, slots=True)
class StationTrend:
    """A station's weeks on one basis: "work" by the day the work was done, "found" by the day found.

    counts: the store's table; dots beside its weeks; notes: (week, words) of change notes and criteria changes.
    sentence: "3 last week; 1 to 6 is usual".
    """

    basis: Literal["work", "found"]
    counts: StationWeeks
    dots: tuple[WeekDot, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class WaitingDefect:
    """A defect that waits for this station's word. photos: SHA-256 each. age_days: production days since found.

    zone_name, type_name: words; origin_state: "suspected" or "disputed"; overdue: over 3 working days old.
    """

    defect: str
    unit: str
    shop_number: str
    model: str
    type: str
    type_name: str
    severity: str
    zone: str
    zone_name: str
    point: str
    note: str
    found_ms: int
    found_day: date
    finder: str
    origin_state: str
    photos: tuple[str, ...]
    age_days: int
    overdue: bool
    possible_origins: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StationTypeLine:
    """One type at this station over the window: week and weeks before, confirmed and suspected apart."""

    type: str
    type_name: str
    week_confirmed: int
    week_suspected: int
    before_confirmed: int
    before_suspected: int
    usual: UsualRange | TooLittle


@dataclass(frozen=True, slots=True)
class PhotoOfDefect:
    """A photo of one of the station's own defects."""

    sha256: str
    defect: str
    type_name: str
    shop_number: str
    found_day: date


@dataclass(frozen=True, slots=True)
class ChangeNote:
    """What was changed at the station and when: explains later shifts better than any test."""

    id: str
    change: str
    what: str
    from_day: date
    noted_by: str


@dataclass(frozen=True, slots=True)
class StationReport:
    """One station's page. week: the last whole week or the one asked for; history: the weeks of the trends.

    by_work first, by_found beside it. moved_away: defects suspected here once and confirmed elsewhere in the
    history. passed_through: defects of other origin found after this station (stations that can detect), else None.
    denominator: in words.
    """

    station: str
    name: str
    kind: str
    crew: str
    week: Period
    history: Period
    by_work: StationTrend
    by_found: StationTrend
    types: tuple[StationTypeLine, ...]
    waiting: tuple[WaitingDefect, ...]
    photos: tuple[PhotoOfDefect, ...]
    change_notes: tuple[ChangeNote, ...]
    moved_away: int
    sentence: str
    denominator: str
