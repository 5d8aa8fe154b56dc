"""What comes to light after dispatch: the dealer's findings, and whose they are said to be."""

from datetime import timedelta

from qc.demo.acts import Log
from qc.demo.cast import DESK, LED, lead_of
from qc.demo.findings import Finding, Visit
from qc.demo.hours import MINUTE, Hours
from qc.demo.making import Made
from qc.demo.places import Places
from qc.demo.story import Story
from qc.domain.plant.plant import FIELD

DAY = 24 * 60 * MINUTE


class AfterDispatch:
    """Makes the acts of dispatch and of the quality manager on findings from the dealers."""

    def __init__(self, story: Story, places: Places, hours: Hours) -> None:
        self.story = story
        self.places = places
        self.hours = hours

    def found(self, log: Log, visit: Visit) -> None:
        """Report what the end points missed, as far as dealers find it, days to weeks after the release."""
        seen = [id(found.made) for found in visit.findings]
        for made in visit.made:
            planted = made.planted is not None and made.found == FIELD
            missed = made.found == "" and id(made) not in seen
            if planted or (missed and log.chance(self.story.detection["dealer"])):
                self._reported(log, visit, made)

    def _reported(self, log: Log, visit: Visit, made: Made) -> None:
        if made.planted is not None:
            week = made.planted.dealer_week
            ms = self.hours.work(self.hours.end_of_week(week - 1) + 3 * 24 * 60 * MINUTE, 60)
        else:
            days = float(log.rng.exponential(self.story.detection["dealer_days"]))
            ms = visit.released + round((days + 1) * DAY)
        if ms > self.hours.horizon:
            return
        ms = self.hours.work(ms)
        found_day = self.hours.at(ms).day - timedelta(days=int(log.rng.integers(0, 2)))
        zone = self.places.zone(log, made.type, visit.unit.model)
        body = {"zone": zone.key, "type": made.type, "severity": made.severity, "found_day": found_day.isoformat()}
        act = log.add(
            ms, DESK, "DX1", "field_finding", visit.unit.chassis, {**body, "note": "dealer's hand-over check"}
        )
        finding = Finding(made, act.id, FIELD, made.type, zone, "DX1", DESK, ms, act.known, "")
        if made.planted is not None or log.chance(0.8):
            self._origin(log, visit, finding)

    def _origin(self, log: Log, visit: Visit, found: Finding) -> None:
        origin = found.made.origin
        if self.places.plant.stations[origin].kind not in LED:
            return
        body = {"defect": found.id, "station": origin}
        ms = self.hours.days_later(found.known, float(log.rng.uniform(0, 1.5)))
        log.add(ms, DESK, "QM1", "origin_suspected", visit.unit.chassis, body, (found.id,))
        if found.made.planted is not None or log.chance(0.9):
            ms = self.hours.meeting(self.hours.days_later(ms, 0.5))
            log.add(ms, DESK, lead_of(origin), "origin_confirmed", visit.unit.chassis, dict(body), (found.id,))
