"""The checks that concern the record itself, on whole plays of 26 weeks through the journal."""

import os
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from qc.assets import folder
from qc.demo.cast import LED, people
from qc.demo.play import Player
from qc.demo.simulate import Simulation
from qc.domain.acts.unit import fold
from qc.domain.counted.counts import Slice
from qc.domain.plant.calendar import iso_week
from qc.domain.plant.plant import UNKNOWN
from qc.domain.tables.plant_tables import tables_of
from qc.domain.unit.release import blockers
from qc.reports.asking import Asking
from qc.reports.periods import week_of, weeks_up_to
from qc.reports.week.safety import safety
from qc.store.counts import Counts
from qc.store.intake.journal import Journal
from qc.store.reading.reads import Reads
from qc.store.record.connection import RECORD, open_reader
from tests.truth.drawn import PLANT, STORY
from tests.truth.measured import Measured

WEEKS = 26
IN_MEMORY = "/dev/shm"
WHOLE = Slice(STORY.monday(1), STORY.monday(WEEKS + 1))
OWN = tuple(place.id for place in PLANT.stations.values() if place.kind in LED)
ROWS = """
SELECT id, unit, type, suspected, confirmed, origin_state, point, state, first_presentation, severity
  FROM defect
"""
PRESENTED = """
WITH ended AS (SELECT unit, point FROM inspection WHERE purpose = 'presentation' AND ended_ms IS NOT NULL)
SELECT unit FROM ended GROUP BY unit HAVING count(DISTINCT point) = (SELECT count(DISTINCT point) FROM ended)
"""
HAPPENED = "SELECT id, happened_ms FROM journal"


@dataclass(frozen=True, slots=True)
class Checked:
    """What one play answers. refusals: codes of releases that were refused; released: units let go."""

    first_figures_equal: bool
    criticals: int
    second_linked: bool
    stations_add_up: bool
    suspected_right: float
    confirmed_right: float
    lost: int
    slow_phone_off_ms: int
    refusals: tuple[tuple[str, int], ...]
    released: int
    released_blocked: int


def checked(seed: int) -> Checked:
    """Play a seed into a folder of its own and check it; in memory where the machine offers a folder there.

    What is durable is no question here, and waiting for a disk is a fifth of a play.
    """
    with tempfile.TemporaryDirectory(dir=IN_MEMORY if os.access(IN_MEMORY, os.W_OK) else None) as place:
        return _checked(seed, Path(place) / "record")


def _checked(seed: int, place: Path) -> Checked:
    everybody = {person.code: person for person in people(PLANT)}
    simulation = Simulation(STORY, PLANT, seed, WEEKS)
    acts = simulation.acts()
    simulation.acts = lambda say=None: acts  # type: ignore[method-assign]  # the play sends these very acts
    journal = Journal(place, PLANT, tables_of(folder("demo_data") / "plant"), lambda: player.now_ms, everybody.get)
    player = Player(simulation, journal)
    played = player.play()
    counts, reads, now = Counts(journal), Reads(place, PLANT), simulation.ends + 60 * 3_600_000
    try:
        return Checked(
            _first_figures(counts, simulation, now),
            len(counts.criticals(WHOLE)),
            _linked(counts, now),
            _add_up(counts, place, now),
            *_right(place, simulation),
            *_arrived(place, acts),
            tuple(sorted(_refused_releases(played.refused).items())),
            *_released(reads, simulation),
        )
    finally:
        reads.close()
        journal.close()


def _first_figures(counts: Counts, simulation: Simulation, now: int) -> bool:
    """Compare the weeks' defects with what the first looks found; the last two weeks may still hold twins."""
    weeks = counts.week_counts(WHOLE, "D01", now)
    told = dict(zip(weeks.weeks, zip(weeks.inspected, weeks.defects, strict=True), strict=True))
    units: Counter[str] = Counter()
    truth: Counter[str] = Counter()
    for visit in simulation.visits:
        units[iso_week(visit.unit.day)] += 1
        truth[iso_week(visit.unit.day)] += sum(made.found == "D01" for made in visit.made)
    return all(told[week] == (units[week], truth[week]) for week in list(told)[: WEEKS - 2])


def _linked(counts: Counts, now: int) -> bool:
    """Look at week 13's safety list: the second gas failure must name the first."""
    ask = Asking(counts=counts, plant=PLANT, now_ms=now)
    week = week_of(STORY.monday(13), ask.today)
    gas = [line for line in safety(ask, week, weeks_up_to(week, 13)).week if line.type == "GAS-01"]
    return len(gas) == 2 and any(one.defect in other.alike for one in gas for other in gas)


def _rows(place: Path, asked: str = ROWS):
    connection = open_reader(place / RECORD)
    try:
        return connection.execute(asked).fetchall()
    finally:
        connection.close()


def _add_up(counts: Counts, place: Path, now: int) -> bool:
    """Compare each station's defects with a count of the rows that stand against it, made here by hand.

    A unit stands in no week before every end point has presented it; all of the story's models come by all of them.
    """
    truth: Counter[str] = Counter()
    presented = {row["unit"] for row in _rows(place, PRESENTED)}
    for row in _rows(place):
        if row["state"] == "withdrawn" or not row["first_presentation"] or row["point"] == "FIELD":
            continue
        if row["unit"] not in presented:
            continue
        if row["origin_state"] in ("confirmed", "settled"):
            truth[row["confirmed"]] += 1
        elif row["origin_state"] == "suspected":
            truth[row["suspected"]] += 1
    told = counts.all_station_weeks(WHOLE, "found", now)
    return UNKNOWN not in told and all(truth[one] == sum(told[one].confirmed) + sum(told[one].suspected) for one in OWN)


def _right(place: Path, simulation: Simulation) -> tuple[float, float]:
    """Return the shares of finders' guesses and of leads' words that name the true origin."""
    true = {found.id: found.made.origin for visit in simulation.visits for found in visit.findings}
    rows = [row for row in _rows(place) if row["id"] in true and true[row["id"]] != UNKNOWN]
    said = [row for row in rows if row["origin_state"] in ("confirmed", "settled")]
    guesses = _guesses(simulation)
    guessed = [guesses.get(row["id"], UNKNOWN) == true[row["id"]] for row in rows]
    confirmed = [row["confirmed"] == true[row["id"]] for row in said]
    return sum(guessed) / len(guessed), sum(confirmed) / len(confirmed)


def _guesses(simulation: Simulation) -> dict[str, str]:
    """Return the finder's own first guess at each finding's origin."""
    finders = {found.id: found.finder for visit in simulation.visits for found in visit.findings}
    guesses: dict[str, str] = {}
    for act in simulation.acts():
        if act.kind == "origin_suspected" and finders.get(act.body["defect"]) == act.author:
            guesses.setdefault(act.body["defect"], act.body["station"])
    return guesses


def _arrived(place: Path, acts) -> tuple[int, int]:
    """Return how many acts the journal lacks, and by how much the slow phone's instants are off at most."""
    connection = open_reader(place / RECORD)
    try:
        happened = dict(tuple(row) for row in connection.execute(HAPPENED))
    finally:
        connection.close()
    slow = STORY.phones["slow"]["device"]
    off = [abs(happened[act.id] - act.ms) for act in acts if act.device == slow and act.id in happened]
    return sum(act.id not in happened for act in acts), max(off)


def _refused_releases(refused: Sequence[tuple[str, str, str]]) -> Counter[str]:
    return Counter(code for kind, code, _ in refused if kind == "unit_released")


def _released(reads: Reads, simulation: Simulation) -> tuple[int, int]:
    """Return how many releases took effect, and how many of them while something blocked them."""
    released = blocked = 0
    for unit in simulation.units:
        events = reads.operations_of(unit.chassis)
        for place, event in enumerate(events):
            if event.operation.kind == "unit_released" and event.verdict == "applied":
                released += 1
                record = fold(events[:place])
                blocked += record is None or bool(blockers(record, PLANT))
    return released, blocked


def lines(plays: Sequence[Checked]) -> list[Measured]:
    """Return the lines for checks 1, 8, 9, 11 and 12."""

    def of(check: str, planted: str, found: str, hits: Sequence[bool]) -> Measured:
        return Measured(check, planted, found, sum(hits), len(plays), 1.0, reason="a record is exact: every play")

    suspected = " ".join(f"{one.suspected_right:.2f}" for one in plays)
    confirmed = " ".join(f"{one.confirmed_right:.2f}" for one in plays)
    near = [abs(one.suspected_right - 0.70) < 0.03 and abs(one.confirmed_right - 0.95) < 0.03 for one in plays]
    refusals: Counter[str] = Counter()
    for one in plays:
        refusals.update(dict(one.refusals))
    told = ", ".join(f"{code} {count}" for code, count in sorted(refusals.items()))
    return [
        of("1 second looks, doubles, reopened", "no new defect", "weeks 1-24 equal first looks",
           [one.first_figures_equal for one in plays]),
        of("8 criticals", "14", "all listed by number", [one.criticals == 14 for one in plays]),
        of("8 second gas failure of week 13", "a cluster", "names the first", [one.second_linked for one in plays]),
        of("9 station sums", "no unknown, disputed, supplier", "equal the rows that stand against them",
           [one.stations_add_up for one in plays]),
        of("9 suspected and confirmed", "0.70 and 0.95 right", f"{suspected} and {confirmed}", near),
        of("11 captures of all phones", "up to 11 h without signal", "none lost", [one.lost == 0 for one in plays]),
        of("11 slow phone's instants", "37 minutes slow",
           f"off by {max(one.slow_phone_off_ms for one in plays) / 1000:.1f} s at most",
           [one.slow_phone_off_ms < 60_000 for one in plays]),
        of("12 releases that took effect", "none while blocked", f"{sum(one.released for one in plays)} looked at",
           [one.released > 0 and one.released_blocked == 0 for one in plays]),
        of("12 releases tried while blocked", "all refused", told or "none", [bool(one.refusals) for one in plays]),
    ]  # fmt: skip
