"""A unit at the end points: tested, sprayed, walked round; what is found is recorded as the app records it."""

from typing import Any

from qc.demo.acts import Act, Log
from qc.demo.cast import lead_of, phone_of, tester_on
from qc.demo.findings import Findings, Visit
from qc.demo.hours import MINUTE, Hours, Stretch
from qc.demo.making import Made
from qc.demo.places import Places, bad_value, good_value, instrument
from qc.demo.schedule import Unit
from qc.demo.story import Story
from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.plant import Test, Zone

SLOT = 74  # minutes between units of a shift
WHEELS, TEST_BAY, SPRAY, DAYLIGHT = 0, 6, 28, 44  # minutes into a unit's slot
# What fails a test, where that is not simply the type it raises: of several tests that raise one type the first
# shows it; water comes in through either seam; crossed road lights are not working road lights.
SHOWS: dict[str, tuple[str, ...]] = {
    "G2": (),
    "G3": (),
    "M4": (),
    "M5": (),
    "E2": (),
    "R1": ("RLT-01", "RLT-03"),
    "R2": (),
    "B1": ("SEA-01", "SEA-03"),
}
LOOK_MINUTES = 30
LIGHTS_BY_SHIFT = {"early": ("bright", "overcast", "low_sun"), "late": ("overcast", "bright", "lamps")}


class Looks:
    """Makes the acts of first presentations."""

    def __init__(self, story: Story, places: Places, hours: Hours, findings: Findings) -> None:
        self.story = story
        self.findings = findings
        self.plant = places.plant
        self.places = places
        self.hours = hours
        self._calendar = ProductionCalendar(self.plant)
        self._views = {
            model: [
                (view, [zone.key for zone in self.plant.zones_of(model) if zone.view == view])
                for view in self.plant.views
            ]
            for model in self.plant.models
        }

    def line(self, log: Log, unit: Unit, stations: tuple[str, ...]) -> None:
        """Note the scans of a unit at stations of the main line, on the day that the plant's lead times say."""
        for station in stations:
            day = self._calendar.work_day(unit.day, station)
            begins = self.hours.of(day, "early").begins
            minutes = 20 + unit.slot * 70 + (10 if unit.shift == "late" else 0)
            author = lead_of(station)
            log.add(begins + minutes * MINUTE, "DESK", author, "station_passed", unit.chassis, {"station": station})

    def tested(self, log: Log, visit: Visit, stretch: Stretch, begins: int) -> None:
        """Take a unit over the wheels, through the test bay and the spray booth; begins is the slot's start."""
        unit, shift = visit.unit, stretch.shift
        start = begins + WHEELS * MINUTE
        self.tests(log, unit, "S12", start, "T2", lead_of("S12"), None, set())
        log.add(start + 5 * MINUTE, "DESK", lead_of("S12"), "station_passed", unit.chassis, {"station": "S12"})
        tester = tester_on(shift)
        self._bay(log, visit, "T01", begins + TEST_BAY * MINUTE, "T1", tester)
        self._bay(log, visit, "T02", begins + SPRAY * MINUTE, "T2", tester)

    def _bay(self, log: Log, visit: Visit, point: str, begins: int, device: str, tester: str) -> None:
        unit = visit.unit
        inspection = self.begin(log, unit, point, "presentation", begins, device, tester, "lamps", "indoors")
        here = [made for made in visit.made if made.found == point]
        failed = {test.id for test in self.plant.tests_of(unit.model, point) if self._fails(test, here)}
        visit.failed |= failed
        ms = self.tests(log, unit, point, begins + MINUTE, device, tester, inspection, failed)
        for made in here:
            ms += 25_000
            self.findings.find(log, visit, made, point, ms, device, tester, inspection)
        self.end(log, unit, ms + 20_000, device, tester, inspection)

    def _fails(self, test: Test, here: list[Made]) -> bool:
        shows = SHOWS.get(test.id, (test.defect_on_fail,))
        return any(made.type in shows for made in here)

    def tests(
        self,
        log: Log,
        unit: Unit,
        point: str,
        begins: int,
        device: str,
        author: str,
        inspection: str | None,
        failed: set[str],
        only: set[str] | None = None,
    ) -> int:
        """Record a point's tests, or only some of them, half a minute apart; return when the last was recorded."""
        ms = begins
        for test in self.plant.tests_of(unit.model, point):
            if only is not None and test.id not in only:
                continue
            ms += 30_000
            log.add(ms, device, author, "test_recorded", unit.chassis, self._result(log, test, inspection, failed))
        return ms

    def _result(self, log: Log, test: Test, inspection: str | None, failed: set[str]) -> dict[str, Any]:
        tool, until = instrument(test)
        body: dict[str, Any] = {"test": test.id, "instrument": tool, "calibrated_until": until}
        if test.kind == "pass":
            body["passed"] = test.id not in failed
        else:
            body["value"] = bad_value(log.rng, test) if test.id in failed else good_value(log.rng, test)
        return body if inspection is None else {**body, "inspection": inspection}

    def begin(
        self,
        log: Log,
        unit: Unit,
        point: str,
        purpose: str,
        ms: int,
        device: str,
        author: str,
        light: str,
        weather: str,
    ) -> str:
        """Begin an inspection and return its id."""
        body = {"point": point, "purpose": purpose, "light": light, "weather": weather}
        return log.add(ms, device, author, "inspection_begun", unit.chassis, body).id

    def end(self, log: Log, unit: Unit, ms: int, device: str, author: str, inspection: str) -> Act:
        """End an inspection."""
        return log.add(ms, device, author, "inspection_ended", unit.chassis, {"inspection": inspection})

    def walked(self, log: Log, visit: Visit, begins: int) -> None:
        """Walk round a unit in the daylight bay: every view, every zone, clean ones too."""
        unit, story = visit.unit, self.story
        device = phone_of(unit.inspector, unit.week)
        light = log.pick(LIGHTS_BY_SHIFT[unit.shift])
        weather = "rain" if log.chance(0.2) else "wind" if log.chance(0.15) else "dry"
        inspection = self.begin(
            log,
            unit,
            "D01",
            "presentation",
            begins,
            device,
            unit.inspector,
            "wet" if weather == "rain" else light,
            weather,
        )
        visit.inspection = inspection
        here = [(made, self.places.zone(log, made.type, unit.model)) for made in visit.made if made.found == "D01"]
        if log.chance(story.noise["zone_not_looked"]):
            taken = {zone.key for _, zone in here}
            roof = [zone.key for zone in self.plant.zones_of(unit.model) if zone.caution == "HGT"]
            visit.not_looked = [key for key in roof if key not in taken][:1]
        ms = self._round(log, visit, inspection, begins, device, here)
        failed = {t.id for t in self.plant.tests_of(unit.model, "D01") if t.defect_on_fail in {m.type for m, _ in here}}
        visit.failed |= failed
        ms = self.tests(log, unit, "D01", ms, device, unit.inspector, inspection, failed)
        visit.ended = max(ms + 20_000, begins + LOOK_MINUTES * MINUTE)
        self.end(log, unit, visit.ended, device, unit.inspector, inspection)

    def _round(
        self, log: Log, visit: Visit, inspection: str, begins: int, device: str, here: list[tuple[Made, Zone]]
    ) -> int:
        unit, ms = visit.unit, begins
        each = (LOOK_MINUTES - 5) * MINUTE // len(self._views[unit.model])
        for view, zones in self._views[unit.model]:
            ms += each
            for place, (made, zone) in enumerate(one for one in here if one[1].view == view):
                when = ms - each // 2 + place * 15_000
                self.findings.find(log, visit, made, "D01", when, device, unit.inspector, inspection, zone)
            self.mark_zones(log, unit, ms, device, unit.inspector, inspection, zones, tuple(visit.not_looked))
        return ms

    def mark_zones(
        self,
        log: Log,
        unit: Unit,
        ms: int,
        device: str,
        author: str,
        inspection: str,
        zones: list[str],
        left_out: tuple[str, ...] = (),
    ) -> None:
        """Mark zones as looked at; those left out as not, with the reason."""
        looked = [key for key in zones if key not in left_out]
        if looked:
            body: dict[str, Any] = {"inspection": inspection, "zones": looked}
            log.add(ms, device, author, "zone_looked_at", unit.chassis, body)
        for key in zones:
            if key in left_out:
                body = {"inspection": inspection, "zone": key, "reason": "weather"}
                log.add(ms + 5_000, device, author, "zone_not_looked_at", unit.chassis, body)

    def views(self, model: str) -> list[tuple[str, list[str]]]:
        """Return the model's views with their zone keys, in walk-round order."""
        return self._views[model]
