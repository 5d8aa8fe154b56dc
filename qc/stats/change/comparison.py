"""Whether rates or shares differ: two periods or many, chi-square on exposure, Fisher exact, pairs.

The chi-square answers "do they differ at all"; it may say yes while no pair differs by itself, so the pairs stand
beside it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_count,
    demand_kind,
    demand_labels,
    demand_level,
    demand_table,
)
from qc.stats.series import Rates, Shares
from qc.stats.stated_chances import stated_chance
from qc.stats.tail_sums import near_mean

SLACK = 1 + 1e-7  # two probabilities nearer than this are a tie, not an order
SMALL = 5.0  # expected counts below this make the chi-square's p-value doubtful (Cochran's rule)


@dataclass(frozen=True, slots=True, kw_only=True)
class Homogeneity:
    """A chi-square test of one common rate, share or profile.

    expected and residuals have the counts' shape (rows of a table, or one row of rates). residuals: adjusted, so
    that each is about a standard normal where nothing differs. small_expected: how many expected counts are
    below 5; where there are any the p-value is rough. dropped: labels without exposure or without any count.
    """

    chi_square: float
    degrees: int
    p_value: float
    labels: tuple[str, ...]
    counts: tuple[tuple[int, ...], ...]
    expected: tuple[tuple[float, ...], ...]
    residuals: tuple[tuple[float, ...], ...]
    small_expected: int
    dropped: tuple[str, ...]
    method: str


@dataclass(frozen=True, slots=True)
class FisherExact:
    """Fisher's exact two-sided test of two shares: p_value sums the tables not more likely than the seen one."""

    p_value: float
    table: tuple[tuple[int, int], tuple[int, int]]
    method: str


@dataclass(frozen=True, slots=True)
class SharePair:
    """Two shares side by side: differs where the absolute difference is more than the critical range."""

    first: str
    second: str
    difference: float
    critical_range: float
    differs: bool


@dataclass(frozen=True, slots=True)
class SharePairs:
    """Every pair of k shares, with one confidence level for all of them together."""

    pairs: tuple[SharePair, ...]
    labels: tuple[str, ...]
    defectives: tuple[int, ...]
    inspected: tuple[int, ...]
    level: float
    method: str


def rates_compared(rates: Rates) -> Homogeneity | TooLittle:
    """Return the chi-square test of one common Poisson rate over periods, stations or models.

    Given the total, the defects are multinomial with the shares of the units. Labels without units are dropped
    and named; fewer than two left, or no defect at all, is TooLittle. Source: Cox & Lewis (1966), The Statistical
    Analysis of Series of Events, sec. 9.3; chi-square on k-1 degrees.
    """
    demand_kind(rates, Rates, "rates")
    kept = [i for i, units in enumerate(rates.units) if units > 0]
    total, units = sum(rates.defects), sum(rates.units)
    if len(kept) < 2:
        return TooLittle("comparison of rates", "fewer than two have any exposure", len(kept), 2)
    if total == 0:
        return TooLittle("comparison of rates", "no defect in any of them", 0, 1)
    seen = tuple(rates.defects[i] for i in kept)
    expected = tuple(total * rates.units[i] / units for i in kept)
    errors = [math.sqrt(e * (1 - e / total)) for e in expected]
    residuals = tuple((c - e) / s for c, e, s in zip(seen, expected, errors, strict=True))
    return _tested((seen,), (expected,), (residuals,), len(kept) - 1, rates.labels, kept, "chi-square on exposure")


def rates_compared_by_simulation(rates: Rates, runs: int, seed: int) -> Homogeneity | TooLittle:
    """Return rates_compared with its p-value from simulated counts, for expected counts that are small.

    runs: simulated series, at least 99; the p-value is (1 + how many reach the seen chi-square) / (runs + 1), so
    never nought. The same seed gives the same answer. Source: Hope (1968), J. Royal Statistical Society B 30,
    582-598; with the total given the counts are multinomial.
    """
    import numpy as np

    runs, seed = demand_count(runs, "runs", 99), demand_count(seed, "seed")
    answer = rates_compared(rates)
    if isinstance(answer, TooLittle):
        return answer
    expected = np.array(answer.expected[0])
    total = sum(answer.counts[0])
    drawn = np.random.default_rng(seed).multinomial(total, expected / expected.sum(), size=runs)
    reached = ((drawn - expected) ** 2 / expected).sum(axis=1) * SLACK >= answer.chi_square
    method = f"chi-square on exposure, {runs} simulations, seed {seed}"
    return replace(answer, p_value=(1 + int(reached.sum())) / (runs + 1), method=method)


def profiles_compared(table: Sequence[Sequence[int]], labels: Sequence[str]) -> Homogeneity | TooLittle:
    """Return the chi-square test of homogeneity: do the rows have the same profile over the columns?

    table: rows (periods, stations) by columns (types, zones); labels: of the columns. No continuity correction.
    Rows or columns without any count are dropped (columns named). The counts' profile is compared, not their
    level: rates_compared asks about the level. Source: NIST/SEMATECH e-Handbook, sec. 7.4.5; adjusted residuals
    from Haberman (1973), Biometrics 29, 205-220.
    """
    rows = [row for row in demand_table(table, "table") if sum(row) > 0]
    labels = demand_labels(labels, "table[0]", table[0])
    kept = [j for j in range(len(labels)) if any(row[j] for row in rows)]
    if len(rows) < 2 or len(kept) < 2:
        have = min(len(rows), len(kept))
        return TooLittle("comparison of profiles", "fewer than two rows or columns hold any count", have, 2)
    seen = tuple(tuple(row[j] for j in kept) for row in rows)
    total = sum(map(sum, seen))
    down = [sum(column) for column in zip(*seen, strict=True)]
    expected = tuple(tuple(sum(row) * d / total for d in down) for row in seen)
    residuals = tuple(
        tuple(_residual(c, e, sum(row) / total, d / total) for c, e, d in zip(row, es, down, strict=True))
        for row, es in zip(seen, expected, strict=True)
    )
    degrees = (len(rows) - 1) * (len(kept) - 1)
    return _tested(seen, expected, residuals, degrees, labels, kept, "chi-square of homogeneity")


def fisher_exact(first_defective: int, first_clean: int, second_defective: int, second_clean: int) -> FisherExact:
    """Return Fisher's exact two-sided p-value for two shares; a margin of nought gives 1.

    It sums the probabilities not larger than the observed one within a relative slack of 1e-7, as R does; scipy's
    slack is 1e-14, which splits ties that rounding makes, so the sum stands here.
    Source: Fisher (1935), J. Royal Statistical Society 98, 39-54; the two-sided rule from R's fisher.test.
    """
    import numpy as np
    from scipy.special import gammaln

    names = ("first_defective", "first_clean", "second_defective", "second_clean")
    a, b, c, d = (demand_count(x, name) for x, name in zip(
        (first_defective, first_clean, second_defective, second_clean), names, strict=True))  # fmt: skip
    lowest, highest, whole = max(0, a - d), min(a + b, a + c), max(1, a + b + c + d)
    # The seen table stands first; where it is near the mean, it stands there too and must not count twice.
    near = near_mean(lowest, highest, (a + b) * (a + c) / whole, lowest, highest)
    k = np.concatenate([[a], near[near != a]])
    logs = -(gammaln(k + 1) + gammaln(a + b - k + 1) + gammaln(a + c - k + 1) + gammaln(d - a + k + 1))
    pmf = np.exp(logs - logs.max())
    p_value = stated_chance(pmf[pmf <= pmf[0] * SLACK].sum() / pmf.sum())
    return FisherExact(p_value, ((a, b), (c, d)), "Fisher exact, two-sided by smaller probabilities")


def share_pairs(shares: Shares, level: float) -> SharePairs | TooLittle:
    """Return every pair of shares against its Marascuilo critical range, all pairs at one joint level.

    Fewer than two inspected groups is TooLittle. For large counts; with small ones take fisher_exact with Holm.
    Source: Marascuilo (1966), Psychological Bulletin 65, 280-290; NIST/SEMATECH e-Handbook, sec. 7.4.7.4.
    """
    from scipy.special import chdtri

    demand_kind(shares, Shares, "shares")
    level, defectives, inspected = demand_level(level), shares.defectives, shares.inspected
    kept = [i for i, n in enumerate(inspected) if n > 0]
    if len(kept) < 2:
        return TooLittle("pairs of shares", "fewer than two were inspected", len(kept), 2)
    root = math.sqrt(float(chdtri(len(kept) - 1, 1 - level)))
    known = {i: defectives[i] / inspected[i] for i in kept}
    pairs = tuple(
        _share_pair(shares.labels[i], shares.labels[j], known[i], known[j], root * _share_error(known, inspected, i, j))
        for place, i in enumerate(kept)
        for j in kept[place + 1 :]
    )
    return SharePairs(pairs, shares.labels, defectives, inspected, level, "Marascuilo")


def _residual(count: int, expected: float, row_share: float, column_share: float) -> float:
    return (count - expected) / math.sqrt(expected * (1 - row_share) * (1 - column_share))


def _share_error(shares: dict[int, float], inspected: Sequence[int], i: int, j: int) -> float:
    return math.sqrt(sum(shares[k] * (1 - shares[k]) / inspected[k] for k in (i, j)))


def _share_pair(first: str, second: str, share: float, other: float, critical: float) -> SharePair:
    difference = share - other
    return SharePair(first, second, difference, critical, abs(difference) > critical * SLACK)


def _tested(
    seen: tuple[tuple[int, ...], ...],
    expected: tuple[tuple[float, ...], ...],
    residuals: tuple[tuple[float, ...], ...],
    degrees: int,
    labels: tuple[str, ...],
    kept: Sequence[int],
    method: str,
) -> Homogeneity:
    from scipy.special import chdtrc

    cells = [(c, e) for row, es in zip(seen, expected, strict=True) for c, e in zip(row, es, strict=True)]
    chi_square = sum((c - e) ** 2 / e for c, e in cells)
    small = sum(e < SMALL for _, e in cells)
    here = tuple(labels[i] for i in kept)
    dropped = tuple(label for i, label in enumerate(labels) if i not in set(kept))
    p_value = stated_chance(chdtrc(degrees, chi_square))
    return Homogeneity(
        chi_square=chi_square,
        degrees=degrees,
        p_value=p_value,
        labels=here,
        counts=seen,
        expected=expected,
        residuals=residuals,
        small_expected=small,
        dropped=dropped,
        method=method,
    )
