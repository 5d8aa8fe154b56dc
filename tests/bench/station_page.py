"""What a station's page costs where origins are learned anew, and where what was learned is still good.

    python tests/bench/station_page.py [--folder demo-plant] [--weeks 26]

It plays the invented plant into a folder of its own, or copies the record of a played one, and times what the page
asks of the reports: the trend and the types as before, the three counts and what came through. Learned anew: flaws,
words and arithmetic; counted again: something was written, but no word on an origin; kept: nothing was written. Ratios
are what counts; the machine is shared.
"""

import argparse
import shutil
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

sys.path[:0] = [str(Path(__file__).parents[2])]

from qc.domain.tables.plant_tables import read_plant  # noqa: E402
from qc.reports.asking import Asking  # noqa: E402
from qc.reports.stations import station_expected as learning  # noqa: E402
from qc.reports.stations.station import station_report  # noqa: E402
from qc.reports.stations.station_upstream import station_upstream  # noqa: E402
from qc.store.counts import Counts  # noqa: E402
from qc.store.reading.reads import Reads  # noqa: E402
from qc.store.record.connection import RECORD, open_writer  # noqa: E402

STATION = "S07"
TIMES = 15
# A row written as it was is not written at all, so something in it has to change.
TOUCH = "UPDATE unit SET last_number = last_number + 1 WHERE sequence = (SELECT min(sequence) FROM unit)"


class Record:
    """A played record with a writer of its own, as the counts need it."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.plant = folder, read_plant(folder / "plant")
        self._writer = open_writer(folder / RECORD)

    def write(self, work: Callable[[sqlite3.Connection], object]) -> object:
        self._writer.execute("BEGIN IMMEDIATE")
        answer = work(self._writer)
        self._writer.execute("COMMIT")
        return answer

    def touch(self) -> None:
        """Write something that is no word on an origin."""
        self.write(lambda connection: connection.execute(TOUCH))

    def close(self) -> None:
        self._writer.close()


def milliseconds(work: Callable[[], object], before: Callable[[], object] = lambda: None) -> float:
    """Return the median of some runs, what is done before each not counted."""
    taken = []
    for _ in range(TIMES):
        before()
        start = time.perf_counter()
        work()
        taken.append(1e3 * (time.perf_counter() - start))
    return median(taken)


def measure(record: Record) -> None:
    counts, reads = Counts(record), Reads(record.folder, record.plant)
    (last,) = record.write(lambda conn: conn.execute("SELECT max(received_ms) FROM journal").fetchone())
    ask = Asking(counts=counts, plant=record.plant, now_ms=last)
    report = station_report(counts, reads, record.plant, STATION, ask.today, last)
    stations = [one for one in record.plant.stations if one != "UNK"]

    def trend() -> object:
        return station_report(counts, reads, record.plant, STATION, ask.today, last)

    def three(station: str = STATION) -> object:
        return learning.station_expected(ask, report.history, station)

    def forget() -> None:
        record.touch()
        learning._told.cache_clear()

    three()  # imports are not what is compared
    plain = milliseconds(trend)
    anew, again, kept = milliseconds(three, forget), milliseconds(three, record.touch), milliseconds(three)
    through = milliseconds(lambda: station_upstream(ask, report.history, STATION))
    every = milliseconds(lambda: [three(one) for one in stations]) / len(stations)
    print(f"  the page before, trend and types     {plain:8.1f} ms")
    print(f"  what came through, flaws kept        {through:8.1f} ms")
    for what, taken in (
        ("learned anew", anew),
        ("counted again", again),
        ("kept", kept),
        ("kept, each station", every),
    ):
        whole = plain + through + taken
        print(f"  the three counts, {what:18s} {taken:8.1f} ms, the page {whole / plain:.2f} of before")
    print(f"  ratio learned anew / kept            {anew / kept:8.0f}")
    print(f"  ratio of pages, anew / kept          {(plain + through + anew) / (plain + through + kept):8.2f}")
    reads.close()


def played(folder: Path, weeks: int) -> Path:
    """Play the invented plant into a folder."""
    from click.testing import CliRunner

    from qc.cli import main

    told = CliRunner().invoke(main, ["demo", "--folder", str(folder), "--weeks", str(weeks), "--no-serve"])
    if told.exit_code:
        raise SystemExit(told.output)
    return folder


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--folder", type=Path, help="a played plant, copied first; without it one is played")
    options.add_argument("--weeks", type=int, default=26)
    asked = options.parse_args()
    with tempfile.TemporaryDirectory() as place:
        room = Path(place) / "plant"
        source = shutil.copytree(asked.folder, room) if asked.folder else played(room, asked.weeks)
        kept_record = Record(Path(source))
        measure(kept_record)
        kept_record.close()
