"""Inspectors compared fairly: on the same units, by what a second, blind look found there.

Defects per unit compares the units that somebody was given; only re-looked units compare inspectors. Results go to
the person and the manager only.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.change.comparison import fisher_exact
from qc.stats.intervals.one_sample import ShareInterval, clopper_pearson_interval
from qc.stats.refusals import demand_level
from qc.stats.series import shares_of
from qc.stats.watch.multiplicity import holm


@dataclass(frozen=True, slots=True)
class InspectorShare:
    """One inspector's first looks that were looked at again.

    found: share of the second looker's finds that this inspector had found too, with its exact interval. p_value:
    against all the others (Fisher), adjusted for looking at everybody (Holm). stands_out: it stays a claim then;
    finds_fewer: the share is below that of the others.
    """

    label: str
    found: ShareInterval
    others: ShareInterval | TooLittle
    p_value: float
    stands_out: bool
    finds_fewer: bool


@dataclass(frozen=True, slots=True)
class InspectorShares:
    """All inspectors with a re-looked defect, in label order; too_few: those without one."""

    inspectors: tuple[InspectorShare, ...]
    too_few: tuple[str, ...]
    level: float
    method: str


def shares_found(
    both: Sequence[int], second: Sequence[int], labels: Sequence[str], level: float
) -> InspectorShares | TooLittle:
    """Return the share found by each inspector and who differs from the others.

    second: defects that the second looker found on the inspector's units; both: of them, those the inspector had
    recorded. Each defect must have been there at the first look. Fewer than two inspectors with any is TooLittle.
    The test takes defects as independent; several on one unit are not quite, so a bare claim is to be looked into.
    Source: paired re-look, Eick et al. (1992), 14th Int. Conf. on Software Engineering, 59-65; Fisher (1935);
    Holm (1979), Scandinavian J. Statistics 6, 65-70.
    """
    looked, level = shares_of(both, second, labels, names=("both", "second")), demand_level(level)
    both, second, labels = looked.defectives, looked.inspected, looked.labels
    kept = [i for i, n in enumerate(second) if n > 0]
    if len(kept) < 2:
        return TooLittle("share found by inspector", "fewer than two have a re-looked defect", len(kept), 2)
    hits, finds = sum(both), sum(second)
    p_values = [
        fisher_exact(both[i], second[i] - both[i], hits - both[i], finds - second[i] - (hits - both[i])).p_value
        for i in kept
    ]
    many = holm(p_values, [labels[i] for i in kept], 1 - level)
    assert not isinstance(many, TooLittle)  # there are two at least
    inspectors = tuple(
        _inspector(labels[i], (both[i], second[i]), (hits, finds), many.adjusted[k], many.rejected[k], level)
        for k, i in enumerate(kept)
    )
    too_few = tuple(label for i, label in enumerate(labels) if i not in set(kept))
    return InspectorShares(inspectors, too_few, level, "exact shares; Fisher against the others, Holm")


def _inspector(
    label: str, own: tuple[int, int], everybody: tuple[int, int], p_value: float, stands_out: bool, level: float
) -> InspectorShare:
    found = clopper_pearson_interval(*own, level)
    others = clopper_pearson_interval(everybody[0] - own[0], everybody[1] - own[1], level)
    assert isinstance(found, ShareInterval)  # kept only where the second look found something
    fewer = isinstance(others, ShareInterval) and found.share < others.share
    return InspectorShare(label, found, others, p_value, stands_out, fewer)
