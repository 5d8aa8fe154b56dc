"""Stations compared without a league table: shrunken rates, chances of being the worst, funnels."""

from typing import Any

import click

from qc.cli.stat.asking import DRAWS, LEVEL, NUMBER, SEED, Column, Plain, Statistic, counts_in
from qc.cli.stat.cells import count, number, size
from qc.cli.stat.series import of_rates_by_place, of_shares_by_place, rates_by_place, shares_by_place
from qc.stats.answers import TooLittle
from qc.stats.series import Rates, Shares
from qc.stats.stations.funnel import (
    Indicator,
    Winsorising,
    additive_funnel,
    exact_funnel,
    funnel_dispersion,
    indicator_of,
    multiplicative_funnel,
)
from qc.stats.stations.ranking import chance_of_being_worst, rank_ranges
from qc.stats.stations.shrinkage import (
    AllAlike,
    BetaPrior,
    GammaPrior,
    Shrunken,
    beta_binomial_shares,
    fitted_beta_prior,
    fitted_gamma_prior,
    gamma_poisson_rates,
    james_stein,
    moment_beta_prior,
)
from qc.stats.stations.unsure_prior import hierarchical_rates

RATES = (Column("counts", count, "defects of the station."), Column("exposures", size, "units of the station."))
SHARES = counts_in({"defectives": "defective units of the station.", "inspected": "units inspected there."})
GAMMA = (
    Plain(argument="prior_shape", type=NUMBER, help="Shape of a given gamma prior; without it fitted.", may_lack=True),
    Plain(argument="prior_rate", type=NUMBER, help="Rate of a given gamma prior.", may_lack=True),
)
BETA = (
    Plain(
        argument="prior_a",
        type=NUMBER,
        help="Defective units' worth of a given beta prior; without it fitted.",
        may_lack=True,
    ),
    Plain(argument="prior_b", type=NUMBER, help="Clean units' worth of a given beta prior.", may_lack=True),
    Plain(
        argument="prior_by",
        type=click.Choice(["likelihood", "moments"]),
        help="How a prior is fitted.",
        default="likelihood",
    ),
)
NAMED = Plain(argument="named", type=NUMBER, help="Chance from which a station is named as the worst.", default=0.8)
TARGET = Plain(argument="target", type=NUMBER, help="The share or rate that all are held against.")
LIMITS = Plain(
    argument="limits",
    type=click.Choice(["exact", "multiplicative", "additive"]),
    help="By chance alone, or widened for scatter between the stations in one of two ways.",
)
INNER = Plain(argument="inner", type=NUMBER, help="Level of the inner limits.", default=0.95)
OUTER = Plain(argument="outer", type=NUMBER, help="Level of the outer limits.", default=0.998)
WINSORISING = Plain(
    argument="winsorising",
    type=click.Choice(["interpolated", "order statistic"]),
    help="By quantiles, or as published.",
    default="interpolated",
)
WINSORISED = Plain(
    argument="winsorised",
    type=NUMBER,
    help="Share of stations pulled in at each end before scatter is measured.",
    default=0.1,
)


def _shrunken_rates(
    rates: Rates, level: float,
    prior_shape: float | None = None, prior_rate: float | None = None,
) -> Shrunken | AllAlike | TooLittle:  # fmt: skip
    if (prior_shape is None) != (prior_rate is None):
        raise ValueError("--prior-shape and --prior-rate belong together: give both or neither")
    if prior_shape is not None and prior_rate is not None:
        return gamma_poisson_rates(rates, GammaPrior(prior_shape, prior_rate), level)
    prior = fitted_gamma_prior(rates)
    if isinstance(prior, GammaPrior):
        return gamma_poisson_rates(rates, prior, level)
    return prior


def _shrunken_shares(
    shares: Shares, level: float,
    prior_a: float | None = None, prior_b: float | None = None, prior_by: str = "likelihood",
) -> Shrunken | AllAlike | TooLittle:  # fmt: skip
    if (prior_a is None) != (prior_b is None):
        raise ValueError("--prior-a and --prior-b belong together: give both or neither")
    if prior_a is not None and prior_b is not None:
        return beta_binomial_shares(shares, BetaPrior(prior_a, prior_b), level)
    fitted = moment_beta_prior if prior_by == "moments" else fitted_beta_prior
    prior = fitted(shares)
    if isinstance(prior, BetaPrior):
        return beta_binomial_shares(shares, prior, level)
    return prior


def _worst(shrink: Any) -> Any:
    def ask(named: float, draws: int, seed: int, level: float, **given: Any) -> object:
        drawn = shrink(level=level, **given)
        if not isinstance(drawn, Shrunken):
            return drawn
        return {"worst": chance_of_being_worst(drawn, named), "ranks": rank_ranges(drawn, level, draws, seed)}

    return ask


def _funnel(
    indicator: Indicator, limits: str, inner: float, outer: float, winsorised: float, winsorising: Winsorising
) -> object:
    if limits == "exact":
        return {
            "funnel": exact_funnel(indicator, inner, outer),
            "dispersion": funnel_dispersion(indicator, winsorised, winsorising),
        }
    widened = multiplicative_funnel if limits == "multiplicative" else additive_funnel
    return widened(indicator, inner, outer, winsorised, winsorising)


def _funnel_of_shares(
    defectives: list[int], inspected: list[int], labels: list[str], target: float, **settings: Any
) -> object:
    if sum(inspected) > 0 and max(inspected) > 1_000_000:
        raise ValueError(f"inspected must be at most 1000000 for a station of a funnel, got {max(inspected)}")
    return _funnel(indicator_of(shares_by_place(defectives, inspected, labels), target), **settings)


def _funnel_of_rates(
    counts: list[int], exposures: list[float], labels: list[str], target: float, **settings: Any
) -> object:
    if exposures and target * max(exposures) > 1_000_000:
        raise ValueError(f"target times exposures must be at most 1000000 defects, got {target * max(exposures):g}")
    return _funnel(indicator_of(rates_by_place(counts, exposures, labels), target), **settings)


FUNNEL = (TARGET, LIMITS, INNER, OUTER, WINSORISED, WINSORISING)

STATISTICS: dict[str, Statistic] = {
    "shrink-rates": Statistic(of_rates_by_place(_shrunken_rates), RATES, (*GAMMA, LEVEL)),
    "hierarchical-rates": Statistic(of_rates_by_place(hierarchical_rates), RATES, (LEVEL,)),
    "shrink-shares": Statistic(of_shares_by_place(_shrunken_shares), SHARES, (*BETA, LEVEL)),
    "james-stein": Statistic(
        james_stein,
        (Column("observed", number, "the observed values."),),
        (Plain(argument="variance", type=NUMBER, help="Known variance of each value."),),
    ),
    "worst-rates": Statistic(_worst(of_rates_by_place(_shrunken_rates)), RATES, (*GAMMA, NAMED, LEVEL, DRAWS, SEED)),
    "worst-shares": Statistic(_worst(of_shares_by_place(_shrunken_shares)), SHARES, (*BETA, NAMED, LEVEL, DRAWS, SEED)),
    "funnel-shares": Statistic(_funnel_of_shares, SHARES, FUNNEL),
    "funnel-rates": Statistic(_funnel_of_rates, RATES, FUNNEL),
}
