"""What one page was asked for: its week, its weeks, its narrowing; and the counts that several sections share."""

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from tests.recount.plant import PlantTables, monday_of, week_of
from tests.recount.presented import Counted, Narrowed, Presented, weeks_to
from tests.recount.record import Defect, Record

NON_CRITICAL = ("major", "minor")
WHOLE = Narrowed()
BEFORE = 8  # weeks beside the week


@dataclass(frozen=True)
class View:
    """One asking. now_ms: when it was asked; week: the week it is about; weeks: how many on the charts.

    order: by what the Pareto is ordered, "number", "minutes" of usual rework or "severity"; chosen: the weeks of a
    baseline that the address sets, without those it leaves out, () for the record's own.
    """

    counted: Counted
    now_ms: int
    week: str
    weeks: int = 26
    narrowed: Narrowed = WHOLE
    severities: tuple[str, ...] = NON_CRITICAL
    order: str = "number"
    chosen: tuple[str, ...] = ()

    @property
    def asked(self) -> tuple[str, ...]:
        """Return the severities of the narrowing with criticals among them, for what lists defects of every kind."""
        return ("critical", *self.severities)

    @property
    def plant(self) -> PlantTables:
        return self.counted.plant

    @property
    def record(self) -> Record:
        return self.counted.record

    @property
    def today(self) -> date:
        return self.plant.local(self.now_ms).date()

    @cached_property
    def record_weeks(self) -> tuple[str, ...]:
        """Return the record's weeks up to the view's: from the first with a unit presented, empty ones left out."""
        return tuple(sorted({one.week for one in self.counted.units if one.week <= self.week}))

    @cached_property
    def charted(self) -> tuple[str, ...]:
        """Return the chart's weeks that the record has."""
        wanted = weeks_to(self.week, self.weeks)
        return tuple(one for one in wanted if one in self.record_weeks)

    @cached_property
    def before(self) -> tuple[str, ...]:
        """Return the weeks before the view's, none from before the record's first; at least one."""
        weeks = weeks_to(week_of(monday_of(self.week) - timedelta(weeks=1)), BEFORE)
        first = min((one.week for one in self.counted.units), default="")
        return tuple(one for one in weeks if one >= first) or weeks[-1:]

    def units(self, *weeks: str) -> tuple[Presented, ...]:
        """Return the units of the view that were presented in some weeks."""
        return self.counted.in_weeks(weeks, self.narrowed)

    def defects(self, *weeks: str, severities: tuple[str, ...] | None = None) -> list[Defect]:
        """Return the defects of the view's severities on those units."""
        wanted = self.severities if severities is None else severities
        return [one for unit in self.units(*weeks) for one in unit.defects if one.severity in wanted]

    def minutes(self, defects: list[Defect]) -> int:
        """Return the minutes that the plant's table says their types usually take."""
        return sum(int(self.plant.types[one.type]["rework_min"]) for one in defects)

    def by_type(self, *weeks: str) -> Counter[str]:
        return Counter(one.type for one in self.defects(*weeks))


def each(part: float, whole: int) -> tuple[float, ...]:
    """Return what a cell of a rate holds: the rate, or no number where nothing was presented."""
    return (part / whole,) if whole else ()


def week_in(day: date | None, weeks: tuple[str, ...]) -> bool:
    """Return whether a day lies in one of some ISO weeks."""
    return day is not None and week_of(day) in weeks


def spoken(code: str, rows: dict[str, dict[str, str]]) -> str:
    """Return a code and its name as the pages print them."""
    return f"{code} {rows[code]['name']}"
