"""A unit's life as a line of time: who presented, tested, found, repaired, looked again and released it, in order."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from qc.domain.facts.operations import Operation
from qc.domain.plant.naming import SaidNames
from qc.domain.plant.plant import Plant
from qc.domain.unit.unit_record import Event, InspectionRecord, UnitRecord
from qc.domain.words.speaking import say, say_many
from qc.domain.words.speaking import told as known_words
from qc.reports.units.operation_words import PURPOSES
from qc.reports.wording import listed

Sign = Literal["line", "look", "test", "defect", "repair", "closed", "back", "released", "cancelled"]
MOST = 40  # of what a moment lists by name: a unit's whole list, were it ever so bad, stays readable


@dataclass(frozen=True, slots=True)
class Moment:
    """One act, or a run of acts of one kind by one person at one point.

    happened_ms: of the first of them; who: the code of who did it, "" for several; sign: which mark it has.
    """

    happened_ms: int
    who: str
    words: str
    sign: Sign


def time_line(record: UnitRecord, events: Sequence[Event], plant: Plant) -> tuple[Moment, ...]:
    """Return the moments of a unit's life in the order in which they happened; empty before anything did.

    Only what is in effect. Photos, words on an origin, corrections and single zones are left to the whole story.
    """
    line = _Line(record, plant)
    told = [one for one in events if one.verdict == "applied" and line.tells(one.operation)]
    told.sort(key=lambda one: (one.happened_ms, one.number))
    return tuple(line.moment(list(run)) for _, run in groupby(told, key=_same))


def _same(event: Event) -> tuple[str, ...]:
    """Return what acts of one run share: the kind and who, and where one looks, the look."""
    op = event.operation
    if op.kind in ("station_passed", "passing_withdrawn"):
        return (op.kind,)
    if op.kind in ("inspection_begun", "unit_released", "unit_moved"):
        return op.kind, op.id
    return op.kind, op.author, op.body.get("inspection") or op.body.get("point") or ""


class _Line:
    """Says each run of acts on one unit in words. Raises KeyError for a look that the record does not have."""

    def __init__(self, record: UnitRecord, plant: Plant) -> None:
        self._record, self._plant, self._names = record, plant, SaidNames(plant)
        self._looks = {one.id: one for one in record.inspections}
        self._tests = {one.id: one for one in record.tests}
        self._passings = {one.id: one for one in record.passings}
        self._releases = {one.id: one for one in record.releases}
        self._place = {one.id: place for place, one in enumerate(record.defects, start=1)}
        self._tellers: Mapping[str, tuple[Sign, Callable[[Sequence[Event]], str]]] = {
            "station_passed": ("line", self._passed),
            "unit_met": ("line", self._met),
            "unit_moved": ("line", self._moved),
            "passing_withdrawn": ("back", self._not_passed),
            "inspection_begun": ("look", self._looked),
            "test_recorded": ("test", self._tested),
            "test_withdrawn": ("back", self._taken_back),
            "defect_recorded": ("defect", self._found),
            "field_finding": ("defect", self._found_after),
            "repair_done": ("repair", self._repaired),
            "recheck_accepted": ("closed", self._accepted),
            "recheck_failed": ("back", self._failed),
            "defect_withdrawn": ("closed", self._withdrawn),
            "unit_released": ("released", self._released),
            "unit_cancelled": ("cancelled", self._cancelled),
            "unit_taken_up": ("line", self._taken_up),
        }

    def tells(self, op: Operation) -> bool:
        """Return whether an operation has a moment; a defect of a look stands with the look."""
        return op.kind in self._tellers and not (op.kind == "defect_recorded" and op.body.get("inspection"))

    def moment(self, run: Sequence[Event]) -> Moment:
        """Return a run as one moment."""
        sign, teller = self._tellers[run[0].operation.kind]
        who = {one.operation.author for one in run}
        return Moment(run[0].happened_ms, who.pop() if len(who) == 1 else "", teller(run), sign)

    def _passed(self, run: Sequence[Event]) -> str:
        passed = tuple(dict.fromkeys(one.operation.body["station"] for one in run))
        line = self._plant.line_of(self._record.model, self._record.line)
        others = [one for one in passed if self._plant.line_at(one) not in ("", line)]
        if not others:
            return say("Passed {places}", places=self._places(passed))
        places, apart = self._places(passed), self._places(others)
        return say("Passed {places}; of another line than its own: {others}", places=places, others=apart)

    def _met(self, run: Sequence[Event]) -> str:
        body = run[0].operation.body
        if line := body.get("line"):
            name = self._names.line(line)
            return say("Met before the plan, as {model} on {line}", model=body["model"], line=name)
        return say("Met before the plan, as {model}", model=body["model"])

    def _moved(self, run: Sequence[Event]) -> str:
        return say("Moved to {place}", place=run[-1].operation.body["place"].strip())

    def _not_passed(self, run: Sequence[Event]) -> str:
        taken = (self._passings.get(one.operation.body["passing"]) for one in run)
        return say("Passing taken back as a slip: {places}", places=self._places(one.station for one in taken if one))

    def _places(self, codes: Iterable[str]) -> str:
        return listed([self._station(code) for code in dict.fromkeys(codes)], MOST)

    def _station(self, code: str) -> str:
        return self._names.place(code)

    def _looked(self, run: Sequence[Event]) -> str:
        look = self._looks[run[0].operation.id]
        found = [one for one in self._record.defects if one.inspection == look.id]
        what = say(PURPOSES[look.purpose]) if look.purpose in PURPOSES else look.purpose
        head = f"{what} {look.presentation}" if look.presentation else what
        told = [f"{self._station(look.point)}, {head}", *self._zones(look)]
        number, places = self._defects(one.id for one in found)
        some = say_many("defect {places} found", "defects {places} found", number, places=places)
        told.append(some if found else say("no defect recorded"))
        return "; ".join(told) + ("" if look.ended_ms is not None else say("; not ended"))

    def _zones(self, look: InspectionRecord) -> list[str]:
        """Return how many zones were looked at, nothing where none is marked, as at a test bay."""
        seen = {one.zone for one in look.looks if one.looked}
        asked = self._plant.zones_of(self._record.model, options=self._record.options)
        there = seen | {zone.key for zone in asked}  # ended since, or of options taken away, some of them
        return [say("{seen} of {all} zones", seen=len(seen), all=len(there))] if look.looks else []

    def _tested(self, run: Sequence[Event]) -> str:
        made = [self._tests[one.operation.id] for one in run if one.operation.id in self._tests]
        failed = [self._names.test(one.test) for one in made if not one.passed]
        if len(made) == 1:
            name = self._names.test(made[0].test)
            return say("Test {name} failed", name=name) if failed else say("Test {name} passed", name=name)
        if not made:
            return say("no test, all passed")
        if not failed:
            return say("{number} tests, all passed", number=len(made))
        return say("{number} tests, failed: {names}", number=len(made), names=listed(failed, MOST))

    def _taken_back(self, run: Sequence[Event]) -> str:
        taken = [self._tests.get(one.operation.body["result"]) for one in run]
        names = listed([self._names.test(one.test) for one in taken if one], MOST)
        return say("Result taken back as a slip: {names}", names=names)

    def _found(self, run: Sequence[Event]) -> str:
        point = self._station(run[0].operation.body["point"])
        number, places = self._defects(one.operation.id for one in run)
        return say_many(
            "Defect {places} found at {point}", "Defects {places} found at {point}", number, places=places, point=point
        )

    def _found_after(self, run: Sequence[Event]) -> str:
        number, places = self._defects(one.operation.id for one in run)
        return say_many(
            "Defect {places} found after dispatch", "Defects {places} found after dispatch", number, places=places
        )

    def _repaired(self, run: Sequence[Event]) -> str:
        ids = {one.operation.id for one in run}
        again = dict.fromkeys(self._names.test(one.test) for one in self._record.tests if one.voided_by in ids)
        number, places = self._defects(of for one in run for of in one.operation.body["defects"])
        repaired = say_many("Defect {places} repaired", "Defects {places} repaired", number, places=places)
        if not again:
            return repaired
        return repaired + say("; with that {tests} must be tested again", tests=listed(list(again), MOST))

    def _accepted(self, run: Sequence[Event]) -> str:
        number, places = self._defects(_named(run))
        return say_many(
            "Defect {places} looked at again and closed",
            "Defects {places} looked at again and closed",
            number,
            places=places,
        )

    def _failed(self, run: Sequence[Event]) -> str:
        number, places = self._defects(_named(run))
        return say_many(
            "Defect {places} looked at again: not put right",
            "Defects {places} looked at again: not put right",
            number,
            places=places,
        )

    def _withdrawn(self, run: Sequence[Event]) -> str:
        number, places = self._defects(_named(run))
        return say_many("Defect {places} withdrawn", "Defects {places} withdrawn", number, places=places)

    def _released(self, run: Sequence[Event]) -> str:
        known = self._releases.get(run[0].operation.id)
        return say("Released against {what}", what=known_words(known.against)) if known else say("Released")

    def _cancelled(self, run: Sequence[Event]) -> str:
        return say("Cancelled: {reason}", reason=run[-1].operation.body["reason"])

    def _taken_up(self, run: Sequence[Event]) -> str:
        return say("Taken up again: {reason}", reason=run[-1].operation.body["reason"])

    def _defects(self, ids: Iterable[str]) -> tuple[int, str]:
        """Return how many defects there are, and their places in the list: "2", "1 and 3"."""
        places = sorted({self._place[id_] for id_ in ids if id_ in self._place})
        return len(places), listed([str(place) for place in places], MOST)


def _named(run: Sequence[Event]) -> Iterable[str]:
    return (one.operation.body["defect"] for one in run)
