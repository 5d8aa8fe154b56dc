"""What each summary table is keyed by and sums, and how its spans are rolled up: days to weeks to blocks.

Statements are put together from the names below, never from values.
"""

from dataclasses import dataclass

SIX = (
    "confirmed_critical",
    "confirmed_major",
    "confirmed_minor",
    "suspected_critical",
    "suspected_major",
    "suspected_minor",
)
# Units with a defect of these severities; place n holds the set n + 1 of 4 critical + 2 major + 1 minor.
SEVEN = (
    "with_minor",
    "with_major",
    "with_major_minor",
    "with_critical",
    "with_critical_minor",
    "with_critical_major",
    "with_any",
)


@dataclass(frozen=True, slots=True)
class SumTable:
    """A table of sums by span. keys: its own dimensions, besides model, line and shift; sums: what is added up.

    part: the table by seen day from which its weeks are summed, "" where its own days are.
    """

    name: str
    keys: tuple[str, ...]
    sums: tuple[str, ...]
    part: str = ""

    @property
    def _added(self) -> str:
        return ", ".join(f"sum({column})" for column in self.sums)

    @property
    def clear(self) -> str:
        """Return the statement that empties one span, details and total."""
        return f"DELETE FROM {self.name} WHERE span = :span AND detail IN (0, 1) AND start = :start"

    @property
    def clear_all(self) -> str:
        """Return the statement that empties the table."""
        return f"DELETE FROM {self.name}"

    @property
    def roll_up(self) -> str:
        """Return the statement that sums the spans :below within [:start, :end) into one span :span."""
        keys = ", ".join(self.keys)
        return (
            f"INSERT INTO {self.name} SELECT :span, 1, :start, {keys}, model, line, shift, {self._added}"
            f" FROM {self.name} WHERE span = :below AND detail = 1 AND start >= :start AND start < :end"
            f" GROUP BY {keys}, model, line, shift"
        )

    @property
    def roll_up_part(self) -> str:
        """Return the statement that sums the part table's work days within [:start, :end) into one week."""
        keys = ", ".join(self.keys)
        return (
            f"INSERT INTO {self.name} SELECT 'W', 1, :start, {keys}, model, line, shift, {self._added} FROM {self.part}"
            f" WHERE start >= :start AND start < :end GROUP BY {keys}, model, line, shift"
        )

    @property
    def total(self) -> str:
        """Return the statement that adds the total over models, lines and shifts to one span."""
        keys = ", ".join(self.keys)
        return (
            f"INSERT INTO {self.name} SELECT span, 0, start, {keys}, '', '', '', {self._added} FROM {self.name}"
            f" WHERE span = :span AND detail = 1 AND start = :start GROUP BY {keys}"
        )


SEEN_TABLES = (
    SumTable(
        "presented_sum",
        ("point", "found"),
        ("units", "whole", "clean_major", "clean_all", "critical", "major", "minor"),
    ),
    SumTable("type_sum", ("type",), ("critical", "major", "minor")),
    SumTable("origin_type_sum", ("origin", "type"), SIX),
    SumTable("origin_point_sum", ("origin", "meant", "point"), SIX),
    SumTable("station_sum", ("origin",), (*SEVEN, *SIX)),
    SumTable("looker_sum", ("point", "inspector"), ("units",)),
    SumTable("left_sum", ("left_day",), ("units", "at_points", "with_after", "after_dispatch", "later")),
)
WORK_TABLES = (
    SumTable("work_sum", ("origin",), ("units", *SEVEN, *SIX), "work_part"),
    SumTable("work_point_sum", ("origin", "point"), SIX, "work_point_part"),
)
