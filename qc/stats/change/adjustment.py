"""Rates freed from a change of model mix, beside the plain rate, with intervals: direct and indirect.

A stratum is usually a model. The standard mix is a named, frozen
baseline: a change of the standard is another question.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import poisson_interval
from qc.stats.refusals import (
    demand_as_many,
    demand_count,
    demand_kind,
    demand_level,
    demand_number,
    demand_sizes,
)
from qc.stats.series import Rates, demand_same_labels


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectRate:
    """The rate that the strata's own rates would give in the standard mix, beside the plain rate.

    rate, low, high and plain: defects per unit; plain_low, plain_high: interval of the plain rate, exact
    for Poisson counts, widened like the other where dispersion is above 1. weights: the standard's shares in label
    order, summing to 1. absent: strata of the standard's weight 0, left out of the adjusted rate.
    """

    rate: float
    low: float
    high: float
    plain: float
    plain_low: float
    plain_high: float
    labels: tuple[str, ...]
    defects: tuple[int, ...]
    units: tuple[float, ...]
    weights: tuple[float, ...]
    absent: tuple[str, ...]
    dispersion: float
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class IndirectRatio:
    """Counts seen over counts expected at the baseline's rates in this period's mix, 1 being "as the baseline".

    ratio, low, high: exact Poisson limits of observed over expected. The expected count is taken as known: the
    baseline's own scatter is not in the interval. rate: the ratio times the baseline's plain rate.
    """

    ratio: float
    low: float
    high: float
    observed: int
    expected: float
    rate: float
    labels: tuple[str, ...]
    units: tuple[float, ...]
    baseline_rates: tuple[float, ...]
    level: float
    method: str


def fay_feuer_rate(
    rates: Rates,
    standard: Sequence[float],
    level: float,
    dispersion: float = 1.0,
    degrees: float = math.inf,
) -> DirectRate | TooLittle:
    """Return the directly standardised rate with its gamma interval, beside the plain rate.

    rates by stratum; standard (the baseline's mix, any scale) beside them. A stratum that the standard weighs but that
    has no unit here has no rate: TooLittle names it.
    dispersion: variance over Poisson variance, at least 1; degrees: of freedom that it was measured on, infinite where
    it is known. Defects gather on units, so that the totals of a plant scatter more than Poisson and a plain interval
    holds the truth too seldom; the variance is widened, and the tails are those of t on so many degrees.
    Neither scipy nor statsmodels standardises rates; the gamma quantiles are scipy's.
    Source: Fay & Feuer (1997), Statistics in Medicine 16, 791-801; at 0 defects low is exactly 0. Widening:
    McCullagh & Nelder (1989), Generalized Linear Models, sec. 6.2.
    """
    from scipy.special import ndtr, stdtrit

    demand_kind(rates, Rates, "rates")
    level, defects, units, labels = demand_level(level), rates.defects, rates.units, rates.labels
    standard = demand_sizes(standard, "standard")
    demand_as_many("standard", standard, "rates", labels)
    if sum(standard) <= 0:
        raise ValueError(f"standard must weigh at least one stratum, got {standard!r}")
    bare = [name for name, e, w in zip(labels, units, standard, strict=True) if w > 0 and e <= 0]
    if bare:
        return TooLittle("mix-adjusted rate", say("no unit of {models} in this period", models=", ".join(bare)), 0, 1)
    weights = tuple(w / sum(standard) for w in standard)
    factors = [w / e if w > 0 else 0.0 for w, e in zip(weights, units, strict=True)]
    rate = sum(f * c for f, c in zip(factors, defects, strict=True))
    variance = sum(f * f * c for f, c in zip(factors, defects, strict=True))
    if (dispersion := demand_number(dispersion, "dispersion")) < 1:
        raise ValueError(f"dispersion must be at least 1 (limits are never narrowed), got {dispersion!r}")
    if degrees != math.inf and (degrees := demand_number(degrees, "degrees")) < 1:
        raise ValueError(f"degrees must be at least 1, got {degrees!r}")
    tail = float(ndtr(stdtrit(degrees, (1 - level) / 2))) if degrees != math.inf else (1 - level) / 2
    low, high = _gamma_limits(rate, variance, max(factors), dispersion, tail)
    every, plain = sum(units), sum(defects) / sum(units)  # a stratum that the standard weighs has units
    plain_low, plain_high = _gamma_limits(plain, plain / every, 1 / every, dispersion, tail)
    method = "direct standardisation, Fay-Feuer gamma interval"
    absent = tuple(name for name, w in zip(labels, weights, strict=True) if w == 0)
    return DirectRate(
        rate=rate,
        low=low,
        high=high,
        plain=plain,
        plain_low=plain_low,
        plain_high=plain_high,
        labels=labels,
        defects=defects,
        units=units,
        weights=weights,
        absent=absent,
        dispersion=float(dispersion),
        level=level,
        method=method if dispersion == 1 else f"{method}, widened for scatter",
    )


def indirect_ratio(
    rates: Rates,
    baseline: Rates,
    level: float,
) -> IndirectRatio | TooLittle:
    """Return observed over expected counts (indirect standardisation) with the exact Poisson interval.

    Strata as in fay_feuer_rate. A stratum made here but not in the baseline has no expected count, and a
    baseline without a defect expects none: TooLittle in both cases.
    Source: indirect standardisation and the exact interval of a standardised ratio, Breslow & Day (1987),
    Statistical Methods in Cancer Research II, ch. 2; limits from Garwood (1936), Biometrika 28, 437-442.
    """
    demand_kind(rates, Rates, "rates")
    demand_kind(baseline, Rates, "baseline")
    demand_same_labels(baseline, "baseline", rates, "rates")
    level, units = demand_level(level), rates.units
    pairs = zip(rates.labels, units, baseline.units, strict=True)
    unknown = [name for name, here, there in pairs if here > 0 and there <= 0]
    if unknown:
        return TooLittle("observed over expected", f"the baseline has no unit of {', '.join(unknown)}", 0, 1)
    if sum(units) <= 0:
        return TooLittle("observed over expected", "no unit in this period", 0, 1)
    usual = tuple(c / e if e > 0 else 0.0 for c, e in zip(baseline.defects, baseline.units, strict=True))
    expected = sum(r * e for r, e in zip(usual, units, strict=True))
    if expected <= 0:
        return TooLittle("observed over expected", "the baseline holds no defect of these models", 0, 1)
    observed = demand_count(sum(rates.defects), "rates, all defects together,")
    ratio = poisson_interval(observed, expected, level)
    assert not isinstance(ratio, TooLittle)  # expected is above 0
    baseline_rate = sum(baseline.defects) / sum(baseline.units)
    return IndirectRatio(
        ratio=ratio.rate,
        low=ratio.low,
        high=ratio.high,
        observed=observed,
        expected=expected,
        rate=ratio.rate * baseline_rate,
        labels=rates.labels,
        units=units,
        baseline_rates=usual,
        level=level,
        method="indirect standardisation, exact Poisson interval",
    )


def _gamma_limits(rate: float, variance: float, widest: float, dispersion: float, tail: float) -> tuple[float, float]:
    from scipy.special import gammaincinv

    variance *= dispersion
    low = variance / rate * float(gammaincinv(rate * rate / variance, tail)) if rate > 0 else 0.0
    mean, spread = rate + widest, variance + dispersion * widest * widest
    return low, spread / mean * float(gammaincinv(mean * mean / spread, 1 - tail))
