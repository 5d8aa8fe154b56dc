"""Whether something changed for good, and when; whether it rises or falls steadily."""

from collections.abc import Callable
from typing import Any

import click

from qc.cli.stat.asking import COUNT, LEVEL, RUNS, SEED, Column, Plain, Statistic
from qc.cli.stat.cells import count, number, size
from qc.cli.stat.series import of_rates_by_place, rates_by_place, shares_by_place
from qc.stats.by_command.change.rate_trend import negative_binomial_trend, poisson_trend, quasi_poisson_trend
from qc.stats.by_command.change.regression import (
    negative_binomial_regression,
    poisson_regression,
    quasi_poisson_regression,
)
from qc.stats.by_command.change.trend import cochran_armitage, mann_kendall_exact, mann_kendall_normal
from qc.stats.change.change_points import mean_change_point, poisson_change_point
from qc.stats.change.several_changes import mean_changes, poisson_changes
from qc.stats.refusals import demand_positive

COUNTS = (Column("counts", count, "defects of the period."), Column("exposures", size, "units of the period."))
VALUES = Column("values", number, "the values in time order.")
SEVERAL = (
    LEVEL,
    Plain(argument="most", type=COUNT, help="Changes looked for at most.", default=3),
    Plain(argument="shortest", type=COUNT, help="Periods that a stretch has at least.", default=4),
    RUNS,
    SEED,
)
NULL = Plain(
    argument="null",
    type=click.Choice(["poisson", "shuffled"]),
    help="How the simulated series are made: exact for Poisson counts, or shuffled where they scatter more.",
)
TIMES = Column("times", number, "when: a number of weeks, months, years; without it 1, 2, 3.", required=False)


def _mann_kendall(values: list[float], labels: list[str], method: str) -> object:
    return mann_kendall_exact(values) if method == "exact" else mann_kendall_normal(values)


def _trend(trend: Callable[..., object]) -> Callable[..., object]:
    def ask(
        labels: list[str], counts: list[int], exposures: list[float], times: list[float] | None = None, **settings: Any
    ) -> object:
        when = [float(place + 1) for place in range(len(labels))] if times is None else times
        return trend(rates_by_place(counts, exposures, labels), when, **settings)

    return ask


def _shares(
    labels: list[str], defectives: list[int], inspected: list[int], scores: list[float] | None = None
) -> object:
    steps = [float(place + 1) for place in range(len(labels))] if scores is None else scores
    return cochran_armitage(shares_by_place(defectives, inspected, labels), steps)


def _regression(regression: Callable[..., object]) -> Callable[..., object]:
    def ask(counts: list[int], exposures: list[float], columns: dict[str, list[float]], level: float) -> object:
        for place, units in enumerate(exposures):
            demand_positive(float(units), f"exposures[{place}]")
        rates = rates_by_place(counts, exposures, [str(place + 1) for place in range(len(counts))])
        return regression(rates, list(columns.values()), list(columns), level)

    return ask


REGRESSORS = (*COUNTS, Column("columns", number, "what the rate is regressed on.", many=True, option="--on"))

STATISTICS: dict[str, Statistic] = {
    "change-point": Statistic(of_rates_by_place(poisson_change_point), COUNTS, (LEVEL, RUNS, SEED, NULL)),
    "mean-change-point": Statistic(mean_change_point, (VALUES,), (LEVEL, RUNS, SEED)),
    "change-points": Statistic(of_rates_by_place(poisson_changes), COUNTS, SEVERAL),
    "mean-change-points": Statistic(mean_changes, (VALUES,), SEVERAL),
    "trend-shares": Statistic(
        _shares,
        (
            Column("defectives", count, "defective units of the group."),
            Column("inspected", count, "units inspected in the group."),
            Column("scores", number, "the group's score; without it 1, 2, 3.", required=False),
        ),
    ),
    "mann-kendall": Statistic(
        _mann_kendall,
        (VALUES,),
        (
            Plain(
                argument="method",
                type=click.Choice(["exact", "normal"]),
                help="Exact needs values that all differ; normal, ten or more.",
            ),
        ),
    ),
    "poisson-trend": Statistic(_trend(poisson_trend), (*COUNTS, TIMES), (LEVEL,)),
    "quasi-poisson-trend": Statistic(_trend(quasi_poisson_trend), (*COUNTS, TIMES), (LEVEL,)),
    "negative-binomial-trend": Statistic(_trend(negative_binomial_trend), (*COUNTS, TIMES), (LEVEL,)),
    "poisson-regression": Statistic(_regression(poisson_regression), REGRESSORS, (LEVEL,), labels=False),
    "quasi-poisson-regression": Statistic(_regression(quasi_poisson_regression), REGRESSORS, (LEVEL,), labels=False),
    "negative-binomial-regression": Statistic(
        _regression(negative_binomial_regression), REGRESSORS, (LEVEL,), labels=False
    ),
}
