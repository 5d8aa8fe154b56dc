"""Periods, stations and groups against each other: rates, shares, profiles, mixes, before and after, many tests."""

import math
from typing import Any

import click

from qc.cli.stat.asking import COUNT, LEVEL, NUMBER, SEED, Column, Plain, Statistic, counts_in
from qc.cli.stat.basis import BASELINE, rows_named
from qc.cli.stat.cells import count, share, size
from qc.cli.stat.series import of_rates_by_place, of_shares_by_place, rates_by_place
from qc.stats.by_command.change.before_after import (
    FixedWindows,
    exact_before_after,
    scattered_before_after,
    units_needed,
)
from qc.stats.by_command.change.type_changes import type_changes
from qc.stats.change.adjustment import fay_feuer_rate, indirect_ratio
from qc.stats.change.comparison import (
    fisher_exact,
    profiles_compared,
    rates_compared,
    rates_compared_by_simulation,
    share_pairs,
)
from qc.stats.change.mix_exposure import dispersion_within, mix_exposure
from qc.stats.change.mix_reading import mix_reading
from qc.stats.change.stratified_ratio import Strata, exact_rate_ratio, mantel_haenszel_ratio, strata
from qc.stats.refusals import demand_count, demand_counted_on, demand_positive
from qc.stats.series import Rates, counts_of, rates_of
from qc.stats.watch.multiplicity import benjamini_hochberg, bonferroni, holm, watch_budget

COUNTS = Column("counts", count, "defects.")
EXPOSURES = Column("exposures", size, "units (or hours, metres) they were found on.")
SHARES = counts_in({"defectives": "defective units.", "inspected": "units inspected."})
TWO_PERIODS = (
    Column("before", count, "defects before."),
    Column("before_exposures", size, "units before."),
    Column("after", count, "defects after."),
    Column("after_exposures", size, "units after."),
)
DISPERSION = Plain(argument="dispersion", type=NUMBER, help="Variance over Poisson variance, at least 1.")
DEGREES = Plain(
    argument="degrees",
    type=NUMBER,
    help="Degrees of freedom that the dispersion was measured on; without it taken as known.",
    may_lack=True,
)
MODELS = (
    Column("units", count, "units of one model, rows being periods.", many=True),
    Column("defects", count, "defects of one model, in the order of --units.", many=True),
)
DAY = click.DateTime(["%Y-%m-%d"])
WINDOWS = tuple(
    Plain(argument=name, type=DAY, help=f"{what}, YYYY-MM-DD.")
    for name, what in (
        ("before_first", "First day of the window before"),
        ("before_end", "Day after the window before"),
        ("after_first", "First day of the window after"),
        ("after_end", "Day after the window after"),
        ("fixed_on", "Day on which the windows were fixed"),
        ("seen_until", "First day not yet seen"),
    )
)
AIMED = Plain(
    argument="aimed_ratio", type=NUMBER, help="Rate after over rate before that the action was meant to reach."
)
LOOKED_AT = Plain(argument="looked_at", type=COUNT, help="How many comparisons are looked at together.", default=1)
P_VALUES = Column("p_values", share, "p-value of the test.")
BOUND = Plain(
    argument="bound",
    type=NUMBER,
    help="Share of false claims (Benjamini-Hochberg) or chance of any (Holm, Bonferroni).",
    default=0.05,
)


def _profiles(labels: list[str], counts: dict[str, list[int]]) -> object:
    """Compare the rows' profiles over the columns that were named."""
    return {"rows": labels, "homogeneity": profiles_compared(list(zip(*counts.values(), strict=True)), list(counts))}


def _strata(
    labels: list[str], before: list[int], before_exposures: list[float], after: list[int], after_exposures: list[float]
) -> Strata:
    return strata(
        rates_by_place(before, before_exposures, labels, ("before", "before_exposures")),
        rates_by_place(after, after_exposures, labels, ("after", "after_exposures")),
    )


def _indirect(rates: Rates, baseline_counts: list[int], baseline_exposures: list[float], **settings: Any) -> object:
    names = ("baseline_counts", "baseline_exposures")
    return indirect_ratio(rates, rates_by_place(baseline_counts, baseline_exposures, rates.labels, names), **settings)


def _type_changes(
    labels: list[str], before: list[int], after: list[int], before_exposure: float, after_exposure: float,
    level: float, bound: float,
) -> object:  # fmt: skip
    old, new = counts_of(before, labels, name="before"), counts_of(after, labels, name="after")
    before_units = demand_positive(before_exposure, "before_exposure")
    return type_changes(old, before_units, new, demand_positive(after_exposure, "after_exposure"), level, bound)


def _adjusted(labels: list[str], method: str, level: float, **columns: Any) -> object:
    two = _strata(labels, **columns)
    if method == "exact":
        return mix_reading(two, lambda one: exact_rate_ratio(one, level))
    return mix_reading(two, lambda one: mantel_haenszel_ratio(one, level, 1.0))


def _exact_ratio(labels: list[str], level: float, **columns: Any) -> object:
    return exact_rate_ratio(_strata(labels, **columns), level)


def _mantel_haenszel(
    labels: list[str], level: float, dispersion: float, degrees: float = math.inf, **columns: Any
) -> object:
    return mantel_haenszel_ratio(_strata(labels, **columns), level, dispersion, degrees)


def _by_period(columns: dict[str, list[int]]) -> list[tuple[int, ...]]:
    return list(zip(*columns.values(), strict=True))


def _demand_pairs(units: dict[str, list[int]], defects: dict[str, list[int]]) -> None:
    if len(units) != len(defects):
        raise ValueError(
            f"--units and --defects must be given for the same models, got {len(units)} and {len(defects)} columns"
        )


def _mix(
    labels: list[str], units: dict[str, list[int]], defects: dict[str, list[int]], baseline: str | None = None
) -> object:
    """Take the baseline of each model from the rows that --baseline names."""
    _demand_pairs(units, defects)
    if baseline is None:
        raise ValueError("--baseline must name the rows that the models' own rates come from, say 1:20 or all")
    rows = rows_named(baseline, labels)
    found, made = ([sum(column[rows]) for column in table.values()] for table in (defects, units))
    demand_counted_on(found, "baseline_defects", made, "baseline_units")
    return mix_exposure(_by_period(units), labels, rates_of(found, made, list(units)))


def _within(labels: list[str], units: dict[str, list[int]], defects: dict[str, list[int]]) -> object:
    _demand_pairs(units, defects)
    return dispersion_within(_by_period(defects), _by_period(units), labels, list(units))


def _before_after(
    labels: list[str], before: list[int], before_exposures: list[float], after: list[int],
    after_exposures: list[float], aimed_ratio: float, looked_at: int, level: float,
    dispersion: float | None = None, degrees: float = math.inf, **days: Any,
) -> object:  # fmt: skip
    two = _strata(labels, before, before_exposures, after, after_exposures)
    dates = {name: day.date() for name, day in days.items()}
    seen_until = dates.pop("seen_until")
    windows = FixedWindows(**dates)
    if dispersion is None:
        return exact_before_after(two, windows, seen_until, aimed_ratio, looked_at, level)
    return scattered_before_after(two, windows, seen_until, aimed_ratio, looked_at, level, dispersion, degrees)


def _units_needed(before_count: int, before_exposure: float, aimed_ratio: float, level: float, chance: float) -> object:
    before_units = demand_positive(before_exposure, "before_exposure")
    return units_needed(before_count, before_units, aimed_ratio, level, chance)


def _simulated(rates: Rates, simulations: int, seed: int) -> object:
    return rates_compared_by_simulation(rates, demand_count(simulations, "simulations", 99), seed)


STATISTICS: dict[str, Statistic] = {
    "compare-rates": Statistic(of_rates_by_place(rates_compared), (COUNTS, EXPOSURES)),
    "compare-rates-simulated": Statistic(
        of_rates_by_place(_simulated),
        (COUNTS, EXPOSURES),
        (
            Plain(
                argument="simulations",
                type=click.IntRange(0, 100_000),
                help="Simulated series that the p-value rests on.",
                default=9_999,
            ),
            SEED,
        ),
    ),
    "compare-profiles": Statistic(
        _profiles, (Column("counts", count, "defects of one type or zone, rows being periods.", many=True),)
    ),
    "fisher": Statistic(
        fisher_exact,
        counts_in(
            {
                "first_defective": "defective units of the first group.",
                "first_clean": "clean units of the first group.",
                "second_defective": "defective units of the second group.",
                "second_clean": "clean units of the second group.",
            }
        ),
        each_row=True,
    ),
    "share-pairs": Statistic(of_shares_by_place(share_pairs), SHARES, (LEVEL,)),
    "direct": Statistic(
        of_rates_by_place(fay_feuer_rate),
        (COUNTS, EXPOSURES, Column("standard", size, "the standard mix: units of the stratum, on any scale.")),
        (LEVEL, DISPERSION, DEGREES),
    ),
    "indirect": Statistic(
        of_rates_by_place(_indirect),
        (
            COUNTS,
            EXPOSURES,
            Column("baseline_counts", count, "defects of the stratum in the baseline."),
            Column("baseline_exposures", size, "units of the stratum in the baseline."),
        ),
        (LEVEL,),
    ),
    "exact-ratio": Statistic(_exact_ratio, TWO_PERIODS, (LEVEL,)),
    "mantel-haenszel": Statistic(_mantel_haenszel, TWO_PERIODS, (LEVEL, DISPERSION, DEGREES)),
    "mix-adjust": Statistic(
        _adjusted,
        TWO_PERIODS,
        (
            Plain(argument="method", type=click.Choice(["exact", "mantel-haenszel"]), help="How both ratios are made."),
            LEVEL,
        ),
    ),
    "mix-exposure": Statistic(_mix, MODELS, (BASELINE,)),
    "dispersion-within": Statistic(_within, MODELS),
    "type-changes": Statistic(
        _type_changes,
        counts_in({"before": "defects of the type before.", "after": "defects of the type after."}),
        (
            Plain(argument="before_exposure", type=NUMBER, help="Units before."),
            Plain(argument="after_exposure", type=NUMBER, help="Units after."),
            LEVEL,
            BOUND,
        ),
    ),
    "before-after": Statistic(
        _before_after,
        TWO_PERIODS,
        (
            *WINDOWS,
            AIMED,
            LOOKED_AT,
            LEVEL,
            Plain(
                argument="dispersion",
                type=NUMBER,
                help="For plant totals: variance over Poisson variance.",
                may_lack=True,
            ),
        ),
    ),
    "exposure-needed": Statistic(
        _units_needed,
        (),
        (
            Plain(argument="before_count", type=COUNT, help="Defects in the window before."),
            Plain(argument="before_exposure", type=NUMBER, help="Units in the window before."),
            AIMED,
            LEVEL,
            Plain(argument="chance", type=NUMBER, help="Chance with which the improvement is to show.", default=0.8),
        ),
    ),
    "benjamini-hochberg": Statistic(benjamini_hochberg, (P_VALUES,), (BOUND,)),
    "holm": Statistic(holm, (P_VALUES,), (BOUND,)),
    "bonferroni": Statistic(bonferroni, (P_VALUES,), (BOUND,)),
    "watch-budget": Statistic(
        watch_budget,
        (),
        (
            Plain(argument="watched", type=COUNT, help="Series times rules that are watched."),
            Plain(argument="alarms", type=NUMBER, help="False alarms expected at one look over all of them."),
        ),
    ),
}
