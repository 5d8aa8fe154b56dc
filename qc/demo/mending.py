"""After the walk-round: repairs by one person, re-checks by another, the tests done again, and the release."""

from qc.demo.acts import Log
from qc.demo.cast import lead_of, phone_of, repairer_on, tester_on
from qc.demo.findings import Finding, Visit
from qc.demo.hours import MINUTE, Hours
from qc.demo.looks import Looks
from qc.demo.story import Story
from qc.domain.plant.judging import groups_of, voided_tests

TOGETHER = 3  # defects that a repairer notes in one go


class Mending:
    """Makes the acts between the walk-round and the release."""

    def __init__(self, story: Story, looks: Looks, hours: Hours) -> None:
        self.story = story
        self.looks = looks
        self.plant = looks.plant
        self.hours = hours

    def inspector_on(self, log: Log, ms: int, but: str = "") -> str:
        """Return an inspector of the shift that holds an instant, by the story's shares, not ``but``."""
        shift = self.hours.at(ms).shift
        here = [one for one in self.story.inspectors if one.share(shift) > 0 and one.code != but]
        shares = [one.share(shift) for one in here]
        total = sum(shares)
        return here[int(log.rng.choice(len(here), p=[share / total for share in shares]))].code

    def mended(self, log: Log, visit: Visit, known: int) -> None:
        """Repair and re-check everything found, test again what that voided, and release the unit."""
        known = self.repaired(log, visit, visit.findings, known)
        again = self._to_test(visit)
        known = self.tested_again(log, visit, again, known)
        self.released(log, visit, known)

    def repaired(self, log: Log, visit: Visit, findings: list[Finding], known: int) -> int:
        """Repair findings and look at each again, those that fail once more; return when all of it is known."""
        left = list(findings)
        while left:
            ms = self.hours.work(known, 5 + log.minutes(35))
            repairs = [left[place : place + TOGETHER] for place in range(0, len(left), TOGETHER)]
            for together in repairs:
                ms = self._repair(log, visit, together, ms)
            left, known = self._rechecked(log, visit, left, log.known())
        return known

    def _repair(self, log: Log, visit: Visit, together: list[Finding], ms: int) -> int:
        usual = sum(self.plant.types[one.made.type].rework_min for one in together)
        minutes = max(1, round(usual * float(log.rng.lognormal(-0.05, 0.35))))
        ms = self.hours.work(ms, min(minutes, 120) / 3)
        stretch = self.hours.at(ms)
        who = repairer_on(stretch.shift)
        body = {"defects": [one.id for one in together], "method": "rework", "minutes": minutes, "place": "R01"}
        log.add(ms, phone_of(who, stretch.week), who, "repair_done", visit.unit.chassis, body)
        return ms

    def _rechecked(self, log: Log, visit: Visit, done: list[Finding], known: int) -> tuple[list[Finding], int]:
        ms = self.hours.work(known, 5 + log.minutes(25))
        who = self.inspector_on(log, ms)
        device = phone_of(who, self.hours.at(ms).week)
        failed = []
        for one in done:
            ms += 40_000
            body = {"defect": one.id}
            if log.chance(self.story.noise["recheck_fails"]):
                failed.append(one)
                body["reason"] = "still there after the repair"
                log.add(ms, device, who, "recheck_failed", visit.unit.chassis, body)
            else:
                log.add(ms, device, who, "recheck_accepted", visit.unit.chassis, body)
        return failed, log.known()

    def _to_test(self, visit: Visit) -> set[str]:
        types = [one.type for one in visit.findings] + [one.made.type for one in visit.findings]
        needed = {test.id for test in self.plant.tests_of(visit.unit.model)}
        return (set(voided_tests(groups_of(types, self.plant), self.plant)) | visit.failed) & needed

    def tested_again(self, log: Log, visit: Visit, again: set[str], known: int) -> int:
        """Do tests again, each point in a presentation of its own; look at zones that had to wait."""
        ms = known
        for point in ("S12", "T01", "T02", "D01"):
            here = {test for test in again if self.plant.tests[test].point == point}
            if here or (point == "D01" and visit.not_looked):
                ms = self._point_again(log, visit, point, here, self.hours.work(ms, 4 + log.minutes(12)))
        return log.known() if log.acts else known

    def _point_again(self, log: Log, visit: Visit, point: str, here: set[str], ms: int) -> int:
        unit, stretch = visit.unit, self.hours.at(ms)
        if point == "S12":
            return self.looks.tests(log, unit, "S12", ms, "T2", lead_of("S12"), None, set(), here)
        if point == "D01":
            who = self.inspector_on(log, ms)
            device, light, weather = phone_of(who, stretch.week), "overcast", "dry"
        else:
            who, device, light, weather = tester_on(stretch.shift), "T1" if point == "T01" else "T2", "lamps", "indoors"
        inspection = self.looks.begin(log, unit, point, "presentation", ms, device, who, light, weather)
        ms = self.looks.tests(log, unit, point, ms + MINUTE, device, who, inspection, set(), here)
        if point == "D01" and visit.not_looked:
            ms += MINUTE
            self.looks.mark_zones(log, unit, ms, device, who, inspection, visit.not_looked)
        self.looks.end(log, unit, ms + 20_000, device, who, inspection)
        return ms + MINUTE

    def released(self, log: Log, visit: Visit, known: int) -> None:
        """Release the unit, signed by an inspector who sees nothing open."""
        ms = self.hours.work(known, 3 + log.minutes(15))
        who = self.inspector_on(log, ms)
        against = f"plant tables {self.plant.revision[:8]}; checks of T01, T02 and D01"
        act = log.add(
            ms, phone_of(who, self.hours.at(ms).week), who, "unit_released", visit.unit.chassis, {"against": against}
        )
        act.digest = True
        visit.released = act.known
