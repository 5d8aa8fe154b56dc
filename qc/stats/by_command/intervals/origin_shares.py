"""Shares of origins as a Dirichlet posterior: closed forms for one list of origins and for one table of cells."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_as_many,
    demand_kind,
    demand_labels,
    demand_level,
    demand_list,
    demand_positive,
    demand_table,
)
from qc.stats.series import Counts


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginShares:
    """Each origin's share of defects: posterior mean, standard deviation and equal-tailed interval.

    log_evidence: of the counts as one ordered sequence under the prior, to compare priors with each other.
    """

    labels: tuple[str, ...]
    mean: tuple[float, ...]
    deviation: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    log_evidence: float
    counts: tuple[int, ...]
    prior: tuple[float, ...]
    level: float
    method: str


@dataclass(frozen=True, slots=True)
class CellOrigins:
    """Chances of each station for one defect of one cell (zone and type), from a table of settled defects.

    chances sum to 1 in label order; counts: the cell's column; station_totals: over all cells.
    """

    cell: str
    labels: tuple[str, ...]
    chances: tuple[float, ...]
    counts: tuple[int, ...]
    station_totals: tuple[int, ...]
    prior: float
    method: str


def dirichlet_shares(counts: Counts, prior: Sequence[float], level: float) -> OriginShares | TooLittle:
    """Return the posterior of the shares of origins; prior counts are more than 0, one for each origin.

    Fewer than two origins is TooLittle; no count at all gives the prior back. Source: conjugacy of the Dirichlet
    and the multinomial, Gelman et al., Bayesian Data Analysis, sec. 3.4; marginals are beta.
    """
    from scipy.special import betaincinv, gammaln

    demand_kind(counts, Counts, "counts")
    found, labels = counts.counts, counts.labels
    demand_as_many("prior", prior, "counts", found)
    before = tuple(demand_positive(a, f"prior[{i}]") for i, a in enumerate(demand_list(prior, "prior")))
    level = demand_level(level)
    if len(found) < 2:
        return TooLittle("shares of origins", "fewer than two origins", len(found), 2)
    shape = [a + n for a, n in zip(before, found, strict=True)]
    whole, tail = sum(shape), (1 - level) / 2
    mean = tuple(a / whole for a in shape)
    deviation = tuple((m * (1 - m) / (whole + 1)) ** 0.5 for m in mean)
    low = tuple(float(betaincinv(a, whole - a, tail)) for a in shape)
    high = tuple(float(betaincinv(a, whole - a, 1 - tail)) for a in shape)
    pairs = zip(shape, before, strict=True)
    evidence = float(gammaln(sum(before)) - gammaln(whole) + sum(gammaln(s) - gammaln(a) for s, a in pairs))
    return OriginShares(
        labels=labels,
        mean=mean,
        deviation=deviation,
        low=low,
        high=high,
        log_evidence=evidence,
        counts=found,
        prior=before,
        level=level,
        method="Dirichlet posterior",
    )


def origins_of_cell(
    table: Sequence[Sequence[int]], stations: Sequence[str], cells: Sequence[str], prior: float, cell: str
) -> CellOrigins | TooLittle:
    """Return the chances of each station for a defect of one cell: its share of all times its share of this cell.

    table: settled defects, rows stations, columns cells; prior: added to every station and, within a station, to
    every cell. chances are proportional to (n_s + a)/(T + S a) * (n_sc + a)/(n_s + C a): never a raw ratio, which
    is 0/0 where a cell is empty. Nothing settled at all is TooLittle; a cell not in the table is refused.
    Source: Bayes' rule with Dirichlet predictives (Gelman et al., sec. 3.4).
    """
    rows, prior = demand_table(table, "table"), demand_positive(prior, "prior")
    stations, cells = (
        demand_labels(stations, "table", rows, "stations"),
        demand_labels(cells, "table[0]", rows[0], "cells"),
    )
    if cell not in cells:
        raise ValueError(f"cell must be one of the table's cells, got {cell!r}")
    totals = tuple(map(sum, rows))
    if sum(totals) == 0:
        return TooLittle("origin of a cell", "no settled defect to learn from", 0, 1)
    column, everything = cells.index(cell), sum(totals) + prior * len(rows)
    weights = [
        (total + prior) / everything * (row[column] + prior) / (total + prior * len(cells))
        for row, total in zip(rows, totals, strict=True)
    ]
    chances = tuple(weight / sum(weights) for weight in weights)
    column_counts = tuple(row[column] for row in rows)
    return CellOrigins(cell, stations, chances, column_counts, totals, prior, "Bayes' rule on Dirichlet predictives")
