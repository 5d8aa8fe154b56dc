"""How the first three types and origins, and the origins that nobody named, went through the weeks of the charts."""

from collections.abc import Collection
from dataclasses import dataclass

from qc.domain.counted.counts import CategoryCounts
from qc.domain.plant.plant import UNKNOWN
from qc.reports.asking import Asking
from qc.reports.periods import WEEK, Period, week_of
from qc.reports.week.pareto_tables import OTHERS, ParetoTables, What
from qc.reports.week.review import Review

FIRST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekParts:
    """Majors and minors by ISO week, as asked: all of them, those of the week's first three types, of its first three
    origins, and those whose origin nobody has named. One number a week in each, oldest first."""

    weeks: tuple[str, ...]
    wholes: tuple[int, ...]
    types: tuple[int, ...]
    origins: tuple[int, ...]
    unknown: tuple[int, ...]


def week_parts(ask: Asking, review: Review) -> WeekParts:
    """Return the parts in each week of the review's history; the three are those of the review's own week."""
    weeks = [week_of(review.history.first + n * WEEK, ask.today) for n in range(review.history.weeks)]
    types = [_counts(ask, week, "type") for week in weeks]
    origins = [_counts(ask, week, "origin") for week in weeks]
    first_types, first_origins = _first(review.pareto_by_type), _first(review.pareto_by_origin)
    return WeekParts(
        weeks=tuple(week.code for week in weeks),
        wholes=tuple(sum(week.counts) for week in types),
        types=tuple(_of(week, first_types) for week in types),
        origins=tuple(_of(week, first_origins) for week in origins),
        unknown=tuple(_of(week, (UNKNOWN,)) for week in origins),
    )


def _counts(ask: Asking, week: Period, what: What) -> CategoryCounts:
    return ask.counts.category_counts(ask.slice(week, ask.counted), what)


def _first(tables: ParetoTables) -> tuple[str, ...]:
    return tuple(row.code for row in tables.by("count").rows if row.code not in (OTHERS, UNKNOWN))[:FIRST]


def _of(week: CategoryCounts, labels: Collection[str]) -> int:
    return sum(count for label, count in zip(week.labels, week.counts, strict=True) if label in labels)
