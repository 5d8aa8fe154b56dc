"""The whole play as acts: every unit's life, what leads and planner write, in the order in which the server has it."""

from collections import Counter
from collections.abc import Callable

import numpy as np

from qc.demo import slips
from qc.demo.acts import Act, Log
from qc.demo.after_dispatch import AfterDispatch
from qc.demo.cast import DESK, lead_of
from qc.demo.findings import Findings, Visit
from qc.demo.hours import MINUTE, Hours
from qc.demo.looks import DAYLIGHT, SLOT, Looks
from qc.demo.making import Making, planted_units
from qc.demo.mending import Mending
from qc.demo.network import Network
from qc.demo.pictures import Pictures
from qc.demo.places import Places
from qc.demo.schedule import Unit, schedule
from qc.demo.second_looks import SecondLooks
from qc.demo.settling import Settling
from qc.demo.story import Story
from qc.domain.plant.plant import Plant

FOLLOWING = 24  # units of the days after the play: tested and waiting for daylight, on the line, planned, a third each
OPTIONS = ("tow lock", "mast light", "frost kit", "second heater")


class Simulation:
    """Plays the story's first ``weeks`` weeks with a seed. The same seed gives the same acts."""

    def __init__(self, story: Story, plant: Plant, seed: int, weeks: int) -> None:
        self.story = story
        self.plant = plant
        self.seed = seed
        self.weeks = weeks
        self.hours = Hours(story, plant)
        self.network = Network(story, self.hours, seed)
        self.places = Places(plant)
        self.pictures = Pictures(plant, self.network)
        findings = Findings(story, self.places, self.pictures)
        self.looks = Looks(story, self.places, self.hours, findings)
        self.mending = Mending(story, self.looks, self.hours)
        self.second = SecondLooks(story, self.looks, self.mending, self.hours)
        self.settling = Settling(story, self.places, self.hours)
        self.after = AfterDispatch(story, self.places, self.hours)
        self.ends = self.hours.end_of_week(weeks)
        self.units = schedule(story, plant, seed, weeks, FOLLOWING)
        self.visits: list[Visit] = []
        self._slips: Counter[str] = Counter()
        self._again = 0

    def acts(self, say: Callable[[str], None] = lambda line: None) -> list[Act]:
        """Return the acts that the server has by the play's end, in the order in which it gets them."""
        acts: list[Act] = self._planned() + self._changes()
        played, following = self.units[: -FOLLOWING or None], self.units[-FOLLOWING:]
        planted = planted_units(self.story, played, self.seed)
        relooked = self._relooked(played)
        making = Making(self.story, self.plant, self.seed)
        for place, unit in enumerate(played):
            log = self._log(4, unit.sequence)
            visit = Visit(unit, making.of(unit, planted.get(unit.sequence)))
            self._life(log, visit, place, unit.sequence in relooked)
            self.visits.append(visit)
            acts += log.acts
        acts += self._waiting(following, making)
        say(f"{len(self.units)} units, {len(acts)} operations")
        order = {device: place for place, device in enumerate(dict.fromkeys(act.device for act in acts))}
        heard = [act for act in acts if act.known <= self.ends]
        return sorted(heard, key=lambda act: (act.known, order[act.device], act.ms))

    def _log(self, stream: int, sequence: int) -> Log:
        return Log(self.network, np.random.default_rng([self.seed, stream, sequence]))

    def _begins(self, unit: Unit) -> int:
        return self.hours.of(unit.day, unit.shift).begins + unit.slot * SLOT * MINUTE

    def _life(self, log: Log, visit: Visit, place: int, relooked: bool) -> None:
        unit = visit.unit
        begins = self._begins(unit)
        self.looks.line(log, unit, ("S01", "S07"))
        self.looks.tested(log, visit, self.hours.of(unit.day, unit.shift), begins)
        self.looks.walked(log, visit, begins + DAYLIGHT * MINUTE)
        self.second.doubled(log, visit)
        self.second.miscalled(log, visit)
        if relooked:
            self.second.relooked(log, visit)
        self._slips_before(log, visit, place)
        # Each on a log of its own: the repair does not wait until the leads have said whose a defect is.
        mended, settled = log.beside(), log.beside()
        self.mending.mended(mended, visit, log.known())
        for found in visit.findings:
            self.settling.settled(settled, visit, found, log.acts)
        log.acts += mended.acts
        self._slips_after(log, visit, place)
        again = log.beside()
        self._contain(again, visit)
        self.after.found(again, visit)
        log.acts += settled.acts + again.acts

    def _slips_before(self, log: Log, visit: Visit, place: int) -> None:
        if self._due("looking", place, (7, 300)):
            slips.while_looking(log, visit)
        if visit.findings and self._due("settling", place, (11, 400)):
            slips.while_settling(log, visit, visit.findings[-1])
        critical = [found for found in visit.findings if found.made.planted and found.point == "T01"]
        if critical and visit.unit.week == 3:
            slips.lowered_critical(log, visit, critical[0])

    def _slips_after(self, log: Log, visit: Visit, place: int) -> None:
        if visit.findings and self._due("recheck", place, (13, 500)):
            slips.own_recheck(log, visit)
        if self._due("signing", place, (17, 600)):
            slips.signed_twice(log, visit)
        if any(act.kind == "defect_withdrawn" for act in log.acts) and self._due("twins", place, (20, 620)):
            slips.withdrawn_twice(log, visit)

    def _due(self, slip: str, place: int, places: tuple[int, int]) -> bool:
        """Return whether a slip is due: once on the first fitting unit from each of the places on."""
        done = self._slips[slip]
        if done < len(places) and place >= places[done]:
            self._slips[slip] += 1
            return True
        return False

    def _planned(self) -> list[Act]:
        log = self._log(6, 0)
        for week in sorted({unit.week for unit in self.units}):
            ms = self.hours.end_of_week(week - 3) - 60 * MINUTE
            for unit in (unit for unit in self.units if unit.week == week):
                ms += 4_000
                log.add(ms, DESK, "PL1", "unit_planned", unit.chassis, self._plan(log, unit))
        slips.planned_twice(log, self.plant, self.units[3], self.hours.end_of_week(-1))
        return log.acts

    def _plan(self, log: Log, unit: Unit) -> dict[str, object]:
        options = [one.replace(" ", "-") for one in OPTIONS if log.chance(0.2)]
        return {
            "model": unit.model,
            "shop_number": unit.shop_number,
            "sequence": unit.sequence,
            "planned_day": unit.day.isoformat(),
            "options": options,
            "build_sheet": f"BS-{unit.sequence}-A",
        }

    def _changes(self) -> list[Act]:
        log = self._log(7, 0)
        for change in self.story.changes:
            ms = self.hours.work(self.hours.end_of_week(change.week - 1) + MINUTE, 30)
            body: dict[str, object] = {"station": change.station, "change": change.kind, "what": change.what}
            body |= {"from_day": self.story.monday(change.week).isoformat(), "types": list(change.types)}
            log.add(ms, DESK, lead_of(change.station), "change_noted", None, body)
        return log.acts

    def _relooked(self, units: list[Unit]) -> set[int]:
        rng = np.random.default_rng([self.seed, 8])
        chosen: set[int] = set()
        for week in range(1, self.weeks + 1):
            here = [unit.sequence for unit in units if unit.week == week]
            count = min(self.story.relook["units_a_week"], len(here))
            chosen |= {int(one) for one in rng.choice(here, count, replace=False)}
        return chosen

    def _contain(self, log: Log, visit: Visit) -> None:
        """Look again at the story's number of units that were released shortly before the runner batch was traced."""
        relook = self.story.relook
        week = relook["containment_week"]
        if not week - 2 <= visit.unit.week < week <= self.weeks or self._again >= relook["containment_units"]:
            return
        # From the second day's early shift on, a unit every 20 minutes.
        begins = self.hours.end_of_week(week - 1) + 88 * 60 * MINUTE
        if visit.released < begins:
            self.second.contained(log, visit, self.hours.work(begins, 20 * self._again))
            self._again += 1

    def _waiting(self, units: list[Unit], making: Making) -> list[Act]:
        """Leave a third of the units tested and waiting for daylight, a third on the line, a third planned."""
        acts: list[Act] = []
        third = len(units) // 3
        begins = self.hours.work(self.ends - 8 * 60 * MINUTE, 30)
        for place, unit in enumerate(units):
            log = self._log(9, unit.sequence)
            scans = ("S01", "S07") if place < 2 * third else ()
            for station in scans:
                ms = begins + (place * 5 + (30 if station == "S07" else 0)) * MINUTE - 24 * 60 * MINUTE
                log.add(ms, DESK, lead_of(station), "station_passed", unit.chassis, {"station": station})
            if place < third:
                visit = Visit(unit, making.of(unit))
                self.looks.tested(log, visit, self.hours.at(begins), begins + place * 42 * MINUTE)
            acts += log.acts
        return acts
