"""Whose a defect is: what the leads and the quality manager say at the line-side meetings."""

from qc.demo.acts import Act, Log
from qc.demo.cast import DESK, LED, lead_of
from qc.demo.findings import Finding, Visit
from qc.demo.hours import MINUTE, Hours
from qc.demo.places import Places
from qc.demo.story import Story
from qc.domain.plant.plant import UNKNOWN

MANAGER = "QM1"
SETTLED = 0.85  # share of the disputes that the manager has settled


class Settling:
    """Makes the acts by which origins are confirmed, passed on, disputed and settled."""

    def __init__(self, story: Story, places: Places, hours: Hours) -> None:
        self.story = story
        self.places = places
        self.plant = places.plant
        self.hours = hours

    def settled(self, log: Log, visit: Visit, found: Finding, before: list[Act]) -> None:
        """Say whose a defect is, or leave it, by the story's shares; before holds the finder's guess."""
        made = found.made
        if made.origin == UNKNOWN:
            return None
        suspected = self._guess(before, found)
        ms = self._when(log, found)
        if made.planted is not None:
            return self._planted(log, visit, found, suspected, ms)
        shares, draw = self.story.origin, log.rng.random()
        if draw < shares["never_confirmed"]:
            return None
        if draw < shares["never_confirmed"] + shares["disputed"] and self._led(suspected):
            return self._disputed(log, visit, found, suspected, ms, log.chance(SETTLED))
        final = made.origin if log.chance(shares["confirmed_right"]) else self._other(log, found, suspected)
        return self._confirmed(log, visit, found, (suspected, final), ms)

    def _guess(self, before: list[Act], found: Finding) -> str:
        said = [
            a
            for a in before
            if a.kind == "origin_suspected" and a.body["defect"] == found.id and a.author == found.finder
        ]
        return str(said[-1].body["station"]) if said else UNKNOWN

    def _when(self, log: Log, found: Finding) -> int:
        soon = log.chance(self.story.origin["within_3_days"])
        days = log.rng.uniform(0, 2.4) if soon else log.rng.uniform(4, 12)
        return self.hours.meeting(self.hours.days_later(found.known, float(days)))

    def _led(self, station: str) -> bool:
        return station != UNKNOWN and self.plant.stations[station].kind in LED

    def _other(self, log: Log, found: Finding, suspected: str) -> str:
        if suspected not in (UNKNOWN, found.made.origin):
            return suspected
        return self.places.wrong_origin(log, found.made.origin, found.made.type, found.zone, found.point)

    def _say(
        self, log: Log, visit: Visit, found: Finding, who: str, kind: str, ms: int, station: str = "", why: str = ""
    ) -> None:
        # A lead who reads the list goes through it one by one: a few seconds apart, in the order found.
        body = {"defect": found.id}
        if station:
            body["station"] = station
        if why:
            body["reason"] = why
        log.add(ms + int(log.rng.integers(0, 20 * MINUTE)), DESK, who, kind, visit.unit.chassis, body, (found.id,))

    def _confirmed(self, log: Log, visit: Visit, found: Finding, way: tuple[str, str], ms: int) -> None:
        suspected, final = way
        if suspected != final:
            if self._led(suspected):
                why = "the work was right when it left here"
                self._say(log, visit, found, lead_of(suspected), "origin_passed_on", ms, final, why)
            else:
                self._say(log, visit, found, MANAGER, "origin_suspected", ms, final)
            ms = self.hours.meeting(self.hours.days_later(ms, 0.2))
        who = lead_of(final) if self._led(final) else MANAGER
        self._say(log, visit, found, who, "origin_confirmed", ms, final)

    def _disputed(self, log: Log, visit: Visit, found: Finding, suspected: str, ms: int, settled: bool) -> None:
        why = "not made here: the picture shows it was done later"
        self._say(log, visit, found, lead_of(suspected), "origin_disputed", ms, why=why)
        if settled:
            ms = self.hours.meeting(self.hours.days_later(ms, float(log.rng.uniform(1, 4))))
            why = "looked at on the unit with both leads"
            self._say(log, visit, found, MANAGER, "origin_settled", ms, found.made.origin, why)

    def _planted(self, log: Log, visit: Visit, found: Finding, suspected: str, ms: int) -> None:
        assert found.made.planted is not None
        if found.made.planted.disputed_by:
            return self._disputed(log, visit, found, suspected, ms, True)
        return self._confirmed(log, visit, found, (suspected, found.made.origin), ms)
