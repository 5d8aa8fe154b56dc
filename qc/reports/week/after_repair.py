"""Repairs: minutes clocked beside those that the types usually take, and repairs that came back at the re-check."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.domain.backlogs import RepairedType
from qc.reports.asking import LEVEL, Asking
from qc.reports.periods import Period
from qc.reports.wording import counted, percent, severities_words
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval, wilson_interval


@dataclass(frozen=True, slots=True)
class ClockedLine:
    """Minutes of one period's units. repaired of found defects have minutes; usual: of those repaired.

    severities: what is counted, in words, never criticals.
    """

    period: str
    severities: str
    units: int
    found: int
    repaired: int
    clocked: int
    usual: int

    @property
    def a_unit(self) -> tuple[float, float] | None:
        """Return (clocked, usual) minutes a unit, None without units."""
        return (self.clocked / self.units, self.usual / self.units) if self.units else None


@dataclass(frozen=True, slots=True)
class CameBackLine:
    """Repairs of one type, and how many came back; type "": all types.

    share: of all types with its interval. A type alone has none: it has a row only because one came back, so that an
    interval made for any type would lie too high (as those of findings after dispatch, see there).
    """

    type: str
    name: str
    repairs: int
    came_back: int
    share: ShareInterval | TooLittle | None = None


@dataclass(frozen=True, slots=True)
class AfterRepair:
    """clocked: the week, then the weeks before. came_back: all types first, then those with any, most first, of the
    repairs done in repaired_in. clocked_sentence, sentence: in words."""

    clocked: tuple[ClockedLine, ClockedLine]
    repaired_in: Period
    came_back: tuple[CameBackLine, ...]
    clocked_sentence: str
    sentence: str


CLOCKED = (
    "Clocked by the repairers on majors and minors found at first presentation; usual: what their types take by the "
    "plant's own table. Only defects that are repaired are in either, on units that every end point has presented."
)


def clocked_line(ask: Asking, period: Period) -> ClockedLine:
    """Return the minutes clocked on the units of a period beside the usual ones of the same defects."""
    found = repaired = clocked = usual = 0
    for one in ask.counts.clocked(ask.slice(period, ask.counted)):
        known = ask.plant.types.get(one.type)
        found, repaired, clocked = found + one.found, repaired + one.repaired, clocked + one.minutes
        usual += one.repaired * known.rework_min if known else 0
    units = sum(ask.counts.seen_units(ask.slice(period)).values())
    return ClockedLine(period.name, severities_words(ask.counted), units, found, repaired, clocked, usual)


def clocked_words(line: ClockedLine) -> str:
    """Return the minutes in words: a unit and in all, clocked beside usual."""
    if line.a_unit is None or not line.repaired:
        return f"No repair of {line.severities} is clocked yet on units of {line.period}."
    clocked, usual = line.a_unit
    return (
        f"{clocked:.0f} minutes a unit clocked on {line.severities} in {line.period}, {usual:.0f} usual for the same "
        f"defects ({line.clocked} against {line.usual} on {counted(line.units, 'unit')}; {line.repaired} of "
        f"{line.found} repaired)."
    )


def after_repair(ask: Asking, week: Period, window: Period) -> AfterRepair:
    """Return the week's repairs, and what came back of those done in the weeks before and the week itself."""
    lines = clocked_line(ask, week), clocked_line(ask, window)
    both = Period(window.first, week.end, f"{window.weeks + 1} weeks to {week.name}", week.partial)
    told = came_back(ask, ask.counts.repaired(both.first, both.end))
    return AfterRepair(lines, both, told, clocked_words(lines[0]), _sentence(told[0], both))


def came_back(ask: Asking, rows: Sequence[RepairedType]) -> tuple[CameBackLine, ...]:
    """Return all types together, then each of which a repair came back, most first."""
    repairs, back = sum(row.repairs for row in rows), sum(row.came_back for row in rows)
    whole = CameBackLine("", "All types", repairs, back, wilson_interval(back, repairs, LEVEL))
    types = [
        CameBackLine(row.type, ask.type_name(row.type), row.repairs, row.came_back) for row in rows if row.came_back
    ]
    return (whole, *sorted(types, key=lambda line: (-line.came_back, line.type)))


def _sentence(whole: CameBackLine, period: Period) -> str:
    if not isinstance(whole.share, ShareInterval):
        return f"No repair was done in {period.name}."
    span = f"{percent(whole.share.low)} to {percent(whole.share.high)}"
    return (
        f"{whole.came_back} of {counted(whole.repairs, 'repair')} done in {period.name} came back at the re-check "
        f"({percent(whole.share.share)}; {percent(LEVEL)} range {span})."
    )
