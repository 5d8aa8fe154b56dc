"""Inspectors on the same units: the share that each found of what the other look found, false calls apart.

Never a league table: people stand in code order, a share has its interval, and too little data is an answer.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from qc.domain.counted.relook_counts import RelookCell, RelookCounts
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.asking import LEVEL, Asking
from qc.reports.looks.inspector_share import PersonShare, compared_shares, looks_by_shift, person_share
from qc.reports.periods import Period
from qc.reports.wording import listed
from qc.stats.answers import TooLittle
from qc.stats.looks.recapture_strata import MissedByBoth, missed_by_both

ENTANGLED = 0.75  # of a person's first looks on one shift: person and shift can hardly be told apart (same)
USES = (
    marked(
        "May be used for: training, clearer criteria and limit samples, light and access at the bay, time for the look."
    ),
    marked(
        "May not be used for: pay, bonus, ranking or discipline. In a league table people record trifles, not doubts."
    ),
    marked("It goes to the person and the quality manager, for as long as the plant has agreed with its people."),
)


@dataclass(frozen=True, slots=True)
class PairLine:
    """Two people who looked at the same units, whoever was first: a in code order before b."""

    a: str
    b: str
    units: int
    only_a: int
    only_b: int
    both: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspectors:
    """Everybody's re-looks of a period. people, pairs in code order.

    missed: the estimate of what neither look found; test_bay: (found by first only, second only, both) of types that
    only a test finds, in no share. notes: what was left out and why, entangled shifts among it. sentence: how many
    units and defects it rests on. uses: what it may and may not be used for.
    """

    period: Period
    people: tuple[PersonShare, ...]
    pairs: tuple[PairLine, ...]
    missed: MissedByBoth | TooLittle
    test_bay: tuple[int, int, int]
    notes: tuple[str, ...]
    sentence: str
    uses: tuple[str, ...]


def inspectors(ask: Asking, period: Period) -> Inspectors:
    """Return everybody's paired re-looks of the period."""
    counts, calls = ask.counts.relooks(ask.slice(period)), ask.counts.false_calls(ask.slice(period))
    meant = [cell for cell in counts.cells if cell.by_look]
    codes = sorted({code for pair in counts.pairs for code in (pair.first, pair.second)})
    shares = compared_shares(codes, meant)
    looks = looks_by_shift(ask, period)
    people = tuple(person_share(ask, code, counts, meant, shares.get(code), calls, looks) for code in codes)
    pairs = _pairs(counts)
    return Inspectors(
        period=period,
        people=people,
        pairs=pairs,
        missed=missed_by_both(
            [line.only_a + line.both for line in pairs],
            [line.only_b + line.both for line in pairs],
            [line.both for line in pairs],
            [say("{one} and {other}", one=line.a, other=line.b) for line in pairs],
            LEVEL,
        ),
        test_bay=_sums(cell for cell in counts.cells if not cell.by_look),
        notes=_notes(counts, people),
        sentence=_sentence(counts, meant),
        uses=tuple(map(say, USES)),
    )


def own_share(ask: Asking, period: Period, code: str) -> PersonShare:
    """Return one person's own figures; somebody in no pair has zeros and a sentence that says so."""
    for person in inspectors(ask, period).people:
        if person.code == code:
            return person
    counts, calls = RelookCounts((), (), 0, 0, 0, 0, 0), ask.counts.false_calls(ask.slice(period))
    return person_share(ask, code, counts, [], None, calls, looks_by_shift(ask, period))


def _sums(cells: Iterable[RelookCell]) -> tuple[int, int, int]:
    rows = list(cells)
    return sum(c.only_first for c in rows), sum(c.only_second for c in rows), sum(c.both for c in rows)


def _pairs(counts: RelookCounts) -> tuple[PairLine, ...]:
    names = sorted({tuple(sorted((pair.first, pair.second))) for pair in counts.pairs})
    return tuple(_pair(a, b, counts) for a, b in names)


def _pair(a: str, b: str, counts: RelookCounts) -> PairLine:
    forth, back = (
        _sums(cell for cell in counts.cells if cell.by_look and (cell.first, cell.second) == two)
        for two in ((a, b), (b, a))
    )
    units = sum(pair.units for pair in counts.pairs if {pair.first, pair.second} == {a, b})
    return PairLine(a, b, units, forth[0] + back[1], forth[1] + back[0], forth[2] + back[2])


def _notes(counts: RelookCounts, people: Sequence[PersonShare]) -> tuple[str, ...]:
    bound = [words for words in map(_entangled, people) if words]
    entangled = say(
        "Person and shift cannot be told apart outside the pairs. First looks: {named}.",
        named=listed(bound, len(bound)),
    )
    left_out = (
        say_many(
            "{number} unit left out: repaired between the two looks.",
            "{number} units left out: repaired between the two looks.",
            counts.repaired_between,
        )
        if counts.repaired_between
        else "",
        say_many(
            "{number} second look left out: no first presentation by another person before it.",
            "{number} second looks left out: no first presentation by another person before it.",
            counts.unpaired,
        )
        if counts.unpaired
        else "",
        say_many(
            "{number} defect left out: in a zone that only one of the two looked at.",
            "{number} defects left out: in a zone that only one of the two looked at.",
            counts.one_zone,
        )
        if counts.one_zone
        else "",
        say_many(
            "{number} defect left out: recorded by another point or person before.",
            "{number} defects left out: recorded by another point or person before.",
            counts.known_before,
        )
        if counts.known_before
        else "",
        say_many(
            "{number} record of the first look alike in type and zone to one of the second and not joined: found by "
            "one only until they are joined.",
            "{number} records of the first look alike in type and zone to one of the second and not joined: found by "
            "one only until they are joined.",
            counts.alike,
        )
        if counts.alike
        else "",
    )
    return (*((entangled,) if bound else ()), *filter(None, left_out))


def _entangled(person: PersonShare) -> str:
    """Return "I4 269 of 339 on late" where most of a person's looks are on one shift, else ""."""
    looks = sum(one.looks for one in person.shifts)
    most = max(person.shifts, key=lambda one: one.looks, default=None)
    if most is None or not most.looks or most.looks < ENTANGLED * looks:
        return ""
    return say("{code} {part} of {looks} on {shift}", code=person.code, part=most.looks, looks=looks, shift=most.shift)


def _sentence(counts: RelookCounts, meant: Sequence[RelookCell]) -> str:
    units = sum(pair.units for pair in counts.pairs)
    if not units:
        return say("No unit was looked at by two people in these weeks: nobody can be compared.")
    first, second, both = _sums(meant)
    return say_many(
        "{number} unit looked at by two people, the second blind to the first: {both} defects found by both, {first} "
        "by the first only, {second} by the second only.",
        "{number} units looked at by two people, the second blind to the first: {both} defects found by both, {first} "
        "by the first only, {second} by the second only.",
        units,
        both=both,
        first=first,
        second=second,
    )
