"""A list of passed stations looked through: what taking it would do, row by row, and how many rows come to what."""

from collections import Counter
from functools import cache

from qc.domain.handed.passed_list import Outcome, PassedLine, passed_lines, places_of
from qc.domain.plant.plant import Plant
from qc.domain.words.speaking import marked, say
from qc.reports.units.looked_through import LookedThrough, rows_and
from qc.store.folder.sheets import read_sheet
from qc.store.plan_intake import planned_units
from qc.store.reading.reads import Reads

ORDER: tuple[Outcome, ...] = ("wrong", "new", "same")
_COUNTED = {"new": marked("{number} new"), "same": marked("{number} told before"), "wrong": marked("{number} wrong")}


class PassedReport(LookedThrough[PassedLine]):
    """What taking a list of passings would do."""

    __slots__ = ()

    def of(self, outcome: str) -> tuple[PassedLine, ...]:
        """Return the rows that come to an outcome, those of another line first, else in order."""
        return tuple(sorted(super().of(outcome), key=lambda line: not line.astray))

    @property
    def summary(self) -> str:
        """How many rows come to what: "3 rows: 1 told before and 2 new"; how many of these are of another line."""
        counts = Counter(line.outcome for line in self.lines)
        told = rows_and(
            len(self.lines), [say(_COUNTED[one], number=counts[one]) for one in reversed(ORDER) if counts[one]]
        )
        astray = sum(line.astray for line in self.lines)
        if not astray:
            return told
        return say("{told}; at a station of another line than the unit's: {number}", told=told, number=astray)


def passed_report(data: bytes, reads: Reads, plant: Plant, now: int) -> PassedReport:
    """Return what taking a file would do at an instant (ms since 1970 UTC); nothing is taken.

    Raises UnreadableSheet and UnusableList, both in words for who handed it in.
    """
    sheet = read_sheet(data)
    at = places_of(sheet.heading)
    planned = planned_units(reads.connection())
    units = {one.shop_number: chassis for chassis, one in planned.items()} | {chassis: chassis for chassis in planned}

    record = cache(reads.unit_story)
    return PassedReport(passed_lines(sheet.rows, at, plant, units, record, now), tuple(sheet.notes))
