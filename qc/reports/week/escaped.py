"""What was found after dispatch within 60 days of release, by station and type, on units that have all had their 60."""

from dataclasses import dataclass
from datetime import timedelta

from qc.domain.counted.counts import FOLLOW_DAYS
from qc.domain.plant.naming import with_name
from qc.domain.plant.plant import UNKNOWN
from qc.domain.words.speaking import say
from qc.reports.asking import LEVEL, Asking, known_before
from qc.reports.how_many import defects, units
from qc.reports.periods import WEEK, Period, monday_of
from qc.reports.wording import percent
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval, wilson_interval

WEEKS = 13


@dataclass(frozen=True, slots=True)
class EscapedLine:
    """Findings of one station and type; station "UNK": not known or disputed. units: with one.

    There is a line only where something was found, so that an interval made for any station and type would lie too
    high (of 3,146 of drawn plants 0.905 held the truth). Only the whole has one.
    """

    station: str
    station_name: str
    type: str
    type_name: str
    defects: int
    units: int


@dataclass(frozen=True, slots=True)
class EscapedReport:
    """released: whole weeks, the latest whose units have all had their 60 days, none from before the record's first
    but at least one; units: that left in them.

    share: of the units with a finding, with its interval.
    """

    released: Period
    units: int
    units_with: int
    share: ShareInterval | TooLittle
    defects: int
    lines: tuple[EscapedLine, ...]
    sentence: str


def escaped_report(ask: Asking) -> EscapedReport:
    """Return what got out of the units that left in the latest 13 weeks, or fewer, that were followed for 60 days."""
    end = monday_of(ask.today - timedelta(days=FOLLOW_DAYS))  # its Sunday's units have had 60 days
    released = known_before(ask, Period(end, end + WEEK, "", False), WEEKS)
    found = ask.counts.escaped(released.first, end, FOLLOW_DAYS)
    lines = tuple(
        EscapedLine(
            cell.station,
            say("Not known or disputed") if cell.station == UNKNOWN else ask.place_name(cell.station),
            cell.type,
            ask.type_name(cell.type),
            cell.defects,
            cell.units,
        )
        for cell in found.cells
    )
    in_all = sum(line.defects for line in lines)
    share = wilson_interval(found.units_with, found.units, LEVEL)
    told = _sentence(released, share, lines)
    return EscapedReport(released, found.units, found.units_with, share, in_all, lines, told)


def _sentence(released: Period, share: ShareInterval | TooLittle, lines: tuple[EscapedLine, ...]) -> str:
    if isinstance(share, TooLittle):
        return say(
            "No unit was released in the {period}: nothing has had its {days} days yet.",
            period=released.name,
            days=FOLLOW_DAYS,
        )
    told = say(
        "{defects} found within {days} days of release on {units_with} of {units} released in the {period} "
        "({share}; {level} range {low} to {high}).",
        defects=defects(sum(line.defects for line in lines)),
        days=FOLLOW_DAYS,
        units_with=share.defectives,
        units=units(share.inspected),
        period=released.name,
        share=percent(share.share),
        level=percent(LEVEL),
        low=percent(share.low),
        high=percent(share.high),
    )
    known = [line for line in lines if line.station != UNKNOWN]
    if not known:
        return told
    first = known[0]
    place, what = with_name(first.station, first.station_name), with_name(first.type, first.type_name)
    most = say("Most of a known origin: {place}: {what}, {number}.", place=place, what=what, number=first.defects)
    return f"{told} {most}"
