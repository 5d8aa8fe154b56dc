"""A record made of rows alone: the real tables in a real SQLite file, filled without a journal.

For the count layer, whose matter is rows. Every row written marks the production days that it had and has, as a
write of the record does.
"""

import sqlite3
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from qc.assets import folder as asset_folder
from qc.domain.tables.plant_tables import read_plant
from qc.store.record.connection import RECORD, open_writer
from qc.store.tables import schema
from qc.store.tables.summary_schema import LEFT_UNITS, LINES, OPEN_CRITICALS, PRESENTED_UNITS, STATION_SUMS, SUMMARIES

DEMO_PLANT = read_plant(asset_folder("demo_data") / "plant")
HOUR = 3_600_000


def noon(day: str) -> int:
    """Return noon UTC of an ISO day in milliseconds since 1970."""
    return (date.fromisoformat(day) - date(1970, 1, 1)).days * 24 * HOUR + 12 * HOUR


class RowRecord:
    """What `Counts` needs of a journal, and short words to fill it. Columns not named have plain values."""

    def __init__(self, folder: Path, plant=DEMO_PLANT) -> None:
        self.folder, self.plant = folder, plant
        self.connection = open_writer(folder / RECORD)
        self.connection.executescript(
            schema.JOURNAL + schema.PROJECTIONS + schema.CIRCLES + schema.MET + schema.RELEASES + SUMMARIES
        )
        self.connection.executescript(
            STATION_SUMS + PRESENTED_UNITS + LEFT_UNITS + schema.MUTES + schema.BACKLOGS + schema.REVISIONS
        )
        self.connection.executescript(OPEN_CRITICALS + schema.GRADES + schema.LOTS + LINES)
        self._numbers = 0

    def write(self, work: Callable[[sqlite3.Connection], Any]) -> Any:
        self.connection.execute("BEGIN IMMEDIATE")
        try:
            answer = work(self.connection)
        except BaseException:
            self.connection.execute("ROLLBACK")
            raise
        self.connection.execute("COMMIT")
        return answer

    def close(self) -> None:
        self.connection.close()

    def number(self) -> int:
        self._numbers += 1
        return self._numbers

    def put(self, table: str, **row: Any) -> None:
        """Insert or replace a row; the caller marks days."""
        names = ", ".join(row)
        values = ", ".join(f":{name}" for name in row)
        self.connection.execute(f"INSERT OR REPLACE INTO {table} ({names}) VALUES ({values})", row)

    def mark(self, *days: str | None) -> None:
        for day in days:
            if day is not None:
                self.connection.execute("INSERT OR IGNORE INTO dirty_day VALUES (?)", (day,))

    def unit(self, chassis: str, model: str = "T36", planned_day: str = "2026-03-02") -> None:
        n = self.number()
        self.put(
            "unit", chassis=chassis, shop_number=f"S-{chassis}", sequence=n, model=model, planned_day=planned_day,
            state="at_end_points", last_number=n,
        )  # fmt: skip

    def looked(
        self, id_: str, unit: str, day: str, point: str = "D01", presentation: int = 1, *, shift: str = "early",
        inspector: str = "I1", purpose: str = "presentation", ended: bool = True, clean: tuple[int, int] = (1, 1),
        at: int = 0,
    ) -> None:  # fmt: skip
        """Write an inspection; clean is (clean_major, clean_all); at shifts its end by so many milliseconds."""
        old = self._day_of("inspection", id_)
        self.put(
            "inspection", id=id_, unit=unit, point=point, purpose=purpose, presentation=presentation,
            inspector=inspector, device="P1", light="bright", begun_ms=noon(day) - HOUR,
            ended_ms=noon(day) + at if ended else None, production_day=day if ended else None,
            shift=shift if ended else None, clean_major=clean[0] if ended else None,
            clean_all=clean[1] if ended else None, number=self.number(),
        )  # fmt: skip
        self.mark(old, day if ended else None)

    def defect(
        self, id_: str, unit: str, day: str, point: str = "D01", inspection: str | None = None, *, model: str = "T36",
        type_: str = "EXT-01", severity: str = "minor", first: int = 1, state: str = "open",
        suspected: str | None = None, confirmed: str | None = None, origin_state: str | None = None,
        shift: str = "early", zone: str = "front.panel", late_ms: int = 0, withdrawn_why: str | None = None,
    ) -> None:  # fmt: skip
        told = origin_state or ("confirmed" if confirmed else "suspected" if suspected else "none")
        old, n = self._day_of("defect", id_), self.number()
        self.put(
            "defect", id=id_, unit=unit, model=model, inspection=inspection, point=point, first_presentation=first,
            zone=zone, type=type_, severity=severity, found_ms=noon(day), production_day=day, shift=shift,
            finder="I1", device="P1", state=state, suspected=suspected, confirmed=confirmed, origin_state=told,
            withdrawn_why=withdrawn_why, number=n, received_ms=noon(day) + late_ms,
        )  # fmt: skip
        self.mark(old, day)

    def passed(self, unit: str, station: str, day: str) -> None:
        self.put(
            "station_pass", unit=unit, station=station, passed_ms=noon(day), production_day=day, number=self.number()
        )

    def released(self, unit: str, day: str) -> None:
        """Write a release; the record itself marks the unit's days."""
        n = self.number()
        self.put(
            "release_record", id=f"{unit}-{n}", unit=unit, signed_by="QM1", against="the rule", open_digest="",
            released_ms=noon(day), story="{}", story_digest="", number=n,
        )  # fmt: skip

    def _day_of(self, table: str, id_: str) -> str | None:
        row = self.connection.execute(f"SELECT production_day FROM {table} WHERE id = ?", (id_,)).fetchone()
        return row[0] if row else None

    def seen_through(self, unit: str, day: str, *, model: str = "T36", **more: Any) -> None:
        """Write a unit that every end point first presented on one day; its inspections are <unit>-<point>."""
        self.unit(unit, model)
        for place, point in enumerate(self.plant.end_points()):
            self.looked(f"{unit}-{point}", unit, day, point, at=place, **more)
