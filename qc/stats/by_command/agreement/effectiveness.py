"""An inspector against units whose truth is known: share found, false calls, and whole units judged right.

Misses and false calls have different denominators (units truly bad, units truly good) and are never added up.
"""

from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval, clopper_pearson_interval
from qc.stats.refusals import demand_count, demand_level, demand_part


@dataclass(frozen=True, slots=True)
class AgainstReference:
    """Judgements against the reference, each share with its exact interval and its own denominator.

    found: bad ones called bad, of the truly bad; missed: the rest of these; false_calls: good ones called bad, of the
    truly good. table: rows called bad, called good; columns truly bad, truly good. A share whose denominator is
    nought is TooLittle.
    """

    found: ShareInterval | TooLittle
    missed: ShareInterval | TooLittle
    false_calls: ShareInterval | TooLittle
    table: tuple[tuple[int, int], tuple[int, int]]
    level: float
    method: str


def against_reference(
    bad_called_bad: int, bad_called_good: int, good_called_bad: int, good_called_good: int, level: float
) -> AgainstReference:
    """Return share found, missed and false calls from counts of judgements, each with its exact interval.

    The intervals take the judgements as independent; several trials of one unit are not, so they are then too
    short. Source: attribute agreement as in ISO/TR 14468; intervals of Clopper & Pearson (1934).
    """
    named = {
        "bad_called_bad": bad_called_bad,
        "bad_called_good": bad_called_good,
        "good_called_bad": good_called_bad,
        "good_called_good": good_called_good,
    }
    level = demand_level(level)
    hit, miss, false, right = (demand_count(count, name) for name, count in named.items())
    bad = demand_count(hit + miss, "bad_called_bad and bad_called_good together")
    good = demand_count(false + right, "good_called_bad and good_called_good together")
    return AgainstReference(
        clopper_pearson_interval(hit, bad, level),
        clopper_pearson_interval(miss, bad, level),
        clopper_pearson_interval(false, good, level),
        ((hit, false), (miss, right)),
        level,
        "exact shares, bad and good apart",
    )


def effectiveness(right: int, units: int, level: float) -> ShareInterval | TooLittle:
    """Return the share of units that were judged right in every trial, with its exact interval.

    Source: attribute agreement study (units judged right over units judged), ISO/TR 14468; Clopper & Pearson (1934).
    """
    return clopper_pearson_interval(*demand_part(right, "right", units, "units"), level)
