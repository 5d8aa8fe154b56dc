"""A defect as its finder records it: at times a zone off, a near twin, a severity raised; and a guess at its origin."""

from dataclasses import dataclass, field
from typing import Any

from qc.demo.acts import Log
from qc.demo.making import Made
from qc.demo.pictures import Pictures
from qc.demo.places import Places
from qc.demo.schedule import Unit
from qc.demo.story import Story
from qc.domain.plant.plant import Zone


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


class Findings:
    """Makes the acts by which somebody records a defect."""

    def __init__(self, story: Story, places: Places, pictures: Pictures) -> None:
        self.story = story
        self.plant = places.plant
        self.places = places
        self.pictures = pictures

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
