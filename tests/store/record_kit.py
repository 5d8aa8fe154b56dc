"""What the record's tests speak in: the invented plant, people by code, phones that number what they record."""

import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

import orjson

from qc.assets import folder as asset_folder
from qc.domain.facts.people import Person
from qc.domain.plant.chassis import full_number, shop_number
from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.domain.unit.release import open_digest
from qc.domain.unit.retests import stands_failed, untold
from qc.domain.unit.unit_record import UnitRecord
from qc.store.intake.journal import Journal, PushBatch, Verdict
from qc.store.reading.reads import Reads
from tests.empty_record import laid_in

TABLES = tables_of(asset_folder("demo_data") / "plant")
PLANT: Plant = plant_from_tables(TABLES)
START = 1_772_434_800_000  # 2026-03-02 07:00 UTC, a Monday, early shift
MINUTE = 60_000

PEOPLE = {
    person.code: person
    for person in (
        Person("I1", "Inspector one", "inspector"),
        Person("I2", "Inspector two", "inspector"),
        Person("TB1", "Tester one", "tester"),
        Person("RW1", "Repairer one", "repairer"),
        Person("RW2", "Repairer two", "repairer"),
        Person("L-S06", "Lead of S06", "station_lead", ("S06",)),
        Person("L-S07", "Lead of S07", "station_lead", ("S07",)),
        Person("QM1", "Quality manager", "quality_manager"),
        Person("PL1", "Planner", "planner"),
        Person("DX1", "Dispatch", "dispatch"),
        Person("AD1", "Administrator", "administrator"),
    )
}


def new_id(ms: int, drawn: Callable[[int], bytes] = secrets.token_bytes) -> str:
    """Return a version 7 UUID (RFC 9562, 5.7) for an instant; drawn gives its random bytes."""
    tail = drawn(10)
    number = ms << 80 | 0x7 << 76 | (int.from_bytes(tail[:2]) & 0xFFF) << 64 | 0b10 << 62
    number |= int.from_bytes(tail[2:]) & (2**62 - 1)
    text = f"{number:032x}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


class Clock:
    """A server clock that stands still until told to go on."""

    def __init__(self, now_ms: int = START) -> None:
        self.now_ms = now_ms

    def __call__(self) -> int:
        return self.now_ms

    def after(self, minutes: float) -> int:
        self.now_ms += round(minutes * MINUTE)
        return self.now_ms


def unit_number(sequence: int = 30001, model: str = "T36") -> str:
    return full_number(PLANT, model, sequence)


def open_journal(folder: Path, clock: Callable[[], int] | None = None, plant: Plant = PLANT) -> Journal:
    return Journal(laid_in(folder), plant, TABLES, clock or Clock(), people=PEOPLE.get)


def story_of(journal: Journal, unit: str) -> UnitRecord:
    reads = Reads(journal.folder, PLANT)
    record = reads.unit_story(unit)
    reads.close()
    assert record is not None
    return record


class Phone:
    """An installation: makes operations with dense numbers and pushes them; its clock is the server's unless set.

    drawn: where the random bytes of its ids come from; a day that is to be played again gives its own.
    """

    def __init__(
        self,
        journal: Journal,
        device: str = "P1",
        epoch: str = "e1",
        drawn: Callable[[int], bytes] = secrets.token_bytes,
    ) -> None:
        self.journal = journal
        self.drawn = drawn
        self.device = device
        self.epoch = epoch
        self.seq = 0
        self.seen_through = 2**40  # it has pulled everything, unless a test says otherwise
        self.unsent: list[tuple[bytes, dict[str, Any]]] = []

    def make(self, kind: str, author: str, unit: str | None = None, **body: Any) -> dict[str, Any]:
        """Record an operation on the phone without sending it; ``envelope`` in body overrides envelope fields."""
        envelope = body.pop("envelope", {})
        self.seq += 1
        now = self.journal.clock()
        raw = {
            "id": new_id(now, self.drawn),
            "device": self.device,
            "install_epoch": self.epoch,
            "seq": self.seq,
            "kind": kind,
            "schema": 1,
            "unit": unit,
            "body": body,
            "author": author,
            "deps": [],
            "seen_through": self.seen_through,
            "wall_ms": now,
            "tz_min": 0,
            "session": "s1",
            "mono_ms": 1,
            **envelope,
        }
        self.unsent.append((orjson.dumps(raw), raw))
        return raw

    def send(self, **batch: Any) -> list[Verdict]:
        """Push what is unsent, in order, and forget it; return the verdicts."""
        operations, self.unsent = self.unsent, []
        given = {"device": self.device, "install_epoch": self.epoch, "sent_ms": self.journal.clock(), **batch}
        return list(self.journal.push(PushBatch(operations=operations, **given)).verdicts)

    def do(self, kind: str, author: str, unit: str | None = None, **body: Any) -> tuple[str, Verdict]:
        """Record and send one operation; return its id and verdict."""
        made = self.make(kind, author, unit, **body)
        return made["id"], self.send()[-1]

    def must(self, kind: str, author: str, unit: str | None = None, **body: Any) -> str:
        """Record and send one operation that has to be applied; return its id."""
        id_, verdict = self.do(kind, author, unit, **body)
        assert verdict.verdict == "applied", verdict
        return id_

    def plan(self, sequence: int = 30001, model: str = "T36") -> str:
        """Plan a unit and return its chassis number."""
        chassis = unit_number(sequence, model)
        self.must(
            "unit_planned",
            "PL1",
            chassis,
            model=model,
            shop_number=shop_number(PLANT, model, sequence),
            sequence=sequence,
            planned_day="2026-03-02",
        )
        return chassis

    def test_all(self, unit: str, model: str = "T36") -> None:
        """Pass every test that the model needs, a minute later, in the middle of its limits; a failure is told why."""
        self.journal.clock.after(1)  # type: ignore[attr-defined]
        record = story_of(self.journal, unit)
        for test in PLANT.tests_of(model):
            body: dict[str, Any] = {"test": test.id, "instrument": "IN-1"}
            if test.kind == "measure":
                low, high = test.lower, test.upper
                body["value"] = low if high is None else high if low is None else (low + high) / 2
            else:
                body["passed"] = True
            if stands_failed(one for one in record.tests if one.test == test.id):
                body["again"] = "repair"
            self.make("test_recorded", "TB1", unit, **body)
        assert {verdict.verdict for verdict in self.send()} == {"applied"}

    def look(self, unit: str, author: str = "I1", model: str = "T36", point: str = "D01") -> str:
        """Look at every zone in the daylight bay, from begin to end; return the inspection's id."""
        inspection = self.must("inspection_begun", author, unit, point=point, purpose="presentation", light="bright")
        zones = [zone.key for zone in PLANT.zones_of(model)]
        self.must("zone_looked_at", author, unit, inspection=inspection, zones=zones)
        self.must("inspection_ended", author, unit, inspection=inspection)
        return inspection

    def settle(self, unit: str) -> None:
        """Tell failures that no defect tells, end what runs, repair what is open, let another person accept it."""
        for result in untold(story_of(self.journal, unit).tests):
            type_ = PLANT.types[PLANT.tests[result.test].defect_on_fail]
            zone = next(zone.key for zone in PLANT.zones_of("T36") if zone.kind in type_.zone_kinds)
            what = {"point": "T01", "zone": zone, "type": type_.code, "severity": type_.default_severity}
            self.must("defect_recorded", "TB1", unit, **what, result=result.id)
        record = story_of(self.journal, unit)
        for one in record.inspections:
            if one.ended_ms is None:
                self.must("inspection_ended", "I1", unit, inspection=one.id)
        for defect in record.defects:
            if defect.state == "open" or "repair" in {one.method for one in defect.repairs[-1:]}:
                self.must("repair_done", "RW2", unit, defects=[defect.id], method="rework", minutes=3)
        for defect in story_of(self.journal, unit).defects:
            if defect.state == "repaired":
                repairers = {one.repairer for one in defect.repairs if one.cycle == defect.cycles}
                other = next(who for who in ("I1", "I2", "QM1") if who not in repairers)
                self.must("recheck_accepted", other, unit, defect=defect.id)

    def sign(self, unit: str, author: str = "QM1", **changed: Any) -> Verdict:
        """Sign for the release of a unit, with the digest of what the record holds."""
        body = {
            "open_digest": open_digest(story_of(self.journal, unit)),
            "against": "release rule of the plant",
            **changed,
        }
        return self.do("unit_released", author, unit, **body)[1]
