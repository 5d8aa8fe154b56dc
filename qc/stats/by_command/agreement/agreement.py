"""How far two raters agree beyond chance, from the square table of their judgements.

Kappa collapses where nearly everything passes: two inspectors who agree on 94 of 100 units can have a kappa below
0. So the observed agreement, Gwet's AC1 and the table itself always stand beside it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from qc.stats.answers import TooLittle
from qc.stats.by_command.agreement.agreement_limits import limits_without_error
from qc.stats.refusals import count_of, demand_labels, demand_level, demand_list, demand_numbers, demand_table
from qc.stats.stated_chances import stated_chance

Table = tuple[tuple[int, ...], ...]
MOST_SUBJECTS = 1_000_000  # written out one by one


@dataclass(frozen=True, slots=True, kw_only=True)
class Kappa:
    """Agreement of two raters beyond chance.

    kappa: 1 is perfect, 0 what chance would give. error: standard error for the interval low..high; error_if_none:
    the one under no agreement beyond chance, which z and the two-sided p_value use. observed, expected: share of
    agreement (weighted: 1 less the disagreement). ac1: Gwet's coefficient of the same table, unweighted.
    """

    kappa: float
    error: float
    low: float
    high: float
    error_if_none: float
    z: float
    p_value: float
    observed: float
    expected: float
    ac1: float
    labels: tuple[str, ...]
    table: Table
    level: float
    method: str


def cohen_kappa(table: Sequence[Sequence[int]], labels: Sequence[str], level: float) -> Kappa | TooLittle:
    """Return Cohen's kappa of a square table, rows the first rater, columns the second, both in label order.

    Nothing judged, or both always choosing one and the same category, is TooLittle (gwet_ac1 still answers).
    Where the error is 0 (perfect agreement, or one rater who always chose the same category, which makes kappa 0
    whatever the other did) the interval comes from the exact limits of the observed agreement.
    Computed by statsmodels.stats.inter_rater.cohens_kappa. Source: Cohen (1960), Educ. Psych. Measurement 20,
    37-46; errors of Fleiss, Cohen & Everitt (1969), Psychological Bulletin 72, 323-327.
    """
    size = range(count_of(table, "table"))
    weights = [[0.0 if i == j else 1.0 for j in size] for i in size]
    return _kappa(table, labels, level, weights, "Cohen's kappa")


def linear_weighted_kappa(table: Sequence[Sequence[int]], labels: Sequence[str], level: float) -> Kappa | TooLittle:
    """Return kappa with disagreement counted by how many categories it is apart; as cohen_kappa.

    Source: Cohen (1968), Psychological Bulletin 70, 213-220, weights by steps.
    """
    size = range(count_of(table, "table"))
    weights = [[float(abs(i - j)) for j in size] for i in size]
    return _kappa(table, labels, level, weights, "weighted kappa, linear")


def quadratic_weighted_kappa(table: Sequence[Sequence[int]], labels: Sequence[str], level: float) -> Kappa | TooLittle:
    """Return kappa with disagreement counted by the square of the steps apart; as cohen_kappa.

    Source: Fleiss & Cohen (1973), Educ. Psych. Measurement 33, 613-619.
    """
    size = range(count_of(table, "table"))
    weights = [[float((i - j) ** 2) for j in size] for i in size]
    return _kappa(table, labels, level, weights, "weighted kappa, quadratic")


def judgements_of_two(table: Sequence[Sequence[int]]) -> list[list[int]]:
    """Return a square table as counts by subject and category, for gwet_ac1 and fleiss_kappa."""
    rows = demand_table(table, "table")
    if sum(map(sum, rows)) > MOST_SUBJECTS:
        raise ValueError(f"table must hold at most {MOST_SUBJECTS} subjects, got {sum(map(sum, rows))}")
    return [
        [(i == k) + (j == k) for k in range(len(rows))]
        for i, row in enumerate(rows)
        for j, count in enumerate(row)
        for _ in range(count)
    ]


def weighted_kappa(
    table: Sequence[Sequence[int]],
    disagreement: Sequence[Sequence[float]],
    labels: Sequence[str],
    level: float,
) -> Kappa | TooLittle:
    """Return kappa with given weights of disagreement: 0 on the diagonal, at least 0 elsewhere; as cohen_kappa.

    Agreement weights are 1 - v / vmax. Source: Cohen (1968), as above.
    """
    size, rows = count_of(table, "table"), demand_list(disagreement, "disagreement")
    weights = [list(demand_numbers(row, f"disagreement[{i}]")) for i, row in enumerate(rows)]
    if len(weights) != size or any(len(row) != size for row in weights):
        raise ValueError(f"disagreement must be {size} by {size} like table, got {disagreement!r}")
    for i, row in enumerate(weights):
        if row[i] != 0 or min(row) < 0:
            raise ValueError(f"disagreement[{i}] must be 0 on the diagonal and nowhere below 0, got {row!r}")
    return _kappa(table, labels, level, weights, "weighted kappa, given weights")


def _kappa(
    table: Sequence[Sequence[int]],
    labels: Sequence[str],
    level: float,
    weights: list[list[float]],
    method: str,
) -> Kappa | TooLittle:
    import numpy as np
    from scipy.special import ndtr, ndtri

    rows, level = demand_table(table, "table"), demand_level(level)
    labels = demand_labels(labels, "table", rows)
    if len(rows[0]) != len(rows):
        raise ValueError(f"table must be square, got {len(rows)} rows of {len(rows[0])}")
    total = sum(map(sum, rows))
    if total == 0:
        return TooLittle("agreement of two raters", "nothing was judged by both", 0, 1)
    shares = np.array(rows) / total
    apart = float(max(map(max, weights)))
    expected_apart = float((np.array(weights) * np.outer(shares.sum(axis=1), shares.sum(axis=0))).sum())
    if apart == 0 or expected_apart == 0:
        reason = "both raters always chose the same one category: kappa is 0/0, AC1 still answers"
        return TooLittle("agreement of two raters", reason, 1, 2)
    found = _by_statsmodels(rows, weights)
    observed = 1 - float((np.array(weights) * shares).sum()) / apart
    expected = 1 - expected_apart / apart
    kappa, error, error_if_none = float(found.kappa), _root(found.var_kappa), _root(found.var_kappa0)
    reach = float(ndtri((1 + level) / 2)) * error
    low, high = max(-1.0, kappa - reach), min(1.0, kappa + reach)
    if error < 1e-9:
        low, high = limits_without_error(observed, expected, total, level)
    z = kappa / error_if_none if error_if_none > 0 else 0.0
    p_value, ac1 = stated_chance(2 * ndtr(-abs(z))), _ac1(rows)
    return Kappa(
        kappa=kappa,
        error=error,
        low=low,
        high=high,
        error_if_none=error_if_none,
        z=z,
        p_value=p_value,
        observed=observed,
        expected=expected,
        ac1=ac1,
        labels=labels,
        table=rows,
        level=level,
        method=method,
    )


def _by_statsmodels(rows: Table, weights: list[list[float]]) -> Any:
    import numpy as np
    from statsmodels.stats.inter_rater import cohens_kappa

    # Where one rater always chose the same category, its z is 0/0; only kappa and the variances are read here.
    with np.errstate(divide="ignore", invalid="ignore"):
        return cohens_kappa(np.array(rows), weights=np.array(weights))


def _root(variance: float) -> float:
    return math.sqrt(max(0.0, float(variance)))


def _ac1(rows: Table) -> float:
    """Return AC1 of the table; its interval comes from gwet_ac1."""
    total, q = sum(map(sum, rows)), len(rows)
    shares = [(sum(row) + sum(column)) / (2 * total) for row, column in zip(rows, zip(*rows, strict=True), strict=True)]
    expected = sum(p * (1 - p) for p in shares) / (q - 1)
    return float((sum(row[i] for i, row in enumerate(rows)) / total - expected) / (1 - expected))
