"""Yields from first presentations, over one gate and over several, and defects per unit."""

import click

from qc.cli.stat.asking import COUNT, LEVEL, NUMBER, Column, Plain, Statistic, counts_in
from qc.cli.stat.cells import count, name, share
from qc.stats.answers import TooLittle
from qc.stats.by_command.sampling.presentations import Presentation, gate_counts, through_count
from qc.stats.looks.yields import (
    FirstPass,
    clustered_yield,
    defects_per_million,
    defects_per_unit,
    first_pass,
    first_time_through,
    rolled_shares,
    rolled_yield,
)
from qc.stats.refusals import demand_part

UNITS = counts_in(
    {"units": "units first presented.", "with_defect": "those of them with a defect of the severity counted."}
)
DEFECTS = counts_in({"defects": "defects on first presentations.", "units": "units first presented."})
SEVERITY = Plain(argument="severity", type=click.STRING, help="What was counted: any, critical, …", default="any")


def _first_pass(units: int, with_defect: int, severity: str, level: float) -> FirstPass | TooLittle:
    return first_pass(*demand_part(with_defect, "with_defect", units, "units"), severity, level)


def _rolled(labels: list[str], units: list[int], with_defect: list[int], severity: str, level: float) -> object:
    gates = zip(labels, units, with_defect, strict=True)
    return rolled_yield([(gate, _first_pass(whole, bad, severity, level)) for gate, whole, bad in gates])


def _rolled_shares(labels: list[str], shares: list[float]) -> object:
    return rolled_shares(labels, shares)


def _per_million(defects: int, units: int, opportunities: int) -> object:
    answer = defects_per_million(defects, units, opportunities)
    return answer if isinstance(answer, TooLittle) else {"per_million": answer, "opportunities": opportunities}


def _clustered(per_unit: float, clustering: float) -> object:
    return {"clean": clustered_yield(per_unit, clustering), "per_unit": per_unit, "clustering": clustering}


def _presented(
    unit: list[str], gate: list[str], presentation: list[int], defects: list[int], severity: str, level: float
) -> object:
    seen = [Presentation(*row) for row in zip(unit, gate, presentation, defects, strict=True)]
    gates = list(dict.fromkeys(gate))
    at, through = gate_counts(seen, gates), through_count(seen, gates)
    return {
        "gates": at,
        "first_pass": [first_pass(one.defectives, one.inspected, severity, level) for one in at],
        "through": through,
        "first_time_through": first_time_through(through.defectives, through.inspected, severity, level),
    }


STATISTICS: dict[str, Statistic] = {
    "first-pass": Statistic(_first_pass, UNITS, (SEVERITY, LEVEL), each_row=True),
    "presentations": Statistic(
        _presented,
        (
            Column("unit", name, "the unit."),
            Column("gate", name, "where it was presented; gates stand in the order first met."),
            Column("presentation", count, "1 for the first time at that gate, 2 after rework."),
            Column("defects", count, "defects found then."),
        ),
        (SEVERITY, LEVEL),
        labels=False,
    ),
    "rolled": Statistic(_rolled, UNITS, (SEVERITY, LEVEL)),
    "rolled-shares": Statistic(_rolled_shares, (Column("shares", share, "first-pass yield of the gate, 0 to 1."),)),
    "defects-per-unit": Statistic(defects_per_unit, DEFECTS, each_row=True),
    "defects-per-million": Statistic(
        _per_million,
        DEFECTS,
        (Plain(argument="opportunities", type=COUNT, help="Opportunities for a defect on one unit."),),
        each_row=True,
    ),
    "clustered-yield": Statistic(
        _clustered,
        (),
        (
            Plain(argument="per_unit", type=NUMBER, help="Defects per unit."),
            Plain(
                argument="clustering", type=NUMBER, help="Above 0; small is strongly clustered, large is independent."
            ),
        ),
    ),
}
