"""A build plan looked through: what taking it would do, row by row, and how many rows come to what."""

from collections import Counter
from collections.abc import Mapping
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from qc.domain.handed.build_plan import Outcome, PlanLine, columns_of, plan_lines
from qc.domain.plant.plant import Plant
from qc.domain.words.speaking import marked, say
from qc.reports.units.looked_through import LookedThrough, rows_and
from qc.reports.wording import listed
from qc.store.folder.sheets import read_sheet
from qc.store.plan_intake import planned_units
from qc.store.reading.reads import Reads

ORDER: tuple[Outcome, ...] = ("wrong", "changed", "new", "same")  # what needs a person's eye first
_COUNTED: Mapping[Outcome, str] = {
    "new": marked("{number} new"),
    "changed": marked("{number} changed"),
    "same": marked("{number} as planned already"),
    "wrong": marked("{number} wrong"),
}


class PlanReport(LookedThrough[PlanLine]):
    """What taking a plan, or changing a range of one, would do."""

    __slots__ = ()

    @property
    def summary(self) -> str:
        """How many rows come to what: "17 rows: 3 as planned already, 12 new, 1 changed and 1 wrong"."""
        counts = Counter(line.outcome for line in self.lines)
        told = [say(_COUNTED[one], number=counts[one]) for one in reversed(ORDER) if counts[one]]
        return rows_and(len(self.lines), told)


def build_plan_report(data: bytes, reads: Reads, plant: Plant, now: int) -> PlanReport:
    """Return what taking a file would do at an instant (ms since 1970 UTC); nothing is taken.

    Raises UnreadableSheet and UnusablePlan, both in words for who handed it in.
    """
    today = datetime.fromtimestamp(now / 1000, UTC).astimezone(ZoneInfo(plant.time_zone)).date()
    sheet = read_sheet(data)
    columns = columns_of(sheet.heading, plant)
    lines = plan_lines(sheet.rows, columns, plant, planned_units(reads.connection()), today)
    left_out = [say("not read: {columns}", columns=listed(columns.left_out))] if columns.left_out else []
    return PlanReport(lines, (*sheet.notes, *left_out))
