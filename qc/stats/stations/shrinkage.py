"""Rates and shares drawn towards the common one as far as their few units deserve (empirical Bayes).

A station with 12 units and 2 defects says little: its shrunken rate says so. The prior is fitted on the same
stations and then taken as known, so intervals are a little too short where stations are few.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_kind,
    demand_labels,
    demand_level,
    demand_numbers,
    demand_positive,
)
from qc.stats.series import Rates, Shares

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FEWEST = 3  # groups from which a spread between groups can be told at all
SURE = 1e-4  # gain in log likelihood below which a spread between groups is none that could be seen


@dataclass(frozen=True, slots=True)
class GammaPrior:
    """Rates between groups are gamma distributed with this shape and rate: mean shape / rate."""

    shape: float
    rate: float


@dataclass(frozen=True, slots=True)
class BetaPrior:
    """Shares between groups are beta distributed: a and b are defective and clean units' worth, mean a / (a + b)."""

    a: float
    b: float


@dataclass(frozen=True, slots=True)
class AllAlike:
    """The groups scatter no more than chance would: the common rate or share is the best there is for each."""

    common: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrunken:
    """Shrunken rates or shares in label order, with equal-tailed intervals, beside the plain ones.

    weights: how much of each is its own data, 0 to 1; the rest is the prior. plain is the common value where a
    group has no unit.
    """

    values: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    plain: tuple[float, ...]
    weights: tuple[float, ...]
    labels: tuple[str, ...]
    events: tuple[int, ...]
    sizes: tuple[float, ...]
    prior: GammaPrior | BetaPrior
    level: float
    method: str


@dataclass(frozen=True, slots=True)
class JamesStein:
    """Estimates drawn towards their mean by one common factor: 1 leaves them as they are, 0 makes all alike."""

    values: tuple[float, ...]
    mean: float
    factor: float
    labels: tuple[str, ...]
    observed: tuple[float, ...]
    variance: float
    method: str


def gamma_poisson_rates(rates: Rates, prior: GammaPrior, level: float) -> Shrunken:
    """Return each group's posterior mean rate (x + shape) / (t + rate) and interval, under a given prior.

    units may be 0 where the defects are: the group then is its prior. Source: gamma-Poisson conjugacy, Gaver &
    O'Muircheartaigh (1987), Technometrics 29, 1-15.
    """
    from scipy.special import gammaincinv

    demand_kind(rates, Rates, "rates")
    demand_kind(prior, GammaPrior, "prior")
    shape, rate = demand_positive(prior.shape, "prior.shape"), demand_positive(prior.rate, "prior.rate")
    level = demand_level(level)
    tail = (1 - level) / 2

    def quantiles(p: float) -> tuple[float, ...]:
        return tuple(
            float(gammaincinv(x + shape, p)) / (t + rate) for x, t in zip(rates.defects, rates.units, strict=True)
        )

    values = tuple((x + shape) / (t + rate) for x, t in zip(rates.defects, rates.units, strict=True))
    plain = tuple(x / t if t else shape / rate for x, t in zip(rates.defects, rates.units, strict=True))
    weights = tuple(t / (t + rate) for t in rates.units)
    low, high = quantiles(tail), quantiles(1 - tail)
    return Shrunken(
        values=values,
        low=low,
        high=high,
        plain=plain,
        weights=weights,
        labels=rates.labels,
        events=rates.defects,
        sizes=rates.units,
        prior=prior,
        level=level,
        method="gamma-Poisson",
    )


def beta_binomial_shares(shares: Shares, prior: BetaPrior, level: float) -> Shrunken:
    """Return each group's posterior mean share (x + a) / (n + a + b) and interval, under a given prior.

    Edges as gamma_poisson_rates. Source: beta-binomial conjugacy, Gelman et al., Bayesian Data Analysis, sec. 2.4.
    """
    from scipy.special import betaincinv

    demand_kind(shares, Shares, "shares")
    demand_kind(prior, BetaPrior, "prior")
    a, b = demand_positive(prior.a, "prior.a"), demand_positive(prior.b, "prior.b")
    level = demand_level(level)
    tail = (1 - level) / 2

    def quantiles(p: float) -> tuple[float, ...]:
        pairs = zip(shares.defectives, shares.inspected, strict=True)
        return tuple(float(betaincinv(x + a, n - x + b, p)) for x, n in pairs)

    values = tuple((x + a) / (n + a + b) for x, n in zip(shares.defectives, shares.inspected, strict=True))
    plain = tuple(x / n if n else a / (a + b) for x, n in zip(shares.defectives, shares.inspected, strict=True))
    weights, units = tuple(n / (n + a + b) for n in shares.inspected), tuple(map(float, shares.inspected))
    low, high = quantiles(tail), quantiles(1 - tail)
    return Shrunken(
        values=values,
        low=low,
        high=high,
        plain=plain,
        weights=weights,
        labels=shares.labels,
        events=shares.defectives,
        sizes=units,
        prior=prior,
        level=level,
        method="beta-binomial",
    )


def fitted_gamma_prior(rates: Rates) -> GammaPrior | AllAlike | TooLittle:
    """Return the gamma prior under which the defects are most likely (negative binomial marginal).

    Groups without units teach nothing. Fewer than three with units, or no defect, is TooLittle; a spread no
    larger than Poisson's is AllAlike. Source: Gaver & O'Muircheartaigh (1987), Technometrics 29, 1-15.
    """
    import numpy as np
    from scipy.special import gammaln

    demand_kind(rates, Rates, "rates")
    x = np.array([c for c, t in zip(rates.defects, rates.units, strict=True) if t > 0])
    t = np.array([t for t in rates.units if t > 0], dtype=float)
    few = _too_few(len(x), int(x.sum()), int(x.sum()))
    if few:
        return few

    def log_likelihood(mean: float, shape: float) -> float:
        rate = shape / mean
        inside = gammaln(x + shape) - gammaln(shape) - shape * np.log1p(t / rate) - x * np.log(t + rate)
        return float(inside.sum() + (x * np.log(t)).sum() - gammaln(x + 1).sum())

    common = float(x.sum() / t.sum())
    poisson = float((x * np.log(common * t) - common * t - gammaln(x + 1)).sum())
    best, mean, shape = _fitted(log_likelihood, math.log(common), math.exp)
    if best - poisson < SURE:
        return AllAlike(common, "the rates scatter no more than Poisson counts would")
    return GammaPrior(shape, shape / mean)


def fitted_beta_prior(shares: Shares) -> BetaPrior | AllAlike | TooLittle:
    """Return the beta prior under which the defectives are most likely (beta-binomial marginal).

    Edges as fitted_gamma_prior, also where every unit is defective. Source: Skellam (1948), J. Royal Statistical
    Society B 10, 257-261.
    """
    import numpy as np
    from scipy.special import betaln, xlog1py, xlogy

    demand_kind(shares, Shares, "shares")
    x = np.array([d for d, n in zip(shares.defectives, shares.inspected, strict=True) if n > 0])
    n = np.array([n for n in shares.inspected if n > 0])
    few = _too_few(len(x), int(x.sum()), int((n - x).sum()))
    if few:
        return few

    def log_likelihood(mean: float, size: float) -> float:
        a, b = mean * size, (1 - mean) * size
        return float((betaln(x + a, n - x + b) - betaln(a, b)).sum())

    common = float(x.sum() / n.sum())
    binomial = float((xlogy(x, common) + xlog1py(n - x, -common)).sum())
    best, mean, size = _fitted(
        log_likelihood, math.log(common / (1 - common)), lambda value: 1 / (1 + math.exp(-value))
    )
    if best - binomial < SURE:
        return AllAlike(common, "the shares scatter no more than binomial counts would")
    return BetaPrior(mean * size, (1 - mean) * size)


def moment_beta_prior(shares: Shares) -> BetaPrior | AllAlike | TooLittle:
    """Return the beta prior by the method of moments, groups weighted by their units: quick, and near the likelihood.

    The scatter S = sum n (x/n - p)^2 is set to what a beta prior of mean p and size 1/g - 1 expects, p q [(k - 1)
    (1 - g) + g (N - sum n^2 / N)]. Edges as fitted_beta_prior; groups of one unit only say nothing of scatter, and
    scatter beyond what any beta law has is TooLittle.
    Source: Kleinman (1973), J. Amer. Stat. Assoc. 68, 46-54, with weights n (from memory).
    """
    demand_kind(shares, Shares, "shares")
    groups = [(x, n) for x, n in zip(shares.defectives, shares.inspected, strict=True) if n > 0]
    bad, total = sum(x for x, _ in groups), sum(n for _, n in groups)
    few = _too_few(len(groups), bad, total - bad)
    if few:
        return few
    common, others = bad / total, len(groups) - 1
    room = total - sum(n * n for _, n in groups) / total - others
    if room <= 0:
        return TooLittle("spread between groups", "no group has more than one unit", 1, 2)
    scatter = sum(n * (x / n - common) ** 2 for x, n in groups) / (common * (1 - common))
    alike = (scatter - others) / room
    if alike <= 0:
        return AllAlike(common, "the shares scatter no more than binomial counts would")
    if alike >= 1:
        return TooLittle("spread between groups", "the shares scatter more than any beta law does", 1, 2)
    size = 1 / alike - 1
    return BetaPrior(common * size, (1 - common) * size)


def james_stein(observed: Sequence[float], variance: float, labels: Sequence[str]) -> JamesStein | TooLittle:
    """Return the observed values drawn towards their mean, all having the same known variance.

    factor = 1 - (k-3) variance / sum of squares, never below 0 (positive part). Fewer than four values is
    TooLittle. Source: Efron & Morris (1977), Scientific American 236(5), 119-127.
    """
    values = demand_numbers(observed, "observed")
    labels, variance = demand_labels(labels, "observed", values), demand_positive(variance, "variance")
    if len(values) < 4:
        return TooLittle("James-Stein estimates", "fewer than four values", len(values), 4)
    mean = sum(values) / len(values)
    squares = sum((value - mean) ** 2 for value in values)
    factor = max(0.0, 1 - (len(values) - 3) * variance / squares) if squares > 0 else 0.0
    drawn = tuple(mean + factor * (value - mean) for value in values)
    return JamesStein(drawn, mean, factor, labels, values, variance, "James-Stein, positive part")


def _fitted(
    log_likelihood: Callable[[float, float], float], start: float, mean_of: Callable[[float], float]
) -> tuple[float, float, float]:
    """Return the highest log likelihood with its mean and size; the size is sought between 1e-3 and 1e6."""
    from scipy.optimize import minimize

    def cost(point: "NDArray[np.float64]") -> float:
        return -log_likelihood(mean_of(float(point[0])), math.exp(float(point[1])))

    bounds = ((start - 8, start + 8), (math.log(1e-3), math.log(1e6)))
    tries = (
        minimize(
            cost,
            (start, log_size),
            method="Nelder-Mead",
            bounds=bounds,
            options={"xatol": 1e-9, "fatol": 1e-10, "maxiter": 4000},
        )
        for log_size in (0.0, 3.0)
    )
    best = min(tries, key=lambda found: float(found.fun))
    return -float(best.fun), mean_of(float(best.x[0])), math.exp(float(best.x[1]))


def _too_few(groups: int, events: int, others: int) -> TooLittle | None:
    if groups < FEWEST:
        return TooLittle("spread between groups", "fewer than three groups have any unit", groups, FEWEST)
    if events == 0 or others == 0:
        return TooLittle("spread between groups", "all groups have none, or all have every unit", 0, 1)
    return None
