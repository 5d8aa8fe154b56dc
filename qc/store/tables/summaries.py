"""Keep the summary tables true: count the days that were touched again, from the rows, and roll them up.

A write to the record marks its production day dirty in its own transaction. `refresh` runs before a read: it finds
the units of the dirty days, the days on which those units can count, counts these days from nothing and rolls
their weeks and blocks up. Counting a day depends on the rows alone, so any order of refreshes equals a rebuild.
"""

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from hashlib import sha256

from qc.domain.facts.days import is_countable
from qc.domain.plant.calendar import BLOCK_WEEKS, ProductionCalendar, block_of, iso_week, week_start
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import Plant
from qc.domain.plant.working_days import plant_days, station_days
from qc.store.tables.day_counts import COUNT_DAYS, SCRATCH, WORK_DAYS_OF_SEEN
from qc.store.tables.summary_tables import SEEN_TABLES, WORK_TABLES, SumTable

DIRTY_DAYS = "SELECT production_day FROM dirty_day ORDER BY production_day"
CLEAN_DAY = "DELETE FROM dirty_day WHERE production_day = ?"
TOUCHED_UNITS = """
INSERT INTO temp.touched_unit (unit)
SELECT r.unit FROM temp.asked_day AS a CROSS JOIN inspection AS r ON r.production_day = a.day
 UNION
SELECT r.unit FROM temp.asked_day AS a CROSS JOIN defect AS r ON r.production_day = a.day
"""
STALE_DAYS = """
INSERT OR IGNORE INTO temp.stale_day (day)
SELECT day FROM temp.asked_day
 UNION
SELECT i.production_day
  FROM temp.touched_unit AS t
 CROSS JOIN inspection AS i ON i.unit = t.unit
 WHERE i.production_day IS NOT NULL
"""
SEEN_DAYS = """
SELECT DISTINCT production_day
  FROM inspection
 WHERE production_day IS NOT NULL
 ORDER BY production_day
"""
PRESENTED_STALE = "SELECT day FROM temp.stale_day ORDER BY day"
COUNTED_FOR = "SELECT value FROM store_setting WHERE name = 'summaries_counted_for'"
KEEP_COUNTED_FOR = "INSERT OR REPLACE INTO store_setting (name, value) VALUES ('summaries_counted_for', ?)"

# Scratch tables of a whole block stay small enough to sort in memory.
CHUNK = 91


class SummaryKeeper:
    """Keeps the summary tables of one plant; every method runs in the caller's write transaction.

    The plant's build (which station is in which model, which end points a model needs, lead times, working days of the
    plant and of its stations) is taken as it is now. The record keeps for which build its summaries were counted;
    `follow` counts them again when the plant has another.
    """

    def __init__(self, plant: Plant) -> None:
        graph = BuildGraph(plant)
        self._calendar = ProductionCalendar(plant)
        self._build = [(*build, station) for build in plant.builds() for station in graph.stations_in(*build)]
        self._needed = [
            (*build, one.id, str(one.first_day or ""), str(one.end_day or "~"))  # every day sorts between these two
            for build in plant.builds()
            for one in plant.presenting(*build)
        ]
        self._meant = [(type_.code, type_.first_detect_point) for type_ in plant.types.values()]
        self._stations = sorted({station for _, _, station in self._build})
        self._counted_for = self._fingerprint(plant)

    def _fingerprint(self, plant: Plant) -> str:
        """Return a short text that differs where the plant would have any day counted differently."""
        leads = [(station, plant.stations[station].lead_days) for station in self._stations]
        days, own = plant_days(plant), station_days(plant)
        works, closed = sorted(days.weekdays), sorted(days.closed)
        build, needed = (_told(rows, bool(plant.lines)) for rows in (self._build, self._needed))
        told = (build, needed, sorted(self._meant), leads, works, closed)
        apart = [(one, sorted(own[one].weekdays), sorted(own[one].closed)) for one in self._stations if one in own]
        # A plant of one line, whose stations have no days of their own, is told as it always was, and not counted anew.
        return sha256(repr((*told, apart) if apart else told).encode()).hexdigest()[:16]

    def is_behind(self, connection: sqlite3.Connection) -> bool:
        """Tell whether the summaries were counted for another build of the plant; a reading connection will do."""
        counted_for: tuple[str] | None = connection.execute(COUNTED_FOR).fetchone()
        return counted_for != (self._counted_for,)

    def follow(self, connection: sqlite3.Connection) -> bool:
        """Count every day again where the plant's build is another than that counted for; tell whether it was."""
        if not self.is_behind(connection):
            return False
        self.rebuild(connection)
        return True

    def refresh(self, connection: sqlite3.Connection) -> int:
        """Count the dirty days again and take their marks off; return how many days were marked."""
        asked = [day for (day,) in connection.execute(DIRTY_DAYS)]
        if not asked:
            return 0
        self._prepare(connection)
        connection.executemany("INSERT INTO temp.asked_day (day) VALUES (?)", ((day,) for day in asked))
        connection.execute("ANALYZE temp.asked_day")
        connection.execute(TOUCHED_UNITS)
        connection.execute("ANALYZE temp.touched_unit")
        connection.execute(STALE_DAYS)
        self._count(_countable(connection.execute(PRESENTED_STALE)), connection)
        connection.executemany(CLEAN_DAY, ((day,) for day in asked))
        return len(asked)

    def rebuild(self, connection: sqlite3.Connection) -> None:
        """Empty the summary tables and count every day of the record; nothing is dirty afterwards."""
        for table in (*SEEN_TABLES, *WORK_TABLES):
            connection.execute(table.clear_all)
        for table in WORK_TABLES:
            connection.execute(f"DELETE FROM {table.part}")
        connection.execute("DELETE FROM presented_unit")
        self._prepare(connection)
        self._count(_countable(connection.execute(SEEN_DAYS)), connection)
        connection.execute("DELETE FROM dirty_day")
        connection.execute(KEEP_COUNTED_FOR, (self._counted_for,))

    def _prepare(self, connection: sqlite3.Connection) -> None:
        connection.create_function("plant_day", 1, lambda ms: self._calendar.local(ms).date().isoformat())
        for statement in SCRATCH:
            connection.execute(statement)
        for table in ("asked_day", "touched_unit", "build", "needed_point", "meant_point"):
            connection.execute(f"DELETE FROM temp.{table}")
        connection.execute("DELETE FROM temp.stale_day")
        connection.executemany("INSERT INTO temp.build (model, line, station) VALUES (?, ?, ?)", self._build)
        connection.executemany("INSERT INTO temp.needed_point VALUES (?, ?, ?, ?, ?)", self._needed)
        connection.executemany("INSERT INTO temp.meant_point (type, point) VALUES (?, ?)", self._meant)

    def _count(self, days: Sequence[str], connection: sqlite3.Connection) -> None:
        worked: set[str] = set()
        for some in _chunks(days):
            worked |= self._count_some(some, connection)
        seen_weeks = sorted({_monday(day) for day in days})
        for table in SEEN_TABLES:
            _roll_up(connection, table, days, seen_weeks)
        worked_weeks = sorted({_monday(day) for day in worked})
        for table in WORK_TABLES:
            _roll_up(connection, table, (), worked_weeks)

    def _count_some(self, days: Sequence[str], connection: sqlite3.Connection) -> set[str]:
        """Count days from the rows, by model and shift; return the work days that these changed, old and new."""
        connection.execute("DELETE FROM temp.stale_day")
        connection.executemany("INSERT INTO temp.stale_day (day) VALUES (?)", ((day,) for day in days))
        connection.execute("ANALYZE temp.stale_day")
        connection.execute("DELETE FROM temp.lead_day")
        connection.executemany("INSERT INTO temp.lead_day (day, station, work_day) VALUES (?, ?, ?)", self._leads(days))
        worked = {day for (day,) in connection.execute(WORK_DAYS_OF_SEEN)}
        for table in SEEN_TABLES:
            connection.executemany(table.clear, ({"span": "D", "start": day} for day in days))
        for statement in COUNT_DAYS:
            connection.execute(statement)
        return worked | {day for (day,) in connection.execute(WORK_DAYS_OF_SEEN)}

    def _leads(self, days: Iterable[str]) -> Iterator[tuple[str, str, str]]:
        for day in days:
            seen = date.fromisoformat(day)
            for station in self._stations:
                yield day, station, self._calendar.work_day(seen, station).isoformat()


def _told(rows: Iterable[tuple[str, ...]], lines: bool) -> list[tuple[str, ...]]:
    """Return rows in order, without their second value, the line, where the plant names none."""
    return sorted(rows if lines else ((model, *rest) for model, _, *rest in rows))


def _countable(rows: Iterable[tuple[str]]) -> list[str]:
    # A record kept by an earlier program may name any day of the calendar; the ends of it cannot be rolled up.
    return [day for (day,) in rows if is_countable(date.fromisoformat(day))]


def _chunks(days: Sequence[str]) -> Iterator[Sequence[str]]:
    return (days[place : place + CHUNK] for place in range(0, len(days), CHUNK))


def _monday(day: str) -> date:
    whole = date.fromisoformat(day)
    return whole - timedelta(days=whole.isoweekday() - 1)


def block_start(monday: date) -> date:
    """Return the Monday that begins the block of 13 ISO weeks which holds the week of this Monday."""
    return week_start(block_of(iso_week(monday)))


def _roll_up(connection: sqlite3.Connection, table: SumTable, days: Sequence[str], mondays: Sequence[date]) -> None:
    day_spans = [{"span": "D", "start": day} for day in days]
    connection.executemany(table.total, day_spans)
    weeks = [_span("W", "D", monday, 1) for monday in mondays]
    blocks = [_span("B", "W", block, BLOCK_WEEKS) for block in sorted({block_start(monday) for monday in mondays})]
    for spans, statement in ((weeks, table.roll_up_part if table.part else table.roll_up), (blocks, table.roll_up)):
        connection.executemany(table.clear, spans)
        connection.executemany(statement, spans)
        connection.executemany(table.total, spans)


def _span(span: str, below: str, start: date, weeks: int) -> dict[str, str]:
    end = start + timedelta(weeks=weeks)
    return {"span": span, "below": below, "start": start.isoformat(), "end": end.isoformat()}
