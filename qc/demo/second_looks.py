"""Second looks at a unit: a twin record of one defect, a false call, the paired blind re-look, the containment."""

from collections.abc import Iterable

from qc.demo.acts import Log
from qc.demo.cast import phone_of
from qc.demo.findings import Finding, Visit
from qc.demo.hours import MINUTE, Hours
from qc.demo.looks import Looks
from qc.demo.making import Made
from qc.demo.mending import Mending
from qc.demo.story import Inspector, Story

FALSE_CALLS = 0.01  # share of units on which something is recorded that is none
CONTAINED = ("FUR-01", "FUR-02")
CONTAINED_KINDS = ("kitchen", "office", "seating")


class SecondLooks:
    """Makes the acts of everybody who looks at a unit after the first, or beside."""

    def __init__(self, story: Story, looks: Looks, mending: Mending, hours: Hours) -> None:
        self.story = story
        self.looks = looks
        self.plant = looks.plant
        self.mending = mending
        self.hours = hours
        self._inspectors = {one.code: one for one in story.inspectors}

    def doubled(self, log: Log, visit: Visit) -> None:
        """Let another inspector record now and then what the first has recorded, until somebody sees the twin."""
        for found in list(visit.findings):
            if found.point != "D01" or found.made.planted or not log.chance(self.story.noise["double"] / 2):
                continue
            who = self.mending.inspector_on(log, found.ms, found.finder)
            ms = found.ms + int(log.rng.integers(2, 12)) * MINUTE
            device = phone_of(who, visit.unit.week)
            twin = self.looks.findings.find(
                log, visit, found.made, "D01", ms, device, who, found.inspection, found.zone
            )
            visit.findings.remove(twin)
            self._withdrawn(log, visit, [(twin, found)], found.finder)

    def miscalled(self, log: Log, visit: Visit) -> None:
        """Record now and then a defect that is none; the manager takes it back with a reason."""
        if not log.chance(FALSE_CALLS):
            return
        unit = visit.unit
        made = Made("PAN-02", "RP1", "minor", unit.day, "D01")
        device, ms = phone_of(unit.inspector, unit.week), visit.ended - 2 * MINUTE
        found = self.looks.findings.find(log, visit, made, "D01", ms, device, unit.inspector, visit.inspection)
        visit.findings.remove(found)
        body = {"defect": found.id, "why": "not_a_defect", "reason": "within the limit sample, low sun showed it"}
        when = self.hours.work(log.known(), 10)
        log.add(when, "DESK", "QM1", "defect_withdrawn", unit.chassis, body, (found.id,))

    def _withdrawn(self, log: Log, visit: Visit, twins: Iterable[tuple[Finding, Finding]], who: str) -> None:
        ms = self.hours.work(log.known(), 4 + log.minutes(20))
        week = self.hours.at(ms).week
        device = "DESK" if who == "QM1" else phone_of(who, week)
        for twin, first in twins:
            ms += 20_000
            body = {"defect": twin.id, "why": "duplicate", "reason": "the same one, seen by both"}
            body["duplicate_of"] = first.id
            log.add(ms, device, who, "defect_withdrawn", visit.unit.chassis, body, (twin.id, first.id))

    def relooked(self, log: Log, visit: Visit) -> None:
        """Walk round again, blind to the first look and by another inspector, before anything is repaired."""
        unit = visit.unit
        who = self.mending.inspector_on(log, visit.ended, unit.inspector)
        device = phone_of(who, unit.week)
        begins = visit.ended + 3 * MINUTE
        inspection = self.looks.begin(log, unit, "D01", "relook", begins, device, who, "overcast", "dry")
        first = {id(found.made): found for found in visit.findings}
        twins, ms = [], begins
        for made in visit.made:
            if made.found in ("T01", "T02", "FIELD") or not log.chance(self._finds(self._inspectors[who], made)):
                continue
            ms += 90_000
            before = first.get(id(made))
            zone = before.zone if before else None
            found = self.looks.findings.find(log, visit, made, "D01", ms, device, who, inspection, zone)
            if before:
                visit.findings.remove(found)
                twins.append((found, before))
        for _, zones in self.looks.views(unit.model):
            ms += MINUTE
            self.looks.mark_zones(log, unit, ms, device, who, inspection, zones)
        self.looks.end(log, unit, ms + MINUTE, device, who, inspection)
        if twins:
            self._withdrawn(log, visit, twins, "QM1")

    def _finds(self, who: Inspector, made: Made) -> float:
        point = self.plant.types[made.type].first_detect_point
        if point in ("T01", "T02"):
            return self.story.detection[f"then_{point}"]
        return 1.0 if made.planted else who.finds(made.severity)

    def contained(self, log: Log, visit: Visit, begins: int) -> None:
        """Look at the furniture of a unit seen before, for the runner batch; what is found takes its release back."""
        unit = visit.unit
        ms = self.hours.work(begins)
        who = self.mending.inspector_on(log, ms)
        device = phone_of(who, self.hours.at(ms).week)
        inspection = self.looks.begin(log, unit, "D01", "containment", ms, device, who, "lamps", "indoors")
        hidden = [m for m in visit.made if m.type in CONTAINED and m.found == "" and not self._seen(visit, m)]
        new = []
        for made in hidden:
            ms += 60_000
            if log.chance(self._inspectors[who].finds("minor")):
                new.append(self.looks.findings.find(log, visit, made, "D01", ms, device, who, inspection))
        zones = [zone.key for zone in self.plant.zones_of(unit.model) if zone.kind in CONTAINED_KINDS]
        self.looks.mark_zones(log, unit, ms + MINUTE, device, who, inspection, zones)
        self.looks.end(log, unit, ms + 2 * MINUTE, device, who, inspection)
        if new:
            self._released_anew(log, visit, new)

    def _seen(self, visit: Visit, made: Made) -> bool:
        return any(found.made is made for found in visit.findings)

    def _released_anew(self, log: Log, visit: Visit, new: list[Finding]) -> None:
        known = self.mending.repaired(log, visit, new, log.known())
        ms = self.hours.work(known, 10)
        who = self.mending.inspector_on(log, ms)
        device = phone_of(who, self.hours.at(ms).week)
        inspection = self.looks.begin(log, visit.unit, "D01", "presentation", ms, device, who, "overcast", "dry")
        for view, zones in self.looks.views(visit.unit.model):
            if view == "interior":
                self.looks.mark_zones(log, visit.unit, ms + MINUTE, device, who, inspection, zones)
        self.looks.end(log, visit.unit, ms + 5 * MINUTE, device, who, inspection)
        self.mending.released(log, visit, log.known())
