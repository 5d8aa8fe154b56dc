"""Count tables: what the store hands to the statistics. Integers in tuples, labels beside them, order stated.

Zeros are data: a count starts from inspections, so "looked at, none found" is a zero and "not looked at" is absent.
Only first presentations enter; defects withdrawn (not a defect, duplicate) never do.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

DayBasis = Literal["found", "work"]


@dataclass(frozen=True, slots=True)
class Slice:
    """What is asked for: production days first <= day < end, and what it is narrowed to (empty tuple: all)."""

    first: date
    end: date
    models: tuple[str, ...] = ()
    shifts: tuple[str, ...] = ()
    severities: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WeekCounts:
    """Units first presented at a point and what was found on them, by ISO week in time order, no week left out.

    weeks: "2026-W10"…; inspected: units whose first presentation at the point ended in the week; defectives:
    those with at least one defect of the counted severities; defects: defects on them. partial: the last week
    was not over at the time of asking. denominator: in words.
    """

    point: str
    weeks: tuple[str, ...]
    inspected: tuple[int, ...]
    defectives: tuple[int, ...]
    defects: tuple[int, ...]
    partial: bool
    denominator: str


@dataclass(frozen=True, slots=True)
class CategoryCounts:
    """Defects by category (type or origin), in code order. minutes: usual rework minutes times count.

    by_severity: one (critical, major, minor) triple for each label. inspected: units first presented at the end
    points in the slice. denominator: in words.
    """

    what: Literal["type", "suspected origin", "confirmed origin", "origin"]
    labels: tuple[str, ...]
    counts: tuple[int, ...]
    minutes: tuple[int, ...]
    by_severity: tuple[tuple[int, int, int], ...]
    inspected: int
    denominator: str


@dataclass(frozen=True, slots=True)
class OriginDetection:
    """Defects by origin (rows) and detection point (columns, flow order, FIELD last); counts[row][column].

    confirmed and suspected are the same shape; a defect stands in one of them: confirmed or settled, else
    suspected. unknown: by column, defects whose origin nobody named or that is disputed.
    """

    origins: tuple[str, ...]
    points: tuple[str, ...]
    confirmed: tuple[tuple[int, ...], ...]
    suspected: tuple[tuple[int, ...], ...]
    unknown: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class StationWeeks:
    """One station's defects by ISO week, by the day found or by the day its work was done.

    exposed: units first presented (found) or worked on (work) in the week whose build contains the station;
    confirmed, suspected (still open, confirmed nowhere): defects; defectives: units with at least one of either.
    """

    station: str
    basis: DayBasis
    weeks: tuple[str, ...]
    exposed: tuple[int, ...]
    confirmed: tuple[int, ...]
    suspected: tuple[int, ...]
    defectives: tuple[int, ...]
    partial: bool
    denominator: str


@dataclass(frozen=True, slots=True)
class FirstPassWeeks:
    """First presentations by ISO week at one point, or at the line (every end point) where point is "line".

    presented: units whose first presentation ended in the week (line: whose last end point's did);
    clean_major: with no test failed and no critical or major; clean_all: with no test failed and no defect.
    """

    point: str
    weeks: tuple[str, ...]
    presented: tuple[int, ...]
    clean_major: tuple[int, ...]
    clean_all: tuple[int, ...]
    partial: bool
