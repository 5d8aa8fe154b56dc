"""Sampling plans for parts from a supplier, and what a plan lets through; a whole unit is never sampled."""

import click

from qc.cli.stat.asking import COUNT, NUMBER, Plain, Statistic
from qc.stats.by_command.sampling.operating_characteristic import (
    binomial_acceptance,
    hypergeometric_acceptance,
    outgoing,
    outgoing_limit,
    poisson_acceptance,
    quality_at,
)
from qc.stats.by_command.sampling.sampling_plans import INSPECTION_LEVELS, single_normal_plan

LOT = Plain(argument="lot", type=COUNT, help="Units in the lot.")
PLAN = (
    Plain(argument="sample", type=COUNT, help="Units looked at."),
    Plain(argument="accept", type=COUNT, help="Accept up to so many nonconforming."),
)
SHARE = Plain(argument="share", type=NUMBER, help="Share of nonconforming units that comes in.")


def _plan(lot: int, inspection_level: str, aql: float) -> object:
    return single_normal_plan(lot, inspection_level, aql)  # type: ignore[arg-type]


def _quality(sample: int, accept: int, chance: float) -> object:
    return {"share": quality_at(sample, accept, chance), "chance": chance, "sample": sample, "accept": accept}


STATISTICS: dict[str, Statistic] = {
    "sampling-plan": Statistic(
        _plan,
        (),
        (
            LOT,
            Plain(
                argument="inspection_level",
                type=click.Choice(list(INSPECTION_LEVELS)),
                help="Inspection level.",
                default="II",
            ),
            Plain(
                argument="aql",
                type=NUMBER,
                help="Acceptance quality limit, a preferred value (0.65, 1.0, 1.5, 2.5, …).",
            ),
        ),
    ),
    "acceptance": Statistic(binomial_acceptance, (), (*PLAN, SHARE)),
    "acceptance-poisson": Statistic(
        poisson_acceptance,
        (),
        (*PLAN, Plain(argument="per_unit", type=NUMBER, help="Mean nonconformities on one unit.")),
    ),
    "acceptance-of-lot": Statistic(
        hypergeometric_acceptance,
        (),
        (LOT, *PLAN, Plain(argument="nonconforming", type=COUNT, help="Nonconforming units in the lot.")),
    ),
    "quality-at": Statistic(_quality, (), (*PLAN, Plain(argument="chance", type=NUMBER, help="Chance of acceptance."))),
    "outgoing": Statistic(outgoing, (), (*PLAN, LOT, SHARE)),
    "outgoing-limit": Statistic(outgoing_limit, (), (*PLAN, LOT)),
}
