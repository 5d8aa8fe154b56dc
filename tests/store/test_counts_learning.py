"""What origins are learned from, and what came through a station: against rows counted again by plain Python.

Invented operations on the invented plant, played through the journal's own door.
"""

import random
from collections import Counter
from datetime import date

import orjson
import pytest

from qc.domain.counted.counts import Slice
from qc.domain.counted.origin_learning import OpenCell, SettledCell, first_of_source
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import FIELD
from qc.store.counts import Counts
from qc.store.record.connection import RECORD, open_reader
from tests.store.record_kit import PLANT, Clock, Phone, open_journal

WEEKS = Slice(date(2026, 2, 16), date(2026, 4, 6))
FIRST_WEEK = Slice(date(2026, 3, 2), date(2026, 3, 9))
GRAPH = BuildGraph(PLANT)
DENIALS = ("origin_passed_on", "origin_disputed")


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path, Clock()) as journal:
        yield journal


class Bay:
    """A unit in the daylight bay, and what is found and said there by I1."""

    def __init__(self, journal, sequence=30001, before=("T01", "T02")):
        self.phone, self.journal = Phone(journal), journal
        self.unit = self.phone.plan(sequence)
        for point in before:  # a unit counts once every end point has presented it
            look = self.phone.must(
                "inspection_begun", "I1", self.unit, point=point, purpose="presentation", light="bright"
            )
            self.phone.must("inspection_ended", "I1", self.unit, inspection=look)
        self.inspection = self.phone.must(
            "inspection_begun", "I1", self.unit, point="D01", purpose="presentation", light="bright"
        )

    def finds(self, guess="", type_="EXT-01", zone="front.panel", **more):
        defect = self.phone.must(
            "defect_recorded", "I1", self.unit, inspection=self.inspection, point="D01", zone=zone, type=type_,
            severity=PLANT.types[type_].default_severity, **more,
        )  # fmt: skip
        if guess:
            self.says("origin_suspected", "I1", defect, station=guess)
        return defect

    def says(self, kind, author, defect, **more):
        self.journal.clock.after(1)
        reason = {} if kind in ("origin_suspected", "origin_confirmed") else {"reason": "looked at it"}
        self.phone.must(kind, author, self.unit, defect=defect, **reason, **more)

    def ends(self):
        self.phone.must("inspection_ended", "I1", self.unit, inspection=self.inspection)


def learned(journal):
    return Counts(journal).origin_learning(WEEKS)


def test_a_guess_that_was_passed_on_stays_the_guess_that_it_was(journal):
    """Met in the demo: held against the suspicion that stands at last, 99 of 100 guesses seemed right, not 64."""
    bay = Bay(journal)
    defect = bay.finds("S07")
    bay.says("origin_passed_on", "L-S07", defect, station="S06")
    bay.says("origin_confirmed", "L-S06", defect, station="S06")
    bay.ends()

    assert learned(journal).settled == (SettledCell("EXT", "EXT-01", "S07", True, "S06", 1),)


def test_linked_defects_are_one_source_and_count_once(journal):
    """By hand: a, b linked to a, c linked to b and settled: one of a's kind at S07. d stands for itself, open."""
    bay = Bay(journal)
    first = bay.finds("S07")
    second = bay.finds("S06", "SEA-01", "roof.front", linked_to=first)
    third = bay.finds("", "EXT-01", linked_to=second)
    bay.finds("S08", "SEA-01", "roof.front")
    bay.ends()
    assert [(cell.type, cell.guess, cell.count) for cell in learned(journal).open] == [
        ("EXT-01", "S07", 1),
        ("SEA-01", "S08", 1),
    ]
    bay.says("origin_suspected", "QM1", third, station="S07")
    bay.says("origin_confirmed", "L-S07", third, station="S07")

    assert learned(journal).settled == (SettledCell("EXT", "EXT-01", "S07", False, "S07", 1),)
    assert [(cell.type, cell.count) for cell in learned(journal).open] == [("SEA-01", 1)]


def test_the_first_recorded_of_a_source_is_found_through_every_link():
    assert first_of_source([("a", None), ("b", "a"), ("c", "b"), ("d", None)]) == {
        "a": "a",
        "b": "a",
        "c": "a",
        "d": "d",
    }
    assert first_of_source([("b", "gone"), ("c", "gone"), ("d", "c")]) == {"b": "b", "c": "b", "d": "b"}
    assert first_of_source([("a", "b"), ("b", "a")]) == {"a": "a", "b": "a"}
    assert first_of_source([]) == {}


def test_a_dispute_keeps_the_guess_and_says_that_it_was_denied(journal):
    bay = Bay(journal)
    defect = bay.finds("S07")
    bay.says("origin_disputed", "L-S07", defect)
    bay.ends()
    assert learned(journal).open == (
        OpenCell(group="EXT", type="EXT-01", guess="S07", denied=True, point="D01", model="T36", suspected="", count=1),
    )
    bay.says("origin_settled", "QM1", defect, station="RP2")

    assert learned(journal).settled == (SettledCell("EXT", "EXT-01", "S07", True, "RP2", 1),)


def test_whom_somebody_else_names_is_not_the_finders_guess(journal):
    """The manager who names a station for the lead to confirm knows more than a finder does."""
    bay = Bay(journal)
    defect = bay.finds()
    bay.says("origin_suspected", "QM1", defect, station="S06")
    bay.ends()
    assert learned(journal).open == (
        OpenCell(
            group="EXT", type="EXT-01", guess="", denied=False, point="D01", model="T36", suspected="S06", count=1
        ),
    )
    bay.says("origin_confirmed", "L-S06", defect, station="S06")

    assert learned(journal).settled == (SettledCell("EXT", "EXT-01", "", False, "S06", 1),)


def test_not_known_is_no_guess_and_a_second_guess_is_not_the_first(journal):
    bay = Bay(journal)
    unknown = bay.finds("UNK")
    bay.says("origin_suspected", "I1", unknown, station="S06")
    twice = bay.finds("S07")
    bay.says("origin_suspected", "I1", twice, station="S06")
    bay.ends()

    assert {(cell.guess, cell.suspected) for cell in learned(journal).open} == {("", "S06"), ("S07", "S06")}


def test_what_was_closed_as_not_known_is_settled_as_such(journal):
    bay = Bay(journal)
    defect = bay.finds("S07")
    bay.says("origin_settled", "QM1", defect, station="UNK")
    bay.ends()

    assert learned(journal).settled == (SettledCell("EXT", "EXT-01", "S07", False, "UNK", 1),)


def test_withdrawn_and_found_after_dispatch_are_not_learned_from(journal):
    bay = Bay(journal)
    bay.phone.must("defect_withdrawn", "I1", bay.unit, defect=bay.finds("S07"), why="not_a_defect", reason="a shadow")
    bay.ends()
    bay.phone.must(
        "field_finding", "DX1", bay.unit, zone="front.panel", type="EXT-01", severity="minor", found_day="2026-03-03"
    )

    table = learned(journal)
    assert (table.settled, table.open, table.units) == ((), (), 1)


def test_what_is_kept_between_pages_follows_the_record(journal):
    bay, counts = Bay(journal), Counts(journal)
    defect = bay.finds("S07")
    bay.ends()
    before = counts.origin_learning(WEEKS)
    assert counts.origin_learning(WEEKS) is before
    bay.says("origin_confirmed", "L-S07", defect, station="S07")

    assert [cell.origin for cell in counts.origin_learning(WEEKS).settled] == ["S07"]
    other = Slice(WEEKS.first, date(2026, 3, 1))
    assert counts.origin_learning(other).units == 0


def rows_of(journal, statement):
    reader = open_reader(journal.folder / RECORD)
    try:
        return [dict(row) for row in reader.execute(statement)]
    finally:
        reader.close()


def seen_units(journal, weeks=WEEKS):
    """Return model by unit of those that every end point has presented, the last of them in the weeks, by hand."""
    model = {row["chassis"]: row["model"] for row in rows_of(journal, "SELECT chassis, model FROM unit")}
    latest: dict[str, tuple[int, int, str]] = {}
    points: dict[str, set[str]] = {}
    for row in rows_of(journal, "SELECT * FROM inspection"):
        first = row["purpose"] == "presentation" and row["presentation"] == 1 and row["ended_ms"] is not None
        if first and row["point"] in PLANT.end_points():
            ended = row["ended_ms"], row["number"], row["production_day"]
            latest[row["unit"]] = max(latest.get(row["unit"], ended), ended)
            points.setdefault(row["unit"], set()).add(row["point"])
    whole = {unit for unit, here in points.items() if here == set(PLANT.end_points())}
    days = {unit: date.fromisoformat(latest[unit][2]) for unit in whole}
    return {unit: model[unit] for unit, day in days.items() if weeks.first <= day < weeks.end}


def flaws(journal, weeks, after_dispatch):
    """Return the rows of defects that count on the units seen."""
    seen = seen_units(journal, weeks)
    ended = {row["id"] for row in rows_of(journal, "SELECT id FROM inspection WHERE ended_ms IS NOT NULL")}
    return [
        row
        for row in rows_of(journal, "SELECT * FROM defect")
        if row["unit"] in seen
        and row["state"] != "withdrawn"
        and (row["first_presentation"] == 1 or (after_dispatch and row["point"] == FIELD))
        and (row["inspection"] is None or row["inspection"] in ended)
    ]


def words(journal):
    """Return the applied words on origins by defect, in the order of their effect."""
    said: dict[str, list[tuple[str, str, str]]] = {}
    kinds = "SELECT j.bytes, j.kind, j.author FROM journal AS j JOIN verdict AS v ON v.number = j.number"
    for row in rows_of(journal, f"{kinds} WHERE v.verdict = 'applied' AND j.kind LIKE 'origin%' ORDER BY v.place"):
        body = orjson.loads(row["bytes"])["body"]
        said.setdefault(body["defect"], []).append((row["kind"], row["author"], body.get("station", "")))
    return said


def recounted(journal, weeks):
    """Count what origins are learned from once more, from the rows."""
    said, settled, opened = words(journal), Counter(), Counter()
    for row in flaws(journal, weeks, after_dispatch=False):
        own = said.get(row["id"], [])
        kind, author, station = own[0] if own else ("", "", "")
        guess = station if (kind, author) == ("origin_suspected", row["finder"]) and station != "UNK" else ""
        key = row["type"], guess, any(one[0] in DENIALS for one in own)
        if row["origin_state"] in ("confirmed", "settled"):
            settled[*key, row["confirmed"]] += 1
        else:
            now = row["suspected"] if row["origin_state"] == "suspected" and row["suspected"] != "UNK" else ""
            opened[*key, row["point"], row["model"], now] += 1
    return settled, opened


def passed_by_hand(journal, weeks, station):
    """Count what came through a station once more, from the rows: (origin, type) → confirmed, suspected; the units."""
    counts, units = Counter(), set()
    seen = seen_units(journal, weeks)
    place = PLANT.stations[station]
    for row in flaws(journal, weeks, after_dispatch=True):
        sure = row["origin_state"] in ("confirmed", "settled")
        origin = row["confirmed"] if sure else row["suspected"] if row["origin_state"] == "suspected" else None
        model = seen[row["unit"]]
        through = station in GRAPH.stations_in(model) and origin in GRAPH.stations_in(model)
        later = row["point"] == FIELD or station in GRAPH.upstream_of(row["point"])
        first = PLANT.types[row["type"]].first_detect_point
        asked = not place.can_detect or first == station or first in GRAPH.upstream_of(station)
        if through and later and asked and origin in GRAPH.upstream_of(station):
            counts[origin, row["type"], sure] += 1
            units.add(row["unit"])
    return counts, units


def a_random_fortnight(journal, seed):
    """Play twenty units: looks of which some never end, finds, guesses, leads' words (many refused), field findings."""
    pick, chance = (source := random.Random(seed)).choice, source.random
    phone, places = Phone(journal), ["S06", "S07", "FU1", "RP2", "SUP", "UNK", "D01"]
    types = ["EXT-01", "PAN-05", "GAS-01", "WAT-01", "SEA-01"]
    for n in range(20):
        unit = phone.plan(30001 + n, pick(list(PLANT.models)))
        found = []
        again = source.sample(list(PLANT.end_points()), source.choice([2, 3, 3, 3]))
        for point in [*again, *source.sample(again, chance() < 0.3)]:
            look = phone.must(
                "inspection_begun", pick(["I1", "I2"]), unit, point=point, purpose="presentation", light="bright"
            )
            for _ in range(source.randint(0, 5)):
                kind, finder = pick(types), pick(["I1", "I2"])
                body = {
                    "point": point,
                    "zone": "front.panel",
                    "type": kind,
                    "severity": PLANT.types[kind].default_severity,
                }
                found.append((phone.must("defect_recorded", finder, unit, inspection=look, **body), finder))
            if chance() < 0.85:
                phone.must("inspection_ended", "I1", unit, inspection=look)
            journal.clock.after(60 * source.randint(1, 12))
        if chance() < 0.5:
            body = {"zone": "front.panel", "type": pick(types), "severity": "critical", "found_day": "2026-03-02"}
            found.append((phone.must("field_finding", "DX1", unit, **body), "DX1"))
        for _ in range(6 * len(found)):
            defect, finder = pick(found)
            word = pick(["suspected", "suspected", "confirmed", "passed_on", "disputed", "settled", "withdrawn"])
            who = {"suspected": pick([finder, finder, "QM1"]), "settled": "QM1"}.get(
                word, pick(["L-S06", "L-S07", "QM1"])
            )
            body = {"defect": defect, **({} if word in ("disputed", "withdrawn") else {"station": pick(places)})}
            if word in ("passed_on", "disputed", "settled", "withdrawn"):
                body["reason"] = "looked at it"
            if word != "withdrawn":
                phone.do(f"origin_{word}", who, unit, **body)
            elif chance() < 0.2:
                phone.do("defect_withdrawn", "QM1", unit, why="not_a_defect", **body)
            journal.clock.after(1)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("weeks", [WEEKS, FIRST_WEEK])
def test_a_random_fortnight_is_counted_as_plain_python_counts_its_rows(journal, seed, weeks):
    a_random_fortnight(journal, seed)
    counts, seen = Counts(journal), seen_units(journal, weeks)
    settled, opened = recounted(journal, weeks)
    table = counts.origin_learning(weeks)

    assert {(c.type, c.guess, c.denied, c.origin): c.count for c in table.settled} == dict(settled)
    assert {(c.type, c.guess, c.denied, c.point, c.model, c.suspected): c.count for c in table.open} == dict(opened)
    assert table.units == len(seen) > 3
    assert min(sum(settled.values()), sum(opened.values()), sum(n for key, n in settled.items() if key[2])) > 0
    for station in ("S06", "S07", "T01", "D01", "X01", "FU1", "R01"):
        told = counts.passed_through(weeks, station)
        by_hand, units = passed_by_hand(journal, weeks, station)
        assert cells_of(told) == by_hand
        assert (told.units_with, told.units) == (
            len(units),
            sum(station in GRAPH.stations_in(model) for model in seen.values()),
        )
    assert sum(cells_of(counts.passed_through(weeks, "S07")).values()) > 1


def cells_of(told):
    cells = Counter()
    for cell in told.cells:
        cells[cell.origin, cell.type, True] += cell.confirmed
        cells[cell.origin, cell.type, False] += cell.suspected
    return +cells


def unit_with(journal, point, type_, origin, sequence=30001):
    """Return a unit looked at everywhere, with one defect found at a point and settled at an origin."""
    phone = Phone(journal, f"P{sequence % 10}")
    unit = phone.plan(sequence)
    for here in PLANT.end_points():
        look = phone.must("inspection_begun", "I1", unit, point=here, purpose="presentation", light="bright")
        if here == point:
            body = {"zone": "front.panel", "type": type_, "severity": PLANT.types[type_].default_severity}
            defect = phone.must("defect_recorded", "I1", unit, inspection=look, point=point, **body)
            phone.must("origin_settled", "QM1", unit, defect=defect, station=origin, reason="seen")
        phone.must("inspection_ended", "I1", unit, inspection=look)
    return unit


def through(journal, station):
    told = Counts(journal).passed_through(WEEKS, station)
    return sum(cell.confirmed + cell.suspected for cell in told.cells), told.units_with, told.units, told.not_asked


def test_what_was_made_before_a_station_and_found_after_it_went_through_it(journal):
    unit_with(journal, "D01", "PAN-05", "RP2")

    assert through(journal, "S07") == (1, 1, 1, 0)
    assert through(journal, "RP2") == (0, 0, 1, 0)  # its own is no upstream defect
    assert through(journal, "RP1") == (0, 0, 1, 0)  # made after it
    assert through(journal, "D01") == (0, 0, 1, 0)  # found there


def test_a_station_that_looks_is_charged_only_with_what_it_is_asked_to_find(journal):
    # EXT-01 is first to be seen in the daylight bay, GAS-01 at the services test.
    unit_with(journal, "D01", "EXT-01", "S06", 30001)
    unit_with(journal, "D01", "GAS-01", "S06", 30002)

    assert through(journal, "T01") == (1, 1, 2, 1)
    assert through(journal, "S07") == (2, 2, 2, 0)


def test_a_place_outside_the_build_lets_nothing_through(journal):
    unit_with(journal, "D01", "PAN-05", "RP2")

    assert through(journal, "SUP") == (0, 0, 0, 0)
    with pytest.raises(KeyError, match="S99"):
        Counts(journal).passed_through(WEEKS, "S99")


def test_a_unit_counts_where_its_latest_first_look_ended(journal):
    bay = Bay(journal, before=["T02"])
    bay.finds("S07")
    bay.ends()
    assert Counts(journal).origin_learning(FIRST_WEEK).units == 0
    journal.clock.after(60 * 24 * 8)
    look = bay.phone.must("inspection_begun", "I1", bay.unit, point="T01", purpose="presentation", light="bright")
    bay.phone.must("inspection_ended", "I1", bay.unit, inspection=look)

    table = Counts(journal).origin_learning(FIRST_WEEK)
    assert (table.units, table.open) == (0, ())
    assert [cell.count for cell in learned(journal).open] == [1]


def test_words_that_come_between_two_readings_are_followed(journal):
    """The words are read to their end once, and from there on."""
    bay, counts = Bay(journal), Counts(journal)
    bay.ends()
    assert counts.origin_learning(WEEKS).open == ()
    for n in range(3):
        defect = bay.finds("S07")
        counts.origin_learning(WEEKS)
        if n:
            bay.says("origin_passed_on", "L-S07", defect, station="S06")
            counts.origin_learning(WEEKS)
            bay.says("origin_confirmed", "L-S06", defect, station="S06")
        followed = counts.origin_learning(WEEKS)
        assert followed == learned(journal)

    assert [(cell.guess, cell.denied, cell.origin, cell.count) for cell in followed.settled] == [
        ("S07", True, "S06", 2)
    ]


@pytest.mark.parametrize("seed", range(3))
def test_a_random_fortnight_read_in_between_is_learned_as_if_read_at_once(journal, seed):
    counts, send = Counts(journal), Phone.send
    with pytest.MonkeyPatch.context() as patch:
        calls = iter(range(10**6))

        def send_and_read(phone, **batch):
            answer = send(phone, **batch)
            if next(calls) % 25 == 0:
                counts.origin_learning(WEEKS)
            return answer

        patch.setattr(Phone, "send", send_and_read)
        a_random_fortnight(journal, seed)

    assert counts.origin_learning(WEEKS) == learned(journal)


def test_a_guess_that_came_before_its_defect_is_read_when_it_comes_into_effect(journal):
    """Two phones of one inspector: the one with the defect has no signal. The guess is parked under its own number."""
    bay, counts, other = Bay(journal), Counts(journal), Phone(journal, "P2")
    body = {"zone": "front.panel", "type": "EXT-01", "severity": "minor", "point": "D01", "inspection": bay.inspection}
    held = bay.phone.make("defect_recorded", "I1", bay.unit, **body)
    _, verdict = other.do(
        "origin_suspected", "I1", bay.unit, defect=held["id"], station="S07", envelope={"deps": [held["id"]]}
    )
    assert verdict.verdict == "parked"
    for n in range(4):  # so that more has come into effect by the reading than the guess's number
        other.plan(30020 + n)
    counts.origin_learning(WEEKS)
    bay.phone.send()
    bay.ends()

    assert [cell.guess for cell in counts.origin_learning(WEEKS).open] == ["S07"]
    assert counts.origin_learning(WEEKS) == learned(journal)
