"""Stations against exposure: which lie outside the funnel round the target, instead of who stands first and last.

Begin with ``indicator_of``; then name a funnel: exact, or widened for overdispersion in one of two ways.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, cast, get_args

from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_as_many,
    demand_choice,
    demand_kind,
    demand_level,
    demand_number,
    demand_positive,
    demand_sizes,
)
from qc.stats.series import Rates, Shares
from qc.stats.stated_chances import stated_chance
from qc.stats.stations.funnel_limits import exact_rate_limits, exact_share_limits, limit_around, rate_tails, share_tails

ON_THE_LIMIT = 1 + 1e-9
FEWEST = 3  # groups from which dispersion can be told
ROUNDING = 1e-9  # 0.1 of 10 groups is one, though 0.1 is not a tenth in a computer's numbers
Winsorising = Literal["interpolated", "order statistic"]
Verdict = Literal["usual range", "high", "very high", "low", "very low", "no exposure"]


@dataclass(frozen=True, slots=True)
class Indicator:
    """Shares or rates of several groups, against one target. kind: what is counted.

    uncertain: by how much the variance of each value is more than its own chance gives, as what it is counted on is
    estimated; () where that is known. Made by indicator_of or against_own_past.
    """

    kind: Literal["share", "rate"]
    series: Shares | Rates
    target: float
    uncertain: tuple[float, ...] = ()

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the names of the groups."""
        return self.series.labels

    @property
    def events(self) -> tuple[int, ...]:
        """Return what was counted of each group: defective units or defects."""
        return self.series.events

    @property
    def sizes(self) -> tuple[float, ...]:
        """Return what it was counted on: units inspected, or units."""
        return self.series.sizes


@dataclass(frozen=True, slots=True)
class Dispersion:
    """How much the groups scatter beyond chance.

    phi: mean squared z after winsorising; used: phi, or 1 where it is less (limits are never narrowed).
    tau_squared: the additive variance between groups; 0 where chance explains the scatter. groups: how many.
    winsorising: how the share winsorised was pulled in: "interpolated" quantiles, or the "order statistic".
    """

    phi: float
    used: float
    tau_squared: float
    winsorised: float
    groups: int
    winsorising: Winsorising


@dataclass(frozen=True, slots=True, kw_only=True)
class FunnelPoint:
    """One group. limits: outer low, inner low, inner high, outer high, from 0 to what the value can be (1 for a share,
    without end for a rate); a low limit of 0 is no limit.

    tail: the chance at the target of a value at least as far out on its side. verdict: "high" beyond the inner,
    "very high" beyond the outer limit; likewise low.
    """

    label: str
    events: int
    size: float
    value: float
    z: float
    tail: float
    limits: tuple[float, float, float, float]
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Funnel:
    """Groups against the limits of their exposure. inner, outer: two-sided levels. dispersion: None if not used."""

    points: tuple[FunnelPoint, ...]
    target: float
    inner: float
    outer: float
    dispersion: Dispersion | None
    kind: Literal["share", "rate"]
    method: str


def indicator_of(series: Shares | Rates, target: float) -> Indicator:
    """Return groups held against a target: a share in (0, 1), or a rate above 0. Raises ValueError."""
    demand_kind(series, (Shares, Rates), "series")
    if isinstance(series, Shares):
        return Indicator("share", series, demand_level(target, "target"))
    return Indicator("rate", series, demand_positive(target, "target"))


def against_own_past(rates: Rates, errors: Sequence[float]) -> Indicator:
    """Return defects over what each group's own past expects (the units of the rates), against a target of 1.

    errors: the standard error of each group's expected defects, at least 0; nothing expected is no exposure.
    The past's error widens the normal limits, (1 + errors² / expected) times the variance of chance; the exact funnel
    takes what is expected as known. Source: variance of observed less predicted counts, Hahn & Meeker (1991),
    Statistical Intervals, ch. 7 (from memory).
    """
    demand_kind(rates, Rates, "rates")
    errors = demand_sizes(errors, "errors")
    demand_as_many("errors", errors, "rates", rates.labels)
    uncertain = tuple(1 + error**2 / mean if mean else 1.0 for mean, error in zip(rates.units, errors, strict=True))
    return Indicator("rate", rates, 1.0, uncertain)


def exact_funnel(indicator: Indicator, inner: float, outer: float) -> Funnel | TooLittle:
    """Return the funnel with exact interpolated binomial or Poisson limits; for groups no wider than chance.

    inner and outer: two-sided levels, say 0.95 and 0.998. The interpolated limits are for drawing; the verdict
    goes by the exact tail, which must be no more than the level allows. At small means the interpolated upper
    limit alone would flag up to twice as often as it says. No group with exposure is TooLittle.
    Source: Spiegelhalter (2005), Statistics in Medicine 24, 1185-1202; exact limits by direct summation.
    """
    demand_kind(indicator, Indicator, "indicator")
    chances = _chances(inner, outer)
    if not any(size > 0 for size in indicator.sizes):
        return _no_exposure()
    points = tuple(_exact_point(indicator, i, chances) for i in range(len(indicator.labels)))
    method = "exact limits, interpolated; verdicts by exact tails"
    return Funnel(points, indicator.target, float(inner), float(outer), None, indicator.kind, method)


def multiplicative_funnel(
    indicator: Indicator, inner: float, outer: float, winsorised: float, winsorising: Winsorising = "interpolated"
) -> Funnel | TooLittle:
    """Return the funnel with normal limits widened by the root of the winsorised phi, never narrowed.

    winsorised: the share of z pulled in at each end, 0 to below 0.5 (0.1 is usual), winsorising: how, see
    funnel_dispersion. Fewer than three groups with
    exposure is TooLittle. Source: Spiegelhalter (2005), as above, sec. on overdispersion.
    """
    dispersion = funnel_dispersion(indicator, winsorised, winsorising)
    if isinstance(dispersion, TooLittle):
        return dispersion
    widen = math.sqrt(dispersion.used)
    errors = [widen * error for error in _errors(indicator)]
    return _normal_funnel(indicator, inner, outer, errors, dispersion, "normal limits times root phi")


def additive_funnel(
    indicator: Indicator, inner: float, outer: float, winsorised: float, winsorising: Winsorising = "interpolated"
) -> Funnel | TooLittle:
    """Return the funnel with normal limits and a variance tau squared between groups added.

    Arguments as multiplicative_funnel. Where phi is no more than expected, tau squared is 0.
    Source: Spiegelhalter (2005), Quality and Safety in Health Care 14, 347-351; DerSimonian & Laird's moment.
    """
    dispersion = funnel_dispersion(indicator, winsorised, winsorising)
    if isinstance(dispersion, TooLittle):
        return dispersion
    between = math.sqrt(dispersion.tau_squared)
    errors = [math.hypot(error, between) for error in _errors(indicator)]
    return _normal_funnel(indicator, inner, outer, errors, dispersion, "normal limits plus tau squared")


def funnel_dispersion(
    indicator: Indicator, winsorised: float, winsorising: Winsorising = "interpolated"
) -> Dispersion | TooLittle:
    """Return phi and tau squared of the groups with exposure, from z scores winsorised at both ends.

    winsorising: "interpolated" sets z below the winsorised quantile (linear interpolation) to it, and likewise above,
    so that few groups are pulled in too; "order statistic" is the published definition: of I groups the lowest and
    the highest q I, rounded down, are set to the next one. tau squared =
    (I phi - (I - 1)) / (sum w - sum w^2 / sum w), w = 1 / s^2, never below 0.
    Source: Spiegelhalter (2005), Statistics in Medicine 24, appendix A.3.
    """
    import numpy as np

    demand_kind(indicator, Indicator, "indicator")
    winsorised = demand_number(winsorised, "winsorised")
    if not 0 <= winsorised < 0.5:
        raise ValueError(f"winsorised must be at least 0 and below 0.5, got {winsorised!r}")
    kept = [i for i, size in enumerate(indicator.sizes) if size > 0]
    if len(kept) < FEWEST:
        return TooLittle("dispersion of a funnel", "fewer than three groups have exposure", len(kept), FEWEST)
    z = np.array([_z(indicator, i) for i in kept])
    winsorising = cast(Winsorising, demand_choice(winsorising, get_args(Winsorising), "winsorising"))
    pulled = int(winsorised * len(z) + ROUNDING)
    order = np.sort(z)
    by_place = order[pulled], order[len(z) - 1 - pulled]
    z = np.clip(z, *(by_place if winsorising == "order statistic" else np.quantile(z, [winsorised, 1 - winsorised])))
    phi, groups = float((z**2).mean()), len(kept)
    w = np.array([_error(indicator, i) ** -2 for i in kept])
    spread = float(w.sum() - (w**2).sum() / w.sum())
    tau_squared = max(0.0, (groups * phi - (groups - 1)) / spread)
    return Dispersion(phi, max(1.0, phi), tau_squared, winsorised, groups, winsorising)


def _error(indicator: Indicator, i: int) -> float:
    """Return the standard error of a group's value at the target; without exposure there is no end to it."""
    target, size = indicator.target, indicator.sizes[i]
    variance = target * (1 - target) if indicator.kind == "share" else target
    more = indicator.uncertain[i] if indicator.uncertain else 1.0
    return math.sqrt(variance * more / size) if size > 0 else math.inf


def _errors(indicator: Indicator) -> list[float]:
    return [_error(indicator, i) for i in range(len(indicator.sizes))]


def _z(indicator: Indicator, i: int) -> float:
    return (indicator.events[i] / indicator.sizes[i] - indicator.target) / _error(indicator, i)


def _chances(inner: float, outer: float) -> tuple[float, float, float, float]:
    inner, outer = demand_level(inner, "inner"), demand_level(outer, "outer")
    if outer <= inner:
        raise ValueError(f"outer must be more than inner ({inner}), got {outer!r}")
    return (1 - outer) / 2, (1 - inner) / 2, (1 + inner) / 2, (1 + outer) / 2


def _no_exposure() -> TooLittle:
    return TooLittle("funnel", "no group has any exposure", 0, 1)


def _exact_point(indicator: Indicator, i: int, chances: tuple[float, float, float, float]) -> FunnelPoint:
    events, size, target = indicator.events[i], indicator.sizes[i], indicator.target
    if size == 0:
        return _bare_point(indicator, i)
    if indicator.kind == "share":
        limits, tails = exact_share_limits(target, int(size), chances), share_tails(target, events, int(size))
    else:
        limits, tails = exact_rate_limits(target, size, chances), rate_tails(target, events, size)
    limits = tuple(limit_around(target, x, p, _most(indicator)) for x, p in zip(limits, chances, strict=True))
    return _point(indicator, i, limits, *tails, chances)


def _normal_funnel(
    indicator: Indicator, inner: float, outer: float, errors: Sequence[float], dispersion: Dispersion, method: str
) -> Funnel:
    chances = _chances(inner, outer)
    points = tuple(_normal_point(indicator, i, errors[i], chances) for i in range(len(indicator.labels)))
    return Funnel(points, indicator.target, float(inner), float(outer), dispersion, indicator.kind, method)


def _normal_point(
    indicator: Indicator, i: int, error: float, chances: tuple[float, float, float, float]
) -> FunnelPoint:
    from scipy.special import ndtr, ndtri

    if math.isinf(error):
        return _bare_point(indicator, i)
    around, most = indicator.target, _most(indicator)
    limits = tuple(limit_around(around, around + float(ndtri(p)) * error, p, most) for p in chances)
    away = (indicator.events[i] / indicator.sizes[i] - indicator.target) / error
    # A value on the limit is not beyond it: the tails are taken a hair larger.
    at_most, at_least = float(ndtr(away)) * ON_THE_LIMIT, float(ndtr(-away)) * ON_THE_LIMIT
    return _point(indicator, i, limits, min(1.0, at_most), min(1.0, at_least), chances)


def _bare_point(indicator: Indicator, i: int) -> FunnelPoint:
    everywhere = (0.0, 0.0, _most(indicator), _most(indicator))
    return FunnelPoint(
        label=indicator.labels[i],
        events=0,
        size=0.0,
        value=indicator.target,
        z=0.0,
        tail=1.0,
        limits=everywhere,
        verdict="no exposure",
    )


def _most(indicator: Indicator) -> float:
    """Return what the value of a group can be at most."""
    return 1.0 if indicator.kind == "share" else math.inf


def _point(
    indicator: Indicator, i: int, limits: tuple[float, ...], at_most: float, at_least: float,
    chances: tuple[float, float, float, float],
) -> FunnelPoint:  # fmt: skip
    events, size = indicator.events[i], indicator.sizes[i]
    outer_low, inner_low, inner_high, outer_high = limits
    verdict: Verdict = "usual range"
    if at_least <= chances[1]:
        verdict = "very high" if at_least <= chances[0] else "high"
    elif at_most <= chances[1] and inner_low > 0:
        # Without a positive lower limit nought defects is nothing to praise.
        verdict = "very low" if at_most <= chances[0] and outer_low > 0 else "low"
    band = (outer_low, inner_low, inner_high, outer_high)
    value, tail = events / size, stated_chance(min(at_most, at_least))
    return FunnelPoint(
        label=indicator.labels[i],
        events=events,
        size=float(size),
        value=value,
        z=_z(indicator, i),
        tail=tail,
        limits=band,
        verdict=verdict,
    )
