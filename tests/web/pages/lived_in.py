"""A plant's server whose record has lived a little: three weeks of units, each fed through the journal's own door.

Every unit, value and note is invented; what the pages must say about them is computed by hand in the tests.
"""

import tempfile
from functools import cache
from pathlib import Path

from qc.domain.plant.chassis import full_number, shop_number
from tests.kept_folder import Files, lay, taken_up
from tests.store.record_kit import Phone as JournalPhone
from tests.web.plant_server import CAST, PlantServer, cheap_hashes, picture, sha

DAY_MS = 24 * 3_600_000
# 2026-03-02 07:00 UTC, a Monday, early shift; the pages are read on the Monday three weeks later
START = 1_772_434_800_000
READ_AT = START + 21 * DAY_MS


def code(role: str) -> str:
    return CAST[role].code


def lay_lived_in(folder: Path) -> None:
    """Lay the lived-in record into a folder that has none, for a server whose PINs are hashed cheaply."""
    lay(_kept()[0], folder)


@cache
def _kept() -> tuple[Files, int, dict[str, str], int]:
    """Return the folder that `LivedIn.live` makes, its phone's last number, the ids by name, and the time."""
    with tempfile.TemporaryDirectory() as made, cheap_hashes():
        server = PlantServer(Path(made) / "plant")
        lived = LivedIn(server).live()
        server.house.close()
        return taken_up(server.house.folder), lived.phone.seq, lived.ids, server.now


class LivedIn:
    """Feeds a server's journal. Ids by a short name: ids["gap"] is the defect that waits for S07."""

    def __init__(self, server: PlantServer):
        self.server = server
        self.plant = server.house.plant
        self.phone = JournalPhone(server.house.journal, device="P1")
        self.ids: dict[str, str] = {}

    def at(self, day: int, minutes: float = 0) -> None:
        """Turn the clock to so many days after the first Monday's early shift."""
        self.server.now = START + day * DAY_MS + round(minutes * 60_000)

    def plan(self, sequence: int, model: str = "T36", **more: object) -> str:
        unit = full_number(self.plant, model, sequence)
        self.phone.must(
            "unit_planned", code("planner"), unit, model=model, shop_number=shop_number(self.plant, model, sequence),
            sequence=sequence, planned_day="2026-03-02", **more,
        )  # fmt: skip
        return unit

    def test_all(self, unit: str, model: str = "T36", fail: str = "") -> None:
        for test in self.plant.tests_of(model):
            body: dict[str, object] = {"test": test.id, "instrument": "IN-7", "calibrated_until": "2026-12-31"}
            if test.kind == "measure":
                low, high = test.lower, test.upper
                body["value"] = low if high is None else high if low is None else (low + high) / 2
            else:
                body["passed"] = test.id != fail
            self.phone.make("test_recorded", code("tester"), unit, **body)
        assert {verdict.verdict for verdict in self.phone.send()} == {"applied"}

    def begin(self, unit: str, point: str = "D01", **more: str) -> str:
        body = {"point": point, "purpose": "presentation", "light": "overcast", "weather": "dry", **more}
        return self.phone.must("inspection_begun", code("inspector"), unit, **body)

    def look(self, unit: str, inspection: str, model: str = "T36", skip: str = "") -> None:
        zones = [zone.key for zone in self.plant.zones_of(model) if zone.key != skip]
        self.phone.must("zone_looked_at", code("inspector"), unit, inspection=inspection, zones=zones)
        if skip:
            self.phone.must(
                "zone_not_looked_at", code("inspector"), unit, inspection=inspection, zone=skip, reason="no_safe_access"
            )

    def end(self, unit: str, inspection: str) -> None:
        self.phone.must("inspection_ended", code("inspector"), unit, inspection=inspection)

    def present(self, unit: str, point: str) -> None:
        """Present a unit where nothing is found."""
        inspection = self.begin(unit, point)
        self.end(unit, inspection)

    def defect(self, unit: str, inspection: str, zone: str, type_: str, severity: str, **more: object) -> str:
        body = {"inspection": inspection, "point": "D01", "zone": zone, "type": type_, "severity": severity, **more}
        return self.phone.must("defect_recorded", code("inspector"), unit, **body)

    def suspect(self, unit: str, defect: str, station: str) -> None:
        self.phone.must("origin_suspected", code("inspector"), unit, defect=defect, station=station)

    def photo(self, unit: str, defect: str, **more: object) -> None:
        """Attach a picture to a defect; it has arrived in full."""
        data = picture()
        self.server.house.photos.append(sha(data), 0, len(data), data)
        body = {"defect": defect, "sha256": sha(data), "bytes": len(data), **more}
        self.phone.must("photo_attached", code("inspector"), unit, **body)

    def live(self) -> "LivedIn":
        """Three weeks: one unit released, one waiting with defects, one with a critical, one just planned."""
        self.at(1)
        released = self.ids["released"] = self.plan(30001)
        self.clean(released)
        self.at(2)
        waiting = self.ids["waiting"] = self.plan(30002)
        self.waiting(waiting)
        self.at(8)
        critical = self.ids["critical"] = self.plan(30003)
        self.critical(critical)
        self.at(9)
        self.ids["planned"] = self.plan(30004, "M50")
        self.server.now = READ_AT
        return self

    def lived(self) -> "LivedIn":
        """Go on where `lay_lived_in` left off, whose record the server has opened."""
        self.phone.seq, self.ids, self.server.now = _kept()[1:]
        self.ids = dict(self.ids)
        return self

    def clean(self, unit: str) -> None:
        self.test_all(unit)
        self.present(unit, "T01")
        self.present(unit, "T02")
        inspection = self.begin(unit)
        self.look(unit, inspection)
        self.end(unit, inspection)
        record = self.server.house.reads.unit_story(unit)
        from qc.domain.unit.release import open_digest

        self.ids["release"] = self.phone.must(
            "unit_released", code("quality_manager"), unit, open_digest=open_digest(record), against="release rule 3"
        )

    def waiting(self, unit: str) -> None:
        self.present(unit, "T01")
        self.present(unit, "T02")
        inspection = self.begin(unit, light="low_sun")
        self.look(unit, inspection, skip="roof.front" if ("T36", "roof.front") in self.plant.zones else self.roof())
        gap = self.defect(unit, inspection, "nearside.upper.mid", "PAN-05", "major", note="gap <7> mm & more")
        self.ids["gap"] = gap
        self.suspect(unit, gap, "S05")
        self.photo(unit, gap)
        self.at(2, 30)
        scratch = self.defect(unit, inspection, "nearside.lower.mid", "PAN-03", "minor", mark=[1600, 900])
        self.ids["scratch"] = scratch
        self.suspect(unit, scratch, "S05")
        self.end(unit, inspection)

    def critical(self, unit: str) -> None:
        self.present(unit, "T01")
        inspection = self.begin(unit)
        self.ids["leak"] = self.defect(unit, inspection, "front.gas", "GAS-01", "critical")
        self.suspect(unit, self.ids["leak"], "S06")

    def roof(self) -> str:
        return next(zone.key for zone in self.plant.zones_of("T36") if zone.view == "roof")
