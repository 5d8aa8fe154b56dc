"""Cusum charts: departures from a target summed up, to see small lasting shifts and when they began.

A signal is strictly above the decision interval. A gap leaves the sums where they were; a period still
running is shown and enters nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, log
from numbers import Real
from typing import Literal, get_args

from qc.stats.charts.chart_points import ROUNDING, State
from qc.stats.refusals import (
    demand_choice,
    demand_flag,
    demand_kind,
    demand_labels,
    demand_list,
    demand_number,
    demand_positive,
    demand_ratio,
    demand_shifted_share,
)
from qc.stats.series import Rates

Restart = Literal["never", "after signal"]


@dataclass(frozen=True, slots=True)
class CusumPoint:
    """One period: its value (None in a gap) and the sums of departures up and down to it.

    high, low: at least 0; low is None on a chart that watches one direction only, whose sum is high.
    since_high, since_low: the period after which the sum last stood at 0, so the likely begin of a shift;
    "" where the sum is 0.
    """

    label: str
    value: float | None
    high: float
    low: float | None
    since_high: str
    since_low: str
    state: State


@dataclass(frozen=True, slots=True)
class CusumChart:
    """A cusum with what it was made from.

    allowance: the reference value k that was used, what is taken off each departure (a period of 1 unit for
    rates), stated or worked out from the shift; decision: a sum strictly above it signals. watches: "up", "down" or
    "both" directions of the value.
    """

    points: tuple[CusumPoint, ...]
    target: float
    allowance: float
    decision: float
    watches: Literal["up", "down", "both"]
    restart: Restart
    method: str

    @property
    def signals(self) -> tuple[str, ...]:
        """Return the labels of the periods at which a sum is strictly above the decision interval."""
        return tuple(point.label for point in self.points if point.state in ("signal_high", "signal_low"))


@dataclass(slots=True)
class _Sum:
    """One running sum, and the first period since it last stood at 0."""

    height: float = 0.0
    since: str = ""

    def add(self, step: float, label: str) -> None:
        self.height = max(0.0, self.height + step)
        if self.height <= ROUNDING:
            self.height, self.since = 0.0, ""
        elif not self.since:
            self.since = label

    def clear(self) -> None:
        self.height, self.since = 0.0, ""


def _cusum_points(
    labels: Sequence[str],
    values: Sequence[float | None],
    steps: Sequence[tuple[float, float | None]],
    decision: float,
    restart: Restart,
    partial_last: bool,
    high_means: State,
) -> tuple[CusumPoint, ...]:
    """Run one sum, or two where the second step of a period is not None."""
    demand_choice(restart, get_args(Restart), "restart")
    partial_last = demand_flag(partial_last, "partial_last")
    high, low, points = _Sum(), _Sum(), []
    has_low = any(step[1] is not None for step in steps)
    for place, (label, value, (up, down)) in enumerate(zip(labels, values, steps, strict=True)):
        state: State = "in"
        if value is None:
            state = "gap"
        elif partial_last and place == len(labels) - 1:
            state = "partial"
        else:
            high.add(up, label)
            low.add(down or 0.0, label)
            state = _cusum_state(high.height, low.height, decision, high_means)
        below = low.height if has_low else None
        points.append(CusumPoint(label, value, high.height, below, high.since, low.since, state))
        if restart == "after signal" and state in ("signal_high", "signal_low"):
            high.clear()
            low.clear()
    return tuple(points)


def _cusum_state(high: float, low: float, decision: float, high_means: State) -> State:
    slack = ROUNDING * max(1.0, decision)
    if high > decision + slack:
        return high_means
    return "signal_low" if low > decision + slack else "in"


def normal_cusum(
    values: Sequence[float | None],
    labels: Sequence[str],
    target: float,
    allowance: float,
    decision: float,
    restart: Restart,
    *,
    partial_last: bool = False,
) -> CusumChart:
    """Return the two-sided tabular cusum: each value less target, less (or plus) the allowance, summed from 0.

    values, target, allowance (at least 0) and decision (above 0) in one unit, standard deviations for
    standardised values; None is a gap. restart says whether both sums go back to 0 after a signal.
    Raises ValueError. Source: NIST/SEMATECH e-Handbook 6.3.2.3; ISO 7870-4.
    """
    labels = demand_labels(labels, "values", values)
    target, decision = demand_number(target, "target"), demand_positive(decision, "decision")
    allowance = demand_number(allowance, "allowance")
    if allowance < 0:
        raise ValueError(f"allowance must be at least 0, got {allowance!r}")
    seen = _values(values, labels)
    away = [0.0 if value is None else value - target for value in seen]
    steps = [(one - allowance, -one - allowance) for one in away]
    points = _cusum_points(labels, seen, steps, decision, restart, partial_last, "signal_high")
    return CusumChart(points, target, allowance, decision, "both", restart, "tabular cusum of values")


def _values(values: Sequence[float | None], labels: Sequence[str]) -> list[float | None]:
    """Return the values as floats, None for a gap; refuse what is neither, by the label of its period."""
    seen: list[float | None] = []
    for label, value in zip(labels, demand_list(values, "values"), strict=True):
        is_number = isinstance(value, Real) and not isinstance(value, bool) and isfinite(value)
        if value is not None and not is_number:
            raise ValueError(f"values must be finite numbers or None for a gap, got {value!r} for {label!r}")
        seen.append(None if value is None else float(value))
    return seen


def poisson_allowance(rate: float, ratio: float) -> float:
    """Return the reference value that a Poisson cusum takes off, per unit, to watch for the rate times ratio.

    Source: Lucas (1985), Technometrics 27, 129-144: (shifted - rate) / (ln shifted - ln rate), shifted = rate ratio.
    """
    rate = demand_positive(rate, "rate")
    shifted = rate * demand_ratio(ratio)
    if shifted == rate:
        raise ValueError(f"ratio must change the rate ({rate!r}), got {ratio!r}")
    return (shifted - rate) / (log(shifted) - log(rate))


def poisson_cusum(
    rates: Rates,
    rate: float,
    ratio: float,
    decision: float,
    restart: Restart,
    *,
    allowance: float | None = None,
    partial_last: bool = False,
) -> CusumChart:
    """Return the one-sided cusum of defects for a shift of the rate to ratio times itself, up or down.

    Each period adds defects - units * allowance (the other way round for a shift down), so that periods
    of different size count for what they are. rate in defects per unit; decision in defects; units 0 are a gap.
    allowance: the reference value per unit, strictly between the two rates, say that of a design
    (poisson_cusum_design gives it per period: divide by the period's units); None for poisson_allowance.
    Raises ValueError. Source: Lucas (1985), Technometrics 27, 129-144; with units that differ, the log-likelihood ratio
    divided by ln(ratio).
    """
    demand_kind(rates, Rates, "rates")
    made = poisson_allowance(rate, ratio)
    decision, rate, shifted = demand_positive(decision, "decision"), float(rate), rate * float(ratio)
    allowance = between("allowance", allowance, made, rate, shifted)
    sign = 1.0 if shifted > rate else -1.0
    steps: list[tuple[float, float | None]] = [
        (sign * (count - size * allowance), None) for count, size in zip(rates.defects, rates.units, strict=True)
    ]
    values = [count / size if size > 0 else None for count, size in zip(rates.defects, rates.units, strict=True)]
    watches: Literal["up", "down"] = "up" if sign > 0 else "down"
    means: State = "signal_high" if sign > 0 else "signal_low"
    points = _cusum_points(rates.labels, values, steps, decision, restart, partial_last, means)
    method = f"Poisson cusum for a shift from {rate:g} to {shifted:g} defects per unit"
    return CusumChart(points, rate, allowance, decision, watches, restart, method)


def between(name: str, stated: float | None, made: float, one: float, other: float) -> float:
    """Return a stated reference value as a float, or the one made where none is stated.

    Raises ValueError unless it lies strictly between what is usual and what is watched for: the sum would climb by
    itself, or would never see the shift.
    """
    value = made if stated is None else demand_number(stated, name)
    if not min(one, other) < value < max(one, other):
        raise ValueError(f"{name} must lie between {min(one, other):g} and {max(one, other):g}, got {stated!r}")
    return value


@dataclass(frozen=True, slots=True)
class BernoulliConstants:
    """What a cusum of single units adds, p0 being the share and p1 the shifted one.

    r1 = -ln[(1 - p1)/(1 - p0)], r2 = ln[p1 (1 - p0)/(p0 (1 - p1))].
    allowance: r1/r2, taken off each unit on the scale where a defective unit adds 1.
    defective_adds, clean_adds: what a unit adds on the scale of the log-likelihood ratio.
    """

    r1: float
    r2: float
    allowance: float
    defective_adds: float
    clean_adds: float


def bernoulli_constants(share: float, ratio: float) -> BernoulliConstants:
    """Return the constants for a shift of the share of defective units to ratio times itself, both in (0, 1).

    Source: Reynolds & Stoumbos (1999), Journal of Quality Technology 31, 87-108.
    """
    share, shifted = demand_shifted_share(share, ratio)
    r1 = -log((1 - shifted) / (1 - share))
    r2 = log(shifted * (1 - share) / (share * (1 - shifted)))
    return BernoulliConstants(r1, r2, r1 / r2, log(shifted / share), -r1)


def bernoulli_cusum(
    defective: Sequence[bool],
    labels: Sequence[str],
    share: float,
    ratio: float,
    decision: float,
    restart: Restart,
    *,
    allowance: float | None = None,
) -> CusumChart:
    """Return the one-sided cusum of single units, in the order in which they were presented.

    defective tells of each unit whether it had the defect; each unit adds 1 or 0, less the allowance (the
    other way round for a shift down); decision on that scale. allowance: strictly between the two shares, say the
    fraction whose run length was worked out; None for that of bernoulli_constants. Waits for no week to end.
    Raises ValueError. Source: Reynolds & Stoumbos (1999), Journal of Quality Technology 31, 87-108.
    """
    labels = demand_labels(labels, "defective", defective)
    made = bernoulli_constants(share, ratio).allowance
    decision, share, shifted = demand_positive(decision, "decision"), float(share), share * float(ratio)
    allowance = between("allowance", allowance, made, share, shifted)
    seen = demand_list(defective, "defective")
    for label, is_defective in zip(labels, seen, strict=True):
        if is_defective not in (0, 1):
            raise ValueError(f"defective must be true or false, got {is_defective!r} for {label!r}")
    sign = 1.0 if shifted > share else -1.0
    steps: list[tuple[float, float | None]] = [(sign * (float(one) - allowance), None) for one in seen]
    watches: Literal["up", "down"] = "up" if sign > 0 else "down"
    means: State = "signal_high" if sign > 0 else "signal_low"
    points = _cusum_points(labels, [float(one) for one in seen], steps, decision, restart, False, means)
    method = f"Bernoulli cusum for a shift from {share:g} to {shifted:g} defective"
    return CusumChart(points, share, allowance, decision, watches, restart, method)
