"""Pareto tables: types or origins by count, by minutes and by severity, the longer window beside the week.

Criticals are never summed in: they stand in a column of their own and in the safety list.
"""

from dataclasses import dataclass
from typing import Literal

from qc.stats.answers import TooLittle
from qc.stats.pareto import Pareto

What = Literal["type", "origin"]
Order = Literal["count", "minutes", "severity"]
ORDERS: tuple[Order, ...] = ("count", "minutes", "severity")


@dataclass(frozen=True, slots=True)
class ParetoRow:
    """One type or origin. count: majors and minors of the week; critical apart; minutes: usual rework of count.

    code "" is the origin that nobody has named, and "others" the rest beyond the rows shown. share and cumulative
    are shares (0-1) of the week's total in the order's weight. window_count, window_share: the same for the weeks
    before. usual_low, usual_high: the defects that the weeks before would lead one to expect on this week's units
    (95 % of weeks like those), None where there is too little to say; beyond_usual: count is outside them.
    could_swap: this row and the next could stand the other way round by chance (order by count only, else False).
    """

    code: str
    name: str
    count: int
    critical: int
    major: int
    minor: int
    minutes: int
    share: float
    cumulative: float
    window_count: int
    window_share: float
    usual_low: int | None
    usual_high: int | None
    beyond_usual: bool
    could_swap: bool


@dataclass(frozen=True, slots=True)
class ParetoTable:
    """One order of one Pareto: rows largest first, others last; weight in words ("defects", "minutes").

    week, window: the chart's numbers as the statistics gave them, TooLittle where nothing was found.
    """

    order: Order
    weight: str
    rows: tuple[ParetoRow, ...]
    week: Pareto | TooLittle
    window: Pareto | TooLittle


@dataclass(frozen=True, slots=True)
class ParetoTables:
    """The three orders of one Pareto. inspected: units presented in the week, window_inspected in the weeks before.

    unknown: majors and minors of the week whose origin nobody has named (origin only, else 0), shown apart from
    the rows. criticals: left out of the rows, counted here. denominator, sentence: in words.
    """

    what: What
    tables: tuple[ParetoTable, ...]
    total: int
    criticals: int
    unknown: int
    inspected: int
    window_inspected: int
    denominator: str
    sentence: str

    def by(self, order: Order) -> ParetoTable:
        """Return the table in one order."""
        return next(table for table in self.tables if table.order == order)
