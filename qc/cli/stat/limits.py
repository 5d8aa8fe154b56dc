"""Limits on a count from the law of the count itself, and counts to expect: from options alone, without a file."""

import click

from qc.cli.stat.asking import COUNT, NUMBER, Plain, Statistic
from qc.cli.stat.basis import TAIL
from qc.cli.stat.charts import COUNTING
from qc.stats.charts.dispersion import expected_poisson_counts
from qc.stats.charts.rare_events import Counting, geometric_limits, geometric_median
from qc.stats.intervals.count_limits import (
    binomial_limits,
    poisson_limits,
    predictive_rate_limits,
    predictive_share_limits,
)
from qc.stats.refusals import demand_count, demand_part, demand_positive

# The tails are summed count by count.
UNITS = click.IntRange(0, 1_000_000)
INSPECTED = Plain(argument="inspected", type=UNITS, help="Units inspected in the period.")
EVENTS = Plain(argument="events", type=COUNT, help="Defective units or defects in the baseline.")


def _geometric(mean_gap: float, counting: Counting, tail: float) -> object:
    lower, upper = geometric_limits(mean_gap, counting, tail)
    median = geometric_median(mean_gap, counting)
    return {"lower": lower, "upper": upper, "median": median, "mean_gap": mean_gap, "counting": counting, "tail": tail}


def _predictive_rate(exposure: float, events: int, size: float, tail: float) -> object:
    units, size = demand_positive(exposure, "exposure"), demand_positive(size, "size")
    return predictive_rate_limits(units, demand_count(events, "events"), size, tail)


def _predictive_share(inspected: int, events: int, size: int, tail: float) -> object:
    demand_count(inspected, "inspected", 1)
    events, size = demand_part(events, "events", demand_count(size, "size", 1), "size")
    return predictive_share_limits(inspected, events, size, tail)


def _expected(periods: int, mean: float, highest: int) -> object:
    counts = expected_poisson_counts(periods, mean, highest)
    return {"periods": periods, "mean": mean,
            "expected": [{"events": events, "periods": one} for events, one in enumerate(counts)]}  # fmt: skip


STATISTICS: dict[str, Statistic] = {
    "binomial-limits": Statistic(
        binomial_limits, (), (INSPECTED, Plain(argument="share", type=NUMBER, help="Share of defective units."), TAIL)
    ),
    "poisson-limits": Statistic(
        poisson_limits, (), (Plain(argument="mean", type=NUMBER, help="Defects expected in the period."), TAIL)
    ),
    "predictive-share-limits": Statistic(
        _predictive_share,
        (),
        (INSPECTED, EVENTS, Plain(argument="size", type=COUNT, help="Units of the baseline."), TAIL),
    ),
    "predictive-rate-limits": Statistic(
        _predictive_rate,
        (),
        (
            Plain(argument="exposure", type=NUMBER, help="Exposure of the period."),
            EVENTS,
            Plain(argument="size", type=NUMBER, help="Exposure of the baseline."),
            TAIL,
        ),
    ),
    "geometric-limits": Statistic(
        _geometric, (), (Plain(argument="mean_gap", type=NUMBER, help="Mean units between events."), COUNTING, TAIL)
    ),
    "poisson-counts": Statistic(
        _expected,
        (),
        (
            Plain(argument="periods", type=COUNT, help="How many periods."),
            Plain(argument="mean", type=NUMBER, help="Events a period."),
            Plain(argument="highest", type=click.IntRange(0, 1_000), help="Highest count that is shown."),
        ),
    ),
}
