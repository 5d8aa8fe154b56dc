"""What a large build plan costs that comes in, and what a large table costs that goes out as Parquet.

    python -m tests.bench.plan_and_parquet [UNITS] [DEFECTS]

A plan of 10 000 units as CSV and as XLSX: read and checked (asked 5 s), then entered in one transaction (asked 10 s),
beside reading its cells alone and writing so many rows into a bare SQLite file. A table of 1 000 000 defects as Parquet
(asked 10 s, in bounded memory), beside reading its rows alone; the memory is the process's own at its most, with a
tenth of the rows and with all. It needs pyarrow, an optional part.
"""

import csv
import io
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import xlsxwriter

from qc.domain.facts.people import Person
from qc.domain.plant.chassis import full_number
from qc.reports.export.files import write_table
from qc.reports.export.parquet import ROWS
from qc.reports.export.rows import Source
from qc.reports.units.build_plan import build_plan_report
from qc.store.folder.photos import PhotoStore
from qc.store.intake.journal import Journal
from qc.store.plan_intake import take_plan
from qc.store.record.connection import RECORD, open_reader
from qc.web.house import House
from tests.web.plant_server import NOW, cheap_hashes, invented_plant

HEADING = ["chassis", "planned day", "options"]
DEFECT = """
INSERT INTO defect (id, unit, model, inspection, point, found_ms, production_day, shift, finder, device, linked_to,
                    number, received_ms, first_presentation, zone, type, severity, note, mark, state, cycles,
                    repair_minutes, repaired_by, rechecked_by, withdrawn_why, duplicate_of, suspected, confirmed,
                    origin_state, origin_ms, work_day, work_day_basis, changed_also_by)
VALUES (:id, :unit, 'T36', NULL, 'D01', :ms, :day, 'A', 'I1', 'P1', NULL, :number, :ms, 1, 'front.panel', 'PAN-03',
        'minor', :note, NULL, 'closed', 0, 12, 'R1', 'I2', NULL, NULL, 'S05', 'S05', 'confirmed', :ms, :day, 'scan',
        '[]')
"""


def seconds(work: Callable[[], object]) -> tuple[float, object]:
    """Return how long work took, and its answer."""
    begun = time.perf_counter()
    answer = work()
    return time.perf_counter() - begun, answer


def lines_of(units: int) -> list[list[str]]:
    """Return the rows of a plan, each unit on a day of its own year."""
    _, plant = invented_plant()
    first = date(2026, 3, 2)
    rows = [HEADING]
    for number in range(units):
        chassis = full_number(plant, "T36", 30_001 + number)
        rows.append([chassis, (first + timedelta(days=number % 300)).isoformat(), "awning;solar"])
    return rows


def as_csv(rows: list[list[str]]) -> bytes:
    """Return the plan as CSV."""
    held = io.StringIO()
    csv.writer(held).writerows(rows)
    return held.getvalue().encode()


def as_xlsx(rows: list[list[str]]) -> bytes:
    """Return the plan as a workbook."""
    held = io.BytesIO()
    with xlsxwriter.Workbook(held, {"in_memory": True}) as book:
        sheet = book.add_worksheet()
        for place, row in enumerate(rows):
            sheet.write_row(place, 0, row)
    return held.getvalue()


def house_in(folder: Path) -> House:
    """Return an open house of the invented plant with a planner."""
    tables, plant = invented_plant()
    journal = Journal(folder, plant, tables, lambda: NOW)
    house = House(folder, journal, plant, PhotoStore(folder, journal.write, lambda: NOW), lambda: NOW, True)
    with cheap_hashes():
        house.people.add(Person("PL1", "Pia", "planner"), "284915")
    return house


def bare(rows: list[list[str]], folder: Path) -> None:
    """Write the rows into a SQLite file that knows nothing, in one transaction."""
    with closing(sqlite3.connect(folder / "bare.sqlite")) as conn, conn:
        conn.execute("CREATE TABLE plan (chassis TEXT PRIMARY KEY, day TEXT, options TEXT)")
        conn.executemany("INSERT INTO plan VALUES (?, ?, ?)", rows[1:])


def plans(units: int) -> None:
    """Print what a plan costs, in both forms."""
    rows = lines_of(units)
    for form, data in (("CSV", as_csv(rows)), ("XLSX", as_xlsx(rows))):
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            house = house_in(folder / "plant")
            looking, report = seconds(lambda: build_plan_report(data, house.reads, house.plant, NOW))  # noqa: B023
            assert len(report.of("new")) == units, report.summary
            taking, _ = seconds(lambda: take_plan(house.journal, report.lines, "PL1", "bench", house.clock))  # noqa: B023
            again, same = seconds(lambda: build_plan_report(data, house.reads, house.plant, NOW))  # noqa: B023
            assert len(same.of("same")) == units
            plain, _ = seconds(lambda: bare(rows, folder))  # noqa: B023
            house.close()
        print(
            f"{form}, {units} units: read and checked {looking:.2f} s (asked 5), entered {taking:.2f} s (asked 10),"
            f" looked at again {again:.2f} s; bare SQLite {plain:.3f} s, ratio {taking / plain:.0f}",
            flush=True,
        )


def defects(many: int) -> Iterator[dict[str, object]]:
    """Yield so many defects on as many units as ten a unit make."""
    first = date(2016, 1, 4)
    for number in range(many):
        day = (first + timedelta(days=number // 300)).isoformat()
        yield {
            "id": f"01900000-0000-7000-8000-{number:012x}",
            "unit": f"0PC7T3600TW{number // 10:06d}"[-17:],
            "ms": 1_451_900_000_000 + number * 300_000,
            "day": day,
            "number": number + 1,
            "note": f"note {number % 977}",
        }


def parquet(many: int) -> None:
    """Print what a table of defects costs as Parquet, in a process of its own whose memory is told at the end."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "plant"
        house = house_in(folder)
        house.journal.write(lambda conn: conn.executemany(DEFECT, defects(many)).rowcount)
        house.close()
        asked = [sys.executable, "-m", "tests.bench.plan_and_parquet", "--write", str(folder)]
        print(subprocess.run(asked, check=True, capture_output=True, text=True).stdout, end="", flush=True)


def written(folder: Path) -> None:
    """Write the table as Parquet and print what it took."""
    _, plant = invented_plant()
    import pyarrow.parquet as pq

    with closing(open_reader(folder / RECORD)) as connection:
        source = Source(connection, plant, ())
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        target = folder / "defects.parquet"
        with target.open("wb") as opened:
            writing, _ = seconds(lambda: write_table(source, "defects", opened, "parquet"))
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        reading, _ = seconds(lambda: sum(1 for _ in source.columns("defects", ROWS)))
    rows = pq.ParquetFile(target).metadata.num_rows
    print(
        f"{rows} defects as Parquet: {writing:.2f} s (asked 10 for 1 000 000), {target.stat().st_size / 1e6:.1f} MB;"
        f" reading the rows alone {reading:.2f} s, ratio {writing / reading:.1f};"
        f" memory {most / 1024:.0f} MB, {(most - before) / 1024:.0f} MB of it by writing"
    )


def main() -> None:
    """Measure both."""
    if sys.argv[1:2] == ["--write"]:
        written(Path(sys.argv[2]))
        return
    units, many = (int(told) for told in (*sys.argv[1:3], *("10000", "1000000")[len(sys.argv) - 1 :]))
    plans(units)
    for part in (many // 10, many):
        parquet(part)


if __name__ == "__main__":
    main()
