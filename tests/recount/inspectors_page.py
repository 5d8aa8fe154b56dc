"""The page of inspectors on the same units: pairs of looks, the second blind to the first, and false calls."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cached_property

from tests.recount.attributed import Expected, Rows, Sheet, Table, Value, Words
from tests.recount.everywhere import ESTIMATE, counted, given
from tests.recount.plant import week_of
from tests.recount.presented import weeks_to
from tests.recount.record import Defect, Look
from tests.recount.shares import exact, percent
from tests.recount.view import View, spoken

WEEKS = 26


@dataclass(frozen=True)
class Pair:
    """One unit looked at by two people. both, first, second: what both, only the first, only the second found."""

    first_look: Look
    second_look: Look
    both: tuple[str, ...]
    first: tuple[str, ...]
    second: tuple[str, ...]
    first_places: tuple[tuple[str, str], ...]
    second_places: tuple[tuple[str, str], ...]


ALIKE = "alike in type and zone"


class Looked:
    """The looks of a view's weeks at the points where inspectors look."""

    def __init__(self, view: View) -> None:
        self.view = view
        self.weeks = weeks_to(view.week, WEEKS)
        self.points = [one for one in view.plant.end_points if view.plant.stations[one]["kind"] == "inspection"]

    @cached_property
    def first_looks(self) -> list[Look]:
        return [
            look
            for (_, point), look in self.view.counted.first_looks.items()
            if point in self.points and look.day is not None and week_of(look.day) in self.weeks
        ]

    @cached_property
    def pairs(self) -> list[Pair]:
        """Return each first look with the blind one after it, by another person."""
        again: dict[str, list[Look]] = defaultdict(list)
        for look in self.view.record.looks.values():
            if look.purpose == "relook" and look.point in self.points and look.ended is not None:
                again[look.unit].append(look)
        told = []
        for first in self.first_looks:
            for second in again[first.unit]:
                if second.by != first.by:
                    told.append(self._pair(first, second))
        return told

    @property
    def unpaired(self) -> int:
        """Return the second looks of the weeks that no first presentation by another person stands before."""
        firsts = {
            (unit, point): look
            for (unit, point), look in self.view.counted.first_looks.items()
            if look.ended is not None
        }
        return sum(
            (first := firsts.get((look.unit, look.point))) is None or first.by == look.by or first.begun > look.begun
            for look in self.view.record.looks.values()
            if look.purpose == "relook" and look.day is not None and week_of(look.day) in self.weeks
        )

    def _pair(self, first: Look, second: Look) -> Pair:
        """Match what the two found: the second's twin of a defect is withdrawn as its duplicate."""
        zones = {zone for zone, seen in first.zones.items() if seen} & {
            zone for zone, seen in second.zones.items() if seen
        }
        unit = self.view.record.units[first.unit]
        by_look = {look.id: [one for one in unit.defects if one.look == look.id] for look in (first, second)}
        twins = {one.duplicate_of for one in by_look[second.id] if one.state == "withdrawn" and one.why == "duplicate"}
        stands = [one for one in by_look[first.id] if one.state != "withdrawn" and one.zone in zones]
        new = [one for one in by_look[second.id] if one.state != "withdrawn" and one.zone in zones]
        return Pair(
            first, second,
            tuple(one.type for one in stands if one.id in twins),
            tuple(one.type for one in stands if one.id not in twins),
            tuple(one.type for one in new),
            tuple((one.type, one.zone) for one in stands if one.id not in twins and self.meant(one.type)),
            tuple((one.type, one.zone) for one in new if self.meant(one.type)),
        )  # fmt: skip

    def alike(self, pair: Pair) -> int:
        """Return how many of the first look's own could be one of the second's: same type and zone, not joined."""
        left = Counter(pair.second_places)
        return sum((Counter(pair.first_places) & left).values())

    def meant(self, type_: str) -> bool:
        """Return whether a look is meant to find a type."""
        return self.view.plant.types[type_]["first_detect_point"] in self.points

    def counts(self, pair: Pair) -> tuple[list[str], list[str], list[str]]:
        return tuple([one for one in part if self.meant(one)] for part in (pair.both, pair.first, pair.second))  # type: ignore[return-value]

    def by_person(self, shift: str = "") -> dict[str, tuple[Counter[str], Counter[str]]]:
        """Return for each person what the other looks found, by type, and what this one found too."""
        told: dict[str, tuple[Counter[str], Counter[str]]] = defaultdict(lambda: (Counter(), Counter()))
        for pair in self.pairs:
            if shift and pair.first_look.shift != shift:
                continue
            both, first, second = self.counts(pair)
            for by, others in ((pair.first_look.by, [*both, *second]), (pair.second_look.by, [*both, *first])):
                told[by][0].update(others)
                told[by][1].update(both)
        return told


def inspectors_sheet(view: View) -> Sheet:
    looked = Looked(view)
    return Sheet(
        words=_words(looked),
        rows=[
            Rows("{n} weeks {a:week} to {b:week}. Of the defects {words:words}", lambda *_: share_found(looked)),
            Rows("Who looked at the same units, {words:words}", lambda _, table: _pairs(looked, table)),
            Rows("By shift of the first look, {words:words}", lambda *_: _by_shift(looked)),
            Rows(
                "Found by the other look and not by {who:words}, {words:words}", lambda g, _: missed(looked, g["who"])
            ),
            Rows("False calls, all units, {words:words}", lambda *_: false_calls(looked)),
        ],
    )


def _words(looked: Looked) -> list[Words]:
    parts = [looked.counts(pair) for pair in looked.pairs]
    both, first, second = (sum(len(one[k]) for one in parts) for k in range(3))
    first_by = Counter((look.by, look.shift) for look in looked.first_looks)
    everybody = Counter(look.by for look in looked.first_looks)
    people = looked.by_person()
    untold = [[one for one in part if not looked.meant(one)] for pair in looked.pairs for part in (pair.both,)]
    words = [
        counted("{n} units looked at by two people, the second blind to the first", n=len(looked.pairs)),
        counted("{a} defects found by both, {b} by the first only, {c} by the second only", a=both, b=first, c=second),
        counted("{n} second look left out: no first", n=looked.unpaired),
        counted("{n} second looks left out: no first", n=looked.unpaired),
        given("about {n} ({a} to {b}) beside", ESTIMATE, "n", "a", "b"),
        *(
            counted(f"{{n}} {noun} of the {first} {ALIKE} to", n=lambda: sum(looked.alike(one) for one in looked.pairs))
            for noun in ("record", "records")
            for first in ("first look", "first looks")
        ),
        counted("beside the {n} found", n=both + first + second),
        counted(
            "only a test finds: {a} by the first look only, {b} by the second only, {c} by both",
            a=sum(not looked.meant(one) for pair in looked.pairs for one in pair.first),
            b=sum(not looked.meant(one) for pair in looked.pairs for one in pair.second),
            c=sum(len(one) for one in untold),
        ),
    ]
    for (who, shift), count in first_by.items():
        words.append(counted(f"{who} {{n}} of {{m}} on {shift}", n=count, m=everybody[who]))
    for who, (others, own) in people.items():
        a, b = exact(own.total(), others.total()) if others else (0.0, 100.0)
        rest = [pair for other, pair in people.items() if other != who]
        all_others, all_own = sum(one[0].total() for one in rest), sum(one[1].total() for one in rest)
        place = rf"> {who}( |$)"
        words += [
            counted(
                "Share found {p} % ({a} % to {b} %)", place, p=percent(own.total(), max(1, others.total())), a=a, b=b
            ),
            counted("the others' {p} %", place, p=percent(all_own, max(1, all_others))),
            counted(f"{who}: {{n}} types", n=len([one for one in others if others[one] > own[one]])),
            counted(f"{who}: {{n}} type", n=len([one for one in others if others[one] > own[one]])),
        ]
    return words


def share_found(looked: Looked) -> Expected:
    people = looked.by_person()
    first = Counter(pair.first_look.by for pair in looked.pairs)
    second = Counter(pair.second_look.by for pair in looked.pairs)
    told: list[tuple[str, list[tuple[Value, ...]]]] = []
    for who in sorted(people):
        others, own = people[who][0].total(), people[who][1].total()
        share = (percent(own, others), *exact(own, others)) if others else ()
        told.append((who, [(others,), (own,), share, (first[who], second[who])]))
    return Expected(told)


def _pairs(looked: Looked, table: Table) -> Expected:
    told: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for pair in looked.pairs:
        both, first, second = looked.counts(pair)
        who = (pair.first_look.by, pair.second_look.by)
        only = (len(first), len(second)) if who[0] <= who[1] else (len(second), len(first))
        for k, count in enumerate((1, len(both), *only)):
            told[min(who), max(who)][k] += count
    rows: list[tuple[str, list[tuple[Value, ...]]]] = []
    for (one, other), counts in sorted(told.items()):
        label = f"{one} and {other}"
        shown = next((row[-1] for row in table.rows if row[0] == label), "")
        holes = len([part for part in shown.replace("(", " ").replace(")", " ").split() if part[0].isdigit()])
        rows.append((label, [*((count,) for count in counts), (ESTIMATE,) * holes]))
    return Expected(rows)


def _by_shift(looked: Looked) -> Expected:
    every = Counter((look.by, look.shift) for look in looked.first_looks)
    told: list[tuple[str, list[tuple[Value, ...]]]] = []
    for shift in (one.id for one in looked.view.plant.shifts):
        people = looked.by_person(shift)
        for who in {*people, *(by for by, at in every if at == shift)}:
            others, own = people[who]
            told.append((f"{who}, {shift}", [(every[who, shift],), (others.total(),), (own.total(),)]))
    return Expected(sorted(told, key=lambda row: row[0]))


def missed(looked: Looked, who: str) -> Expected:
    others, own = looked.by_person()[who]
    types = looked.view.plant.types
    rows = [
        (spoken(one, types), ((others[one] - own[one],), (others[one],))) for one in others if others[one] > own[one]
    ]
    return Expected(rows, ordered=False)


def false_calls(looked: Looked) -> Expected:
    told: list[tuple[str, list[tuple[Value, ...]]]] = []
    recorded: dict[str, list[Defect]] = defaultdict(list)
    for one in looked.view.record.defects.values():
        doubled = one.state == "withdrawn" and one.why == "duplicate"
        if one.point in looked.points and week_of(one.day) in looked.weeks and not doubled:
            recorded[one.finder].append(one)
    for who in sorted(recorded):
        wrong = sum(one.state == "withdrawn" and one.why == "not_a_defect" for one in recorded[who])
        whole = len(recorded[who])
        told.append((who, [(whole,), (wrong,), (percent(wrong, whole), *exact(wrong, whole))]))
    return Expected(told)
