"""What was found after dispatch within 60 days of release, by station and type, on units that have all had their 60."""

from dataclasses import dataclass
from datetime import timedelta

from qc.domain.counts import FOLLOW_DAYS
from qc.domain.plant import UNKNOWN
from qc.reports.asking import LEVEL, Asking
from qc.reports.periods import WEEK, Period, monday_of, week_name
from qc.reports.wording import counted, percent
from qc.stats.answers import TooLittle
from qc.stats.intervals import ShareInterval, wilson_interval

WEEKS = 13


@dataclass(frozen=True, slots=True)
class EscapedLine:
    """Findings of one station and type; station "UNK": not known or disputed. share: of the units, with interval."""

    station: str
    station_name: str
    type: str
    type_name: str
    defects: int
    units: int
    share: ShareInterval | TooLittle


@dataclass(frozen=True, slots=True)
class EscapedReport:
    """released: whole weeks, the latest whose units have all had their 60 days; units: that left in them."""

    released: Period
    units: int
    units_with: int
    defects: int
    lines: tuple[EscapedLine, ...]
    sentence: str


def escaped_report(ask: Asking) -> EscapedReport:
    """Return what got out of the units that left in the latest 13 weeks that have been followed for 60 days."""
    end = monday_of(ask.today - timedelta(days=FOLLOW_DAYS))  # its Sunday's units have had 60 days
    first = end - WEEKS * WEEK
    released = Period(first, end, f"{WEEKS} weeks {week_name(first)} to {week_name(end - WEEK)}", False)
    found = ask.counts.escaped(first, end, FOLLOW_DAYS)
    lines = tuple(
        EscapedLine(
            cell.station,
            "Not known or disputed" if cell.station == UNKNOWN else ask.place_name(cell.station),
            cell.type,
            ask.type_name(cell.type),
            cell.defects,
            cell.units,
            wilson_interval(cell.units, found.units, LEVEL),
        )
        for cell in found.cells
    )
    defects = sum(line.defects for line in lines)
    return EscapedReport(
        released,
        found.units,
        found.units_with,
        defects,
        lines,
        _sentence(released, found.units, found.units_with, lines),
    )


def _sentence(released: Period, units: int, units_with: int, lines: tuple[EscapedLine, ...]) -> str:
    share = wilson_interval(units_with, units, LEVEL)
    if isinstance(share, TooLittle):
        return f"No unit was released in the {released.name}: nothing has had its {FOLLOW_DAYS} days yet."
    told = (
        f"{counted(sum(line.defects for line in lines), 'defect')} found within {FOLLOW_DAYS} days of release on "
        f"{units_with} of {counted(units, 'unit')} released in the {released.name} ({percent(share.share)}; "
        f"{percent(LEVEL)} range {percent(share.low)} to {percent(share.high)})."
    )
    known = [line for line in lines if line.station != UNKNOWN]
    if not known:
        return told
    first = known[0]
    return f"{told} Most of a known origin: {first.station} {first.type} {first.type_name}, {first.defects}."
