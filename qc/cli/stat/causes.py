"""The few causes that make most defects, and how sure their order and their shares are."""

from collections.abc import Mapping
from typing import Any

import click

from qc.cli.stat.asking import DRAWS, LEVEL, NUMBER, SEED, Column, Plain, Statistic, column_weight
from qc.cli.stat.cells import count, positive, size
from qc.cli.stat.series import of_counts
from qc.stats.answers import TooLittle
from qc.stats.by_command.causes.rank_certainty import rank_certainty
from qc.stats.by_command.intervals.simultaneous import goodman_intervals, sison_glaz_intervals
from qc.stats.causes.pareto import could_swap, pareto, severity_amounts, vital_few
from qc.stats.series import counts_of

COUNTS = Column("counts", count, "defects of the cause.")
OTHER = Plain(
    argument="other", type=click.STRING, help="Name of the bar of the others, which stands last.", default="other"
)
LAST = Plain(
    argument="last", type=click.STRING, help="A cause that belongs to the others. Repeatable.", may_lack=True, many=True
)
MOST = Plain(argument="most", type=click.IntRange(1, 10_000), help="How many bars stand by themselves.", may_lack=True)


def _pareto(
    labels: list[str], counts: list[int], amounts: list[float] | None = None, weight: str = "defects", **settings: Any
) -> object:
    return pareto(counts_of(counts, labels), counts if amounts is None else amounts, weight, **settings)


def _vital(
    labels: list[str], counts: list[int], share: float, amounts: list[float] | None = None, weight: str = "defects"
) -> object:
    ranked = pareto(counts_of(counts, labels), counts if amounts is None else amounts, weight, other="other")
    return ranked if isinstance(ranked, TooLittle) else vital_few(ranked, share)


def _by_severity(
    labels: list[str], counts: Mapping[str, list[int]], weights: list[tuple[str, float]], **settings: Any
) -> object:
    plain, weighted = severity_amounts(counts, dict(weights))
    return pareto(counts_of(plain, labels), weighted, "weighted defects", **settings)


def _swaps(labels: list[str], counts: list[int], level: float) -> object:
    order = sorted(range(len(counts)), key=lambda i: -counts[i])
    swaps = could_swap([counts[i] for i in order], level)
    bars = [{"label": labels[i], "count": counts[i]} for i in order]
    return {
        "bars": [{**bar, "could_swap_with_next": swap} for bar, swap in zip(bars, [*swaps, None], strict=True)],
        "level": level,
        "method": "exact, two-sided, of two equal Poisson rates",
    }


def _certainty(labels: list[str], counts: list[int], weights: list[float] | None = None, **settings: Any) -> object:
    return rank_certainty(counts_of(counts, labels), [1.0] * len(counts) if weights is None else weights, **settings)


STATISTICS: dict[str, Statistic] = {
    "pareto": Statistic(
        _pareto,
        (COUNTS, Column("amounts", size, "what the bars show instead of the count (minutes, cost).", required=False)),
        (
            Plain(argument="weight", type=click.STRING, help="What the amounts are.", default="defects"),
            OTHER,
            LAST,
            MOST,
        ),
    ),
    "vital-few": Statistic(
        _vital,
        (COUNTS, Column("amounts", size, "what is added up instead of the count (minutes, cost).", required=False)),
        (
            Plain(argument="weight", type=click.STRING, help="What the amounts are.", default="defects"),
            Plain(argument="share", type=NUMBER, help="Share of the whole that the few are to reach.", default=0.8),
        ),
    ),
    "pareto-by-severity": Statistic(
        _by_severity,
        (Column("counts", count, "defects of one severity.", many=True, option="--severity"),),
        (
            Plain(
                argument="weights",
                type=column_weight,
                help="SEVERITY=WEIGHT, once for each.",
                many=True,
                option="--weight",
            ),
            OTHER,
            LAST,
            MOST,
        ),
    ),
    "could-swap": Statistic(_swaps, (COUNTS,), (LEVEL,)),
    "rank-certainty": Statistic(
        _certainty,
        (COUNTS, Column("weights", positive, "what one count weighs; without it 1.", required=False)),
        (
            Plain(argument="prior", type=NUMBER, help="Counts added to each cause beforehand.", default=0.5),
            LEVEL,
            DRAWS,
            SEED,
        ),
    ),
    "goodman": Statistic(of_counts(goodman_intervals), (COUNTS,), (LEVEL,)),
    "sison-glaz": Statistic(of_counts(sison_glaz_intervals), (COUNTS,), (LEVEL,)),
}
