"""Pareto: which few causes make most of the weight, in an order that does not jump between equal bars."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_as_many,
    demand_count,
    demand_counts,
    demand_kind,
    demand_level,
    demand_list,
    demand_number,
    demand_numbers,
    demand_positive,
    plain_number,
)
from qc.stats.series import Counts

ROUNDING = 1e-12


@dataclass(frozen=True, slots=True)
class ParetoBar:
    """One cause: its defects, its amount in the weight of the chart, and shares of the whole in [0, 1].

    cumulative is the share of this bar and all before it, of the total with the last bar in it.
    members: the labels behind the bar, more than one only for the bar of the others.
    """

    label: str
    count: int
    amount: float
    share: float
    cumulative: float
    members: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pareto:
    """The bars, largest amount first, the others last; weight says what amount is ("defects", "minutes")."""

    weight: str
    bars: tuple[ParetoBar, ...]
    total: float
    total_count: int


def pareto(
    counts: Counts,
    amounts: Sequence[float],
    weight: str,
    *,
    other: str,
    last: Sequence[str] = (),
    most: int | None = None,
) -> Pareto | TooLittle:
    """Return the causes in falling order of amount, equal ones in the order in which they were given.

    counts of defects in code order; amounts beside them in the unit that weight names, at least 0 (the counts
    themselves, minutes of repair, counts times a severity weight). Labels in last and all beyond the first
    most are gathered into one bar called other, which stands last whatever its size.
    A total of 0 answers TooLittle. Raises ValueError naming argument and value.
    Source: Juran & Gryna, Quality Control Handbook (cumulative share of the whole; others last), from memory.
    """
    demand_kind(counts, Counts, "counts")
    labels, last = counts.labels, demand_list(last, "last")
    demand_as_many("amounts", amounts, "counts", labels)
    demand_numbers(amounts, "amounts")
    amounts = tuple(map(plain_number, amounts))
    _demand_amounts(labels, amounts, last, most)
    if not any(amounts):
        return TooLittle("Pareto", say("there are no {weight} in this period", weight=say(weight)), have=0, need=1)
    rows = list(zip(labels, counts.counts, amounts, strict=True))
    ranked = sorted((row for row in rows if row[0] not in last and row[0] != other), key=lambda row: -row[2])
    kept = ranked if most is None else ranked[:most]
    shown = {row[0] for row in kept}
    gathered = [row for row in rows if row[0] not in shown]
    bars: list[tuple[str, int, float, tuple[str, ...]]] = [
        (label, count, amount, (label,)) for label, count, amount in kept
    ]
    if gathered:
        members = tuple(row[0] for row in gathered)
        bars.append((other, sum(row[1] for row in gathered), sum(row[2] for row in gathered), members))
    # Summed in the order of the bars, so that the last cumulative share is exactly 1.
    total = sum(bar[2] for bar in bars)
    return Pareto(weight, _with_shares(bars, total), total, sum(counts.counts))


@dataclass(frozen=True, slots=True)
class VitalFew:
    """The fewest causes that together reach a share of the whole, largest first.

    labels: of these bars; reached: their share of the whole, at least ``share``. ties: labels of bars beyond the last
    of them with the same amount, which might as well have stood in its place. causes: how many have a bar of their own.
    """

    labels: tuple[str, ...]
    reached: float
    share: float
    ties: tuple[str, ...]
    causes: int


def vital_few(ranked: Pareto, share: float) -> VitalFew | TooLittle:
    """Return the fewest causes of a Pareto that reach a share of its total, in (0, 1]; others in one bar are no cause.

    Where the causes that have a bar of their own do not reach it, the answer is TooLittle: no few are vital.
    Source: Juran (1951), Quality Control Handbook, "the vital few and the trivial many" (from memory); which share is
    the plant's to say, four fifths being usual.
    """
    demand_kind(ranked, Pareto, "ranked")
    share = demand_number(share, "share")
    if not 0 < share <= 1:
        raise ValueError(f"share must be more than 0 and at most 1, got {share!r}")
    own = [bar for bar in ranked.bars if bar.members == (bar.label,)]
    # A share that is reached but for rounding is reached.
    many = next((place for place, bar in enumerate(own, 1) if bar.cumulative >= share * (1 - ROUNDING)), 0)
    if not many:
        reason = say(
            "the {number} causes shown by themselves do not reach {share} of the whole",
            number=len(own),
            share=f"{share:.0%}",
        )
        return TooLittle("vital few", reason, len(own), len(own) + 1)
    last = own[many - 1]
    ties = tuple(bar.label for bar in own[many:] if bar.amount == last.amount)
    return VitalFew(tuple(bar.label for bar in own[:many]), last.cumulative, share, ties, len(own))


def _demand_amounts(labels: Sequence[str], amounts: Sequence[float], last: Sequence[str], most: int | None) -> None:
    for label, amount in zip(labels, amounts, strict=True):
        if amount < 0:
            raise ValueError(f"amounts must be at least 0, got {amount!r} for {label!r}")
    if most is not None:
        demand_count(most, "most", 1)
    for label in last:
        if label not in labels:
            raise ValueError(f"last names {label!r}, which is not one of the labels")


def _with_shares(bars: Sequence[tuple[str, int, float, tuple[str, ...]]], total: float) -> tuple[ParetoBar, ...]:
    shared, so_far = [], 0.0
    for label, count, amount, members in bars:
        so_far += amount
        shared.append(ParetoBar(label, count, amount, amount / total, so_far / total, members))
    return tuple(shared)


def severity_amounts(
    counts_by_severity: Mapping[str, Sequence[int]], weights: Mapping[str, float]
) -> tuple[tuple[int, ...], tuple[float, ...]]:
    """Return (counts, amounts) for pareto: each cause's defects over all severities, plain and weighted.

    counts_by_severity maps a severity to its counts by cause, all in the same order; weights maps each of
    these severities to its weight, above 0. Raises ValueError for a severity without a weight.
    Source: a demerit scale, Montgomery, ch. 7, section 7.3.3.
    """
    demand_kind(counts_by_severity, Mapping, "counts_by_severity")
    demand_kind(weights, Mapping, "weights")
    counted = {
        name: demand_counts(counts, f"counts_by_severity[{name!r}]") for name, counts in counts_by_severity.items()
    }
    first = next(iter(counted), "")
    for severity, counts in counted.items():
        demand_as_many(f"counts_by_severity[{severity!r}]", counts, f"counts_by_severity[{first!r}]", counted[first])
        if severity not in weights:
            raise ValueError(f"weights needs a weight for severity {severity!r}, got {dict(weights)!r}")
        demand_positive(weights[severity], f"weights[{severity!r}]")
    columns = list(zip(*counted.values(), strict=True))
    by_severity = [plain_number(weights[severity]) for severity in counted]
    return (
        tuple(sum(column) for column in columns),
        tuple(sum(weight * count for weight, count in zip(by_severity, column, strict=True)) for column in columns),
    )


def could_swap(counts: Sequence[int], level: float) -> tuple[bool, ...]:
    """Return, for each bar but the last, whether it and the next could stand the other way round by chance.

    counts in defects, one a bar in the order shown. Given their sum, two equal Poisson rates split it like
    a fair coin; "could swap" is an exact two-sided test that does not reject at 1 - level.
    For plain counts only: weighted amounts are not Poisson. Source: Przyborowski & Wilenski (1940),
    Biometrika 31, 313-323. scipy.special has the binomial tail.
    """
    counts = demand_counts(counts, "counts")
    level = demand_level(level)
    from scipy.special import bdtr

    return tuple(
        bool(min(1.0, 2 * float(bdtr(min(one, two), one + two, 0.5))) > 1 - level) for one, two in pairwise(counts)
    )
