"""Counts that scatter more than chance gives, taken as causes of several defects each, which come as chance has it.

Counts whose variance is ``scatter`` times their mean have, divided by it, the variance of Poisson counts. So all that
holds of Poisson counts is asked of the causes, in one place, and what is printed are the defects. A scatter of 0 is one
that chance alone could give: then the counts are answered as they are.
Source: variance proportional to the mean, McCullagh & Nelder (1989), Generalized Linear Models, sec. 6.2; exact where
each cause makes just ``scatter`` defects, as then the counts divided by it are Poisson themselves.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate, pairwise
from math import floor

from qc.reports.watch.watched_series import Series
from qc.stats.answers import TooLittle
from qc.stats.change.stratified_ratio import RateRatio, exact_rate_ratio, strata
from qc.stats.series import rates_of

Counted = tuple[int, float]  # defects, and those expected at the baseline's rates


def causes_of(defects: Sequence[int], scatter: float) -> tuple[int, ...]:
    """Return the causes behind each count, whole numbers.

    What one week's count leaves over is carried on to the next, so that a sum from the first week on is off by half a
    cause at most: divided week by week, rare defects would come to none.
    """
    if not scatter:
        return tuple(defects)
    so_far = [floor(total / scatter + 0.5) for total in accumulate(defects, initial=0)]
    return tuple(after - before for before, after in pairwise(so_far))


def in_causes(series: Series, scatter: float) -> Series:
    """Return a watched series with causes in the place of defects, those expected among them.

    A baseline has one cause at least, as it has a defect; what is expected adds up to its causes exactly.
    """
    if not scatter:
        return series

    def own(counts: Sequence[int]) -> tuple[int, ...]:
        return (*counts[: series.first], *causes_of(counts[series.first :], scatter))

    defects = own(series.defects)
    baseline = max(1, sum(defects[series.first : series.end]))
    return replace(
        series,
        baseline=baseline,
        defects=defects,
        expected=tuple(one * baseline / series.baseline for one in series.expected),
        by_model=tuple(map(own, series.by_model)),
    )


def rate_ratio(before: Counted, after: Counted, level: float, scatter: float) -> RateRatio | TooLittle:
    """Return the ratio of defects to those expected, after over before, with the exact interval of their causes."""
    old, new = (rates_of(causes_of([found], scatter), [expected], ("all",)) for found, expected in (before, after))
    answer = exact_rate_ratio(strata(old, new), level)
    if not scatter or isinstance(answer, TooLittle) or not before[0]:
        return answer
    return replace(answer, ratio=after[0] / after[1] / (before[0] / before[1]), dispersion=scatter)
