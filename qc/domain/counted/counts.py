"""Count tables: what the store hands to the statistics. Integers in tuples, labels beside them, order stated.

Zeros are data: a count starts from inspections, so "looked at, none found" is a zero and "not looked at" is absent.
Only first presentations enter; defects withdrawn (not a defect, duplicate) never do.

**When a unit counts.** A unit is *presented* once every end point of its build (`Plant.presenting`) has ended its first
presentation there, and only then: before that, what is found on it is part of the truth about it, and it would look
better than it is. It counts once, with all defects of its first presentations, on the production day and in the shift
in which the last of these presentations ended: the unit's first presentation as a whole then ended, and a unit half
inspected on Friday belongs to the week in which it ended (common practice, no source). Every rate, Pareto, station,
signal and table counts these units; a count *at one point* alone counts the units that this point has presented.
Units that some end points have presented and others not are *under way*: in no such count, listed one by one.
A cancelled unit is not under way; where it was presented, that and what was found stay in the counts.
A unit that no plan holds yet counts as any other; until one does, which end points it needs goes by the day on which it
was met, and no count of planned units has it.

**What is found after dispatch, like for like.** A unit *leaves* on the day of its release; where several were signed,
of the latest before anything was found on it after dispatch. It is *followed up* once the 60th day after that is over.
Two groups of units are compared only by what was found up to day 60 of each: an older group has had longer to show what
got through, and whatever came later stands apart.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from qc.domain.counted.backlogs import ConfirmBefore, OpenOrigins
from qc.domain.words.speaking import marked

DayBasis = Literal["found", "work"]


@dataclass(frozen=True, slots=True)
class Slice:
    """What is asked for: production days first <= day < end, and what it is narrowed to (empty tuple: all).

    builds: (model, line as told of the unit) of the units of some of a plant's lines.
    """

    first: date
    end: date
    models: tuple[str, ...] = ()
    shifts: tuple[str, ...] = ()
    severities: tuple[str, ...] = ()
    builds: tuple[tuple[str, str], ...] = ()


LEFT = marked(
    "A unit leaves with its release; where several were signed, with the latest before anything was found on it after "
    "dispatch."
)
FOLLOW_DAYS = 60  # by then most dealers' findings have come (common practice, no source)
PRESENTED = marked("units that every end point of their build has presented")


@dataclass(frozen=True, slots=True)
class UnitUnderWay:
    """A unit that some end points of its build have presented and others not, as of the end of a day.

    since: the day of its first presentation at any; presented, awaited: points in flow order; defects: found so far at
    first presentations that have ended, in no rate yet.
    """

    unit: str
    shop_number: str
    model: str
    since: date
    presented: tuple[str, ...]
    awaited: tuple[str, ...]
    defects: int


@dataclass(frozen=True, slots=True)
class WeekCounts:
    """Units first presented at a point and what was found on them, by ISO week in time order, no week left out.

    weeks: "2026-W10"…; inspected: units whose first presentation at the point ended in the week, or (line) that were
    presented in it, see above; defectives:
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

    by_severity: one (critical, major, minor) triple for each label. inspected: units presented in the slice.
    denominator: in words.
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


@dataclass(frozen=True, slots=True, kw_only=True)
class StationWeeks:
    """One station's defects by ISO week, by the day presented (found) or of its work (work).

    exposed: units presented (found) or worked on and presented since (work) in the week, whose build contains it;
    confirmed, suspected (still open, confirmed nowhere): their defects; defectives: those with at least one of either.
    elsewhere: defects put down to the station on units whose build does not contain it, as after their line was
    corrected; they stand in none of the others, so that a rate is of its own units alone.
    """

    station: str
    basis: DayBasis
    weeks: tuple[str, ...]
    exposed: tuple[int, ...]
    confirmed: tuple[int, ...]
    suspected: tuple[int, ...]
    defectives: tuple[int, ...]
    elsewhere: tuple[int, ...]
    partial: bool
    denominator: str


@dataclass(frozen=True, slots=True)
class FirstPassWeeks:
    """First presentations by ISO week at one point, or at the line (every end point) where point is "line".

    presented: units whose first presentation there ended in the week (line: those presented in it, see above);
    clean_major: with no test failed and no critical or major; clean_all: with no test failed and no defect.
    """

    point: str
    weeks: tuple[str, ...]
    presented: tuple[int, ...]
    clean_major: tuple[int, ...]
    clean_all: tuple[int, ...]
    partial: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Critical:
    """One critical defect that stands (not withdrawn), wherever and at whatever presentation it was found.

    found_day: production day; point: where first recorded, FIELD after dispatch. units_since_last: units presented
    at the end points after the day of the critical before it, up to and with this one's day; None for the first on
    record, narrowed as the slice is. suspected, confirmed: stations or "". on_cancelled: its unit is cancelled. grade:
    which of the plant's own severities, "" for none.
    """

    defect: str
    unit: str
    shop_number: str
    model: str
    type: str
    zone: str
    point: str
    found_day: date
    found_ms: int
    finder: str
    suspected: str
    confirmed: str
    origin_state: str
    state: str
    units_since_last: int | None
    on_cancelled: bool = False
    grade: str = ""


@dataclass(frozen=True, slots=True)
class PointFindings:
    """Defects by detecting point, in flow order, only of types and origins that the point was meant to find.

    found: first recorded there; passed: recorded at a later point or after dispatch, so that it let them through.
    unknown_found, unknown_passed: of these, of unknown or disputed origin, which is taken to lie before the point.
    """

    points: tuple[str, ...]
    found: tuple[int, ...]
    passed: tuple[int, ...]
    unknown_found: tuple[int, ...]
    unknown_passed: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftWeeks:
    """The units presented in each ISO week, in time order, none left out, and what was found on them after dispatch.

    units: presented; left: of these, released; followed: of these, the 60th day after it is over. at_points: defects
    of first presentations on all of the units; so_far: found after dispatch up to day 60 of each unit; later: after it.
    followed_at_points, followed_found: the same on the followed units alone; followed_with: followed units on which
    something was found up to day 60.
    """

    weeks: tuple[str, ...]
    units: tuple[int, ...]
    left: tuple[int, ...]
    followed: tuple[int, ...]
    at_points: tuple[int, ...]
    so_far: tuple[int, ...]
    later: tuple[int, ...]
    followed_at_points: tuple[int, ...]
    followed_found: tuple[int, ...]
    followed_with: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class StationTypes:
    """One station's defects by type in a slice (seen day), in code order; types without one are left out.

    Those of its own units alone, as in `StationWeeks`.
    """

    station: str
    types: tuple[str, ...]
    confirmed: tuple[int, ...]
    suspected: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DataQualityCounts:
    """How fit the data of a slice are. Every pair is (how many of them, of how many).

    no_record: units planned for a day of the slice that is over, without an ended first presentation at some end
    point, of units so planned; not_looked_at: zones not looked at (marked so, or not marked at all), of the zones
    of units first presented at inspection points; zones_told: of these, marked "not looked at" with a reason;
    zones_together: zones that one act marked as looked at with others, of all marked so at the same looks.
    unknown_origin: defects of unknown or disputed origin, of defects counted; open_origins: the open ones on units of
    the slice by what is so; waiting: all that the plant found, whenever and at whatever look, overdue where found
    before `confirm_before`; waiting_field: the same found after dispatch, of every shift; late_synced: defects that
    reached the server more than `late_hours` after they were found, of all found; duplicates: withdrawn as such, of all
    recorded but in a blind second look, whose twins are asked for.
    field_without_record: findings after dispatch on units that some end point has never presented, which therefore
    are in no table, of such findings, of every shift: what is found after dispatch is found in none.
    unfinished: first presentations begun and not ended, now, whenever begun. inspectors: (point, code, first
    presentations), in that order. partial: the slice was not over. without_day: shop numbers of units with a defect
    whose day lies outside any calendar of the plant, whatever the slice; such a defect is in no count.
    """

    no_record: tuple[int, int]
    not_looked_at: tuple[int, int]
    zones_told: int
    zones_together: tuple[int, int]
    unknown_origin: tuple[int, int]
    open_origins: OpenOrigins
    waiting: OpenOrigins
    waiting_field: OpenOrigins
    confirm_before: ConfirmBefore
    late_synced: tuple[int, int]
    late_hours: int
    duplicates: tuple[int, int]
    field_without_record: tuple[int, int]
    unfinished: int
    inspectors: tuple[tuple[str, str, int], ...]
    partial: bool
    without_day: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CellWeeks:
    """Defects by cell (origin, type), ISO week in time order (none left out) and model, and the units of the weeks.

    units[week][model]; defects[cell][week][model], confirmed and suspected together, cells in code order; a cell
    without a defect in any of the weeks is not there. By the seen day of the units. partial: the last week was not
    over. models: codes, each on its line where the plant has several. elsewhere: for each station that some of them do
    not come by, whether each does not, in their order.
    """

    weeks: tuple[str, ...]
    models: tuple[str, ...]
    units: tuple[tuple[int, ...], ...]
    cells: tuple[tuple[str, str], ...]
    defects: tuple[tuple[tuple[int, ...], ...], ...]
    partial: bool
    elsewhere: tuple[tuple[str, tuple[bool, ...]], ...] = ()
