"""How far any number of raters agree: Fleiss' kappa, Gwet's AC1.

Scipy and statsmodels have no AC1, and statsmodels' Fleiss gives no error, so the formulas stand here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.by_command.agreement.agreement_limits import limits_without_error
from qc.stats.refusals import count_of, demand_labels, demand_level, demand_list, demand_table
from qc.stats.stated_chances import stated_chance


@dataclass(frozen=True, slots=True, kw_only=True)
class FleissKappa:
    """Agreement beyond chance of the same number of raters on each subject.

    agreement: share of agreeing pairs by subject; shares: of each category over all judgements. error_if_none is
    the standard error under no agreement beyond chance: for the test z, not for an interval.
    """

    kappa: float
    error_if_none: float
    z: float
    p_value: float
    observed: float
    expected: float
    agreement: tuple[float, ...]
    shares: tuple[float, ...]
    labels: tuple[str, ...]
    subjects: int
    raters: int
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GwetAC1:
    """Gwet's first-order agreement coefficient with its interval; holds up where nearly all pass."""

    coefficient: float
    error: float
    low: float
    high: float
    observed: float
    expected: float
    labels: tuple[str, ...]
    subjects: int
    level: float
    method: str


def fleiss_kappa(counts: Sequence[Sequence[int]], labels: Sequence[str]) -> FleissKappa | TooLittle:
    """Return Fleiss' kappa; counts[subject][category] is how many raters chose it, the same number on each subject.

    Fewer than two raters, no subject, or one category only, is TooLittle.
    Source: Fleiss (1971), Psychological Bulletin 76, 378-382; error of Fleiss, Nee & Landis (1979), Psychological
    Bulletin 86, 974-977.
    """
    from scipy.special import ndtr

    if not count_of(counts, "counts"):
        return TooLittle("agreement of raters", "no subject was judged", 0, 1)
    rows = demand_table(counts, "counts")
    labels, raters = demand_labels(labels, "counts[0]", rows[0]), sum(rows[0])
    for i, row in enumerate(rows):
        if sum(row) != raters:
            raise ValueError(f"counts[{i}] must sum to {raters} raters like the first, got {sum(row)}")
    if raters < 2:
        return TooLittle("agreement of raters", "fewer than two raters", raters, 2)
    subjects = len(rows)
    shares = tuple(sum(column) / (subjects * raters) for column in zip(*rows, strict=True))
    agreement = tuple((sum(n * n for n in row) - raters) / (raters * (raters - 1)) for row in rows)
    observed, expected = sum(agreement) / subjects, sum(p * p for p in shares)
    spread = sum(p * (1 - p) for p in shares)
    if max(shares) == 1:
        return TooLittle("agreement of raters", "only one category was ever chosen: kappa is 0/0", 1, 2)
    kappa = (observed - expected) / (1 - expected)
    third = sum(p * (1 - p) * (1 - 2 * p) for p in shares)
    error = math.sqrt(2 * (spread**2 - third) / (subjects * raters * (raters - 1))) / spread
    z = kappa / error
    return FleissKappa(
        kappa=kappa,
        error_if_none=error,
        z=z,
        p_value=stated_chance(2 * ndtr(-abs(z))),
        observed=observed,
        expected=expected,
        agreement=agreement,
        shares=shares,
        labels=labels,
        subjects=subjects,
        raters=raters,
        method="Fleiss' kappa",
    )


def gwet_ac1(counts: Sequence[Sequence[int]], labels: Sequence[str], level: float) -> GwetAC1 | TooLittle:
    """Return Gwet's AC1; counts[subject][category] is how many raters chose it, at least two on a subject that counts.

    Subjects judged once enter the categories' shares, not the agreement. Fewer than two categories, or fewer than
    two subjects judged twice, is TooLittle. The interval is clipped to [-1, 1]; where the error is 0 (perfect
    agreement, or all subjects alike) it comes from the exact limits of the observed agreement.
    Source: Gwet (2008), British J. Mathematical and Statistical Psychology 61, 29-48 (coefficient and variance over
    subjects).
    """
    from scipy.special import ndtri

    level = demand_level(level)
    table = demand_table(counts, "counts") if count_of(counts, "counts") else ()
    rows = [row for row in table if sum(row) > 0]
    labels = demand_labels(labels, "counts[0]", table[0]) if table else demand_list(labels, "labels")
    twice = sum(sum(row) >= 2 for row in rows)
    if len(labels) < 2 or twice < 2:
        return TooLittle("agreement of raters", "fewer than two subjects judged twice, or one category", twice, 2)
    n, q = len(rows), len(labels)
    shares = [sum(row[k] / sum(row) for row in rows) / n for k in range(q)]
    expected = sum(p * (1 - p) for p in shares) / (q - 1)
    own = [_pair_agreement(row) for row in rows]
    observed = sum(agreed for agreed in own if agreed is not None) / twice
    ac1 = (observed - expected) / (1 - expected)
    # Each subject's influence on the coefficient: on the agreement, and on the chance agreement by its shares.
    influence = []
    for row, agreed in zip(rows, own, strict=True):
        part = n / twice * (agreed - expected) / (1 - expected) if agreed is not None else 0.0
        chance = sum(row[k] / sum(row) * (1 - shares[k]) for k in range(q)) / (q - 1)
        influence.append(part - 2 * (1 - ac1) * (chance - expected) / (1 - expected))
    error = math.sqrt(sum((one - ac1) ** 2 for one in influence) / (n * (n - 1)))
    reach = float(ndtri((1 + level) / 2)) * error
    low, high = max(-1.0, ac1 - reach), min(1.0, ac1 + reach)
    if error < 1e-9:
        low, high = limits_without_error(observed, expected, twice, level)
    return GwetAC1(
        coefficient=ac1,
        error=error,
        low=low,
        high=high,
        observed=observed,
        expected=expected,
        labels=labels,
        subjects=n,
        level=level,
        method="Gwet's AC1",
    )


def _pair_agreement(row: tuple[int, ...]) -> float | None:
    """Return the share of agreeing pairs, None where there is no pair."""
    raters = sum(row)
    return sum(n * (n - 1) for n in row) / (raters * (raters - 1)) if raters >= 2 else None
