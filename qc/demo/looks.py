"""A unit at the end points: tested, sprayed, walked round; what is found is recorded as the app records it."""

from dataclasses import dataclass, field
from typing import Any

from qc.demo.acts import Act, Log
from qc.demo.cast import lead_of, phone_of, tester_on
from qc.demo.hours import MINUTE, Hours, Stretch
from qc.demo.making import Made
from qc.demo.pictures import Pictures
from qc.demo.places import Places, bad_value, good_value, instrument
from qc.demo.schedule import Unit
from qc.demo.story import Story
from qc.domain.calendar import ProductionCalendar
from qc.domain.plant import Test, Zone

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


@dataclass(slots=True)
class Finding:
    """A defect as recorded: what is truly there, and the record of it. type and zone as recorded."""

    made: Made
    id: str
    point: str
    type: str
    zone: Zone
    finder: str
    device: str
    ms: int
    known: int
    inspection: str


@dataclass(slots=True)
class Visit:
    """A unit's way through the end points: what is truly there, what was found and what is left to do.

    not_looked: zone keys that have to wait; failed: ids of tests; ended: when the first walk-round ended, 0 before;
    inspection: its id; released: when the server knew of the release, 0 before.
    """

    unit: Unit
    made: list[Made]
    findings: list[Finding] = field(default_factory=list)
    not_looked: list[str] = field(default_factory=list)
    failed: set[str] = field(default_factory=set)
    ended: int = 0
    inspection: str = ""
    released: int = 0


class Looks:
    """Makes the acts of first presentations."""

    def __init__(self, story: Story, places: Places, hours: Hours, pictures: Pictures) -> None:
        self.story = story
        self.pictures = pictures
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
            self.find(log, visit, made, point, ms, device, tester, inspection)
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
                self.find(log, visit, made, "D01", when, device, unit.inspector, inspection, zone)
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

    def find(
        self,
        log: Log,
        visit: Visit,
        made: Made,
        point: str,
        ms: int,
        device: str,
        finder: str,
        inspection: str,
        zone: Zone | None = None,
    ) -> Finding:
        """Record a defect as the finder sees it: now and then a zone off, a near twin, a severity raised."""
        unit, noise = visit.unit, self.story.noise
        zone = zone or self.places.zone(log, made.type, unit.model)
        type_ = self._coded(log, made.type, finder, unit.week)
        true_zone = zone
        if made.planted is None and log.chance(noise["zone_one_off"]):
            zone = self.places.neighbour(log, zone)
        body: dict[str, Any] = {"point": point, "zone": zone.key, "type": type_, "severity": made.severity}
        body |= {"inspection": inspection, "mark": self.places.mark(log, zone)}
        if made.severity == "minor" and log.chance(0.01):
            body |= {"severity": "major", "note": "worse than usual"}
        if self.plant.types[type_].photo_required and log.network.full(device, unit.week):
            body["note"] = "no picture: the phone has no room for one"
        act = log.add(ms, device, finder, "defect_recorded", unit.chassis, body)
        self.pictures.attach(log, unit, act, zone)
        act.twice = log.chance(noise["double"] / 2)
        found = Finding(made, act.id, point, type_, zone, finder, device, ms, act.known, inspection)
        visit.findings.append(found)
        self._guess(log, visit, found)
        self._correct(log, visit, found, true_zone)
        return found

    def _coded(self, log: Log, type_: str, finder: str, week: int) -> str:
        habit = self.story.noise.get("habit")
        if habit and (finder, type_) == (habit["inspector"], habit["type"]) and week >= habit["from_week"]:
            return str(habit["as"]) if log.chance(habit["share"]) else type_
        twin = self.story.twin_of(type_)
        return twin if twin and log.chance(self.story.noise["type_swapped"]) else type_

    def _guess(self, log: Log, visit: Visit, found: Finding) -> None:
        made = found.made
        if made.planted is not None and made.planted.disputed_by:
            guess = made.planted.disputed_by
        else:
            guess = self.places.suspected(log, self.story.origin, made.origin, made.type, found.zone, found.point)
        if guess == "UNK" and log.chance(0.5):
            return  # the question was passed over, which is an answer too
        body = {"defect": found.id, "station": guess}
        log.add(found.ms + 3_000, found.device, found.finder, "origin_suspected", visit.unit.chassis, body)

    def _correct(self, log: Log, visit: Visit, found: Finding, zone: Zone) -> None:
        changes: dict[str, Any] = {}
        if found.zone.key != zone.key:
            changes |= {"zone": zone.key, "mark": self.places.mark(log, zone)}
        if found.type != found.made.type:
            changes["type"] = found.made.type
        if changes and log.chance(0.4):
            body = {"defect": found.id, "changes": changes, "reason": "picked the wrong one, seen on reading back"}
            log.add(found.ms + 9_000, found.device, found.finder, "defect_corrected", visit.unit.chassis, body)
            found.zone, found.type = zone, changes.get("type", found.type)
