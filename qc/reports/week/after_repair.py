"""Repairs: minutes clocked beside those that the types usually take, and repairs that came back at the re-check."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.domain.counted.backlogs import RepairedType
from qc.domain.counted.by_unit import PartByUnit
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.asking import LEVEL, Asking
from qc.reports.periods import Period
from qc.reports.wording import percent, severities_words
from qc.stats.answers import TooLittle
from qc.stats.intervals.by_unit import shares_by_unit
from qc.stats.intervals.one_sample import ShareInterval

WITH_THIS = marked("{weeks} weeks to {last}")


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

    share: of all types with its interval by units, as repairs of one unit go together. A type alone has none: it has a
    row only because one came back, so that an interval made for any type would lie too high (as those of findings after
    dispatch, see there).
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


CLOCKED = marked(
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
        return say(
            "No repair of {severities} is clocked yet on units of {period}.",
            severities=line.severities,
            period=line.period,
        )
    clocked, usual = line.a_unit
    return say_many(
        "{clocked:.0f} minutes a unit clocked on {severities} in {period}, {usual:.0f} usual for the same defects "
        "({clocked_all} against {usual_all} on {number} unit; {repaired} of {found} repaired).",
        "{clocked:.0f} minutes a unit clocked on {severities} in {period}, {usual:.0f} usual for the same defects "
        "({clocked_all} against {usual_all} on {number} units; {repaired} of {found} repaired).",
        line.units,
        clocked=clocked,
        severities=line.severities,
        period=line.period,
        usual=usual,
        clocked_all=line.clocked,
        usual_all=line.usual,
        repaired=line.repaired,
        found=line.found,
    )


def after_repair(ask: Asking, week: Period, window: Period) -> AfterRepair:
    """Return the week's repairs, and what came back of those done in the weeks before and the week itself."""
    lines = clocked_line(ask, week), clocked_line(ask, window)
    both = Period(window.first, week.end, WITH_THIS, week.partial)
    by_unit = ask.counts.repaired_by_unit(both.first, both.end)
    told = came_back(ask, ask.counts.repaired(both.first, both.end), by_unit)
    return AfterRepair(lines, both, told, clocked_words(lines[0]), _sentence(told[0], both))


def came_back(ask: Asking, rows: Sequence[RepairedType], by_unit: PartByUnit) -> tuple[CameBackLine, ...]:
    """Return all types together, then each of which a repair came back, most first; by_unit: all of the same."""
    repairs, back = sum(row.repairs for row in rows), sum(row.came_back for row in rows)
    whole = CameBackLine("", say("All types"), repairs, back, shares_by_unit([by_unit], LEVEL)[0])
    types = [
        CameBackLine(row.type, ask.type_name(row.type), row.repairs, row.came_back) for row in rows if row.came_back
    ]
    return (whole, *sorted(types, key=lambda line: (-line.came_back, line.type)))


def _sentence(whole: CameBackLine, period: Period) -> str:
    if not isinstance(whole.share, ShareInterval):
        return say("No repair was done in {period}.", period=period.name)
    return say_many(
        "{back} of {number} repair done in {period} came back at the re-check "
        "({share}; {level} range {low} to {high}).",
        "{back} of {number} repairs done in {period} came back at the re-check "
        "({share}; {level} range {low} to {high}).",
        whole.repairs,
        back=whole.came_back,
        period=period.name,
        share=percent(whole.share.share),
        level=percent(LEVEL),
        low=percent(whole.share.low),
        high=percent(whole.share.high),
    )
