"""One inspector's share found on re-looked units, beside shift, missed types and false calls."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from qc.domain.counted.relook_counts import FalseCalls, RelookCell, RelookCounts
from qc.domain.words.speaking import say
from qc.reports.asking import LEVEL, Asking
from qc.reports.how_many import defects
from qc.reports.periods import Period
from qc.reports.wording import percent
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval, clopper_pearson_interval
from qc.stats.looks.relooks import InspectorShare, shares_found

LEAST = 20  # defects found by the other look before a share is read (common practice, no source)


@dataclass(frozen=True, slots=True)
class TypeMissed:
    """A type that the other look found and this person had not: so many, of so many found by the other look."""

    type: str
    name: str
    missed: int
    whole: int


@dataclass(frozen=True, slots=True)
class ShiftShare:
    """One shift of a person: first presentations looked at, and finds on re-looked units of that shift."""

    shift: str
    looks: int
    found: int
    whole: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonShare:
    """One person in paired re-looks, whether first or second.

    found of whole: defects of types that a look is meant to find, found by the other look of the pair; share with its
    exact interval, TooLittle below 20. others: of everybody else together. below: less than theirs beyond chance,
    looking at everybody (Fisher, Holm). first_units, second_units: units in pairs. false_calls of recorded: withdrawn
    as not a defect. sentence: for the manager; own_sentence: for the person, without the others.
    """

    code: str
    found: int
    whole: int
    share: ShareInterval | TooLittle
    others: ShareInterval | TooLittle
    below: bool
    first_units: int
    second_units: int
    false_calls: int
    recorded: int
    false_share: ShareInterval | TooLittle
    shifts: tuple[ShiftShare, ...]
    missed: tuple[TypeMissed, ...]
    sentence: str
    own_sentence: str


def of_other(code: str, cells: Iterable[RelookCell]) -> tuple[int, int]:
    """Return (found, whole): of what the other look of a person's pairs found, how much the person found too."""
    found = whole = 0
    for cell in cells:
        if code in (cell.first, cell.second):
            found += cell.both
            whole += cell.both + (cell.only_second if code == cell.first else cell.only_first)
    return found, whole


def compared_shares(codes: Sequence[str], cells: Sequence[RelookCell]) -> dict[str, InspectorShare]:
    """Return each person's share against all others'; empty where fewer than two have a re-looked defect."""
    # A defect that both found counts for each of the two; that makes Fisher's test the more careful one.
    pairs = [of_other(code, cells) for code in codes]
    answer = shares_found([found for found, _ in pairs], [whole for _, whole in pairs], codes, LEVEL) if codes else None
    return {} if answer is None or isinstance(answer, TooLittle) else {one.label: one for one in answer.inspectors}


Looks = dict[tuple[str, str], int]


def looks_by_shift(ask: Asking, period: Period) -> Looks:
    """Return the first presentations at inspection points by (person, shift)."""
    points = {one.id for one in ask.plant.stations.values() if one.kind == "inspection"}
    looks: Looks = {}
    for shift in ask.plant.shifts:
        asked = Asking(
            counts=ask.counts, plant=ask.plant, now_ms=ask.now_ms, models=ask.models, lines=ask.lines, shifts=(shift,)
        ).slice(period)
        for point, code, units in ask.counts.inspectors(asked):
            if point in points:
                looks[code, shift] = looks.get((code, shift), 0) + units
    return looks


def person_share(
    ask: Asking, code: str, counts: RelookCounts, meant: Sequence[RelookCell], compared: InspectorShare | None,
    calls: Sequence[FalseCalls], looks: Looks,
) -> PersonShare:  # fmt: skip
    """Return one person's figures. meant: the cells of types that a look is meant to find; compared: see above."""
    found, whole = of_other(code, meant)
    share = clopper_pearson_interval(found, whole, LEVEL) if whole >= LEAST else _too_few(whole)
    wrong = next((one for one in calls if one.inspector == code), FalseCalls(code, 0, 0))
    known = compared if isinstance(share, ShareInterval) else None
    return PersonShare(
        code=code,
        found=found,
        whole=whole,
        share=share,
        others=known.others
        if known
        else TooLittle("share of the others", say("there is no own share to set it beside"), 0, 1),
        below=bool(known and known.stands_out and known.finds_fewer),
        first_units=sum(pair.units for pair in counts.pairs if pair.first == code),
        second_units=sum(pair.units for pair in counts.pairs if pair.second == code),
        false_calls=wrong.not_a_defect,
        recorded=wrong.recorded,
        false_share=clopper_pearson_interval(wrong.not_a_defect, wrong.recorded, LEVEL),
        shifts=_shifts(ask, code, meant, looks),
        missed=_missed_types(ask, code, meant),
        sentence=_person_sentence(share, known),
        own_sentence=_person_sentence(share, None),
    )


def _too_few(whole: int) -> TooLittle:
    reason = say(
        "the other look found {defects} on these units; a share is read from {least} on",
        defects=defects(whole),
        least=LEAST,
    )
    return TooLittle("share found", reason, whole, LEAST)


def _person_sentence(share: ShareInterval | TooLittle, known: InspectorShare | None) -> str:
    if isinstance(share, TooLittle):
        return say("Too little to say: {reason}.", reason=share.reason)
    told = {"share": percent(share.share), "low": percent(share.low), "high": percent(share.high)}
    if known is None or isinstance(known.others, TooLittle):
        return say("Share found {share} ({low} to {high}).", **told)
    others = percent(known.others.share)
    if not (known.stands_out and known.finds_fewer):
        return say(
            "Share found {share} ({low} to {high}); not below the others' {others} beyond chance.",
            others=others,
            **told,
        )
    return say(
        "Share found {share} ({low} to {high}); below the others' {others} beyond chance. Ask about light, shift, time "
        "and criteria before the person.",
        others=others,
        **told,
    )


def _shifts(ask: Asking, code: str, meant: Sequence[RelookCell], looks: Looks) -> tuple[ShiftShare, ...]:
    lines = (
        ShiftShare(shift, looks.get((code, shift), 0), *of_other(code, [c for c in meant if c.shift == shift]))
        for shift in ask.plant.shifts
    )
    return tuple(line for line in lines if line.looks or line.whole)


def _missed_types(ask: Asking, code: str, meant: Sequence[RelookCell]) -> tuple[TypeMissed, ...]:
    lines = []
    for type_ in sorted({cell.type for cell in meant}):
        found, whole = of_other(code, [cell for cell in meant if cell.type == type_])
        if whole > found:
            lines.append(TypeMissed(type_, ask.type_name(type_), whole - found, whole))
    return tuple(sorted(lines, key=lambda line: (-line.missed, line.type)))
