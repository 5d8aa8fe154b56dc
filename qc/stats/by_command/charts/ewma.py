"""EWMA charts: an average that forgets slowly, to see small lasting shifts.

A signal is strictly beyond the limit. A gap leaves the average where it was; a period still running is shown
and enters nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt
from typing import Literal

from qc.stats.charts.chart_points import ROUNDING, ControlChart, State
from qc.stats.refusals import (
    demand_as_many,
    demand_choice,
    demand_flag,
    demand_kind,
    demand_labels,
    demand_list,
    demand_number,
    demand_positive,
)

EwmaLimits = Literal["exact", "asymptotic"]


@dataclass(frozen=True, slots=True)
class EwmaPoint:
    """One period: its value (None in a gap), the weighted average up to it, and the limits for that.

    The limits lie within what the values can be; at an end of that no average is beyond them.
    """

    label: str
    value: float | None
    average: float
    lower: float
    upper: float
    state: State


@dataclass(frozen=True, slots=True)
class EwmaChart:
    """An exponentially weighted moving average with what it was made from; weight in (0, 1], width in sigmas."""

    points: tuple[EwmaPoint, ...]
    target: float
    weight: float
    width: float
    limits: EwmaLimits

    @property
    def signals(self) -> tuple[str, ...]:
        """Return the labels of the periods whose average is strictly beyond a limit."""
        return tuple(point.label for point in self.points if point.state in ("signal_high", "signal_low"))


def ewma_chart(
    values: Sequence[float | None],
    sigmas: Sequence[float | None],
    labels: Sequence[str],
    target: float,
    weight: float,
    width: float,
    limits: EwmaLimits,
    *,
    partial_last: bool = False,
    least: float = -inf,
    most: float = inf,
) -> EwmaChart:
    """Return the EWMA, started at target: average_i = weight value_i + (1 - weight) average_(i-1).

    values and their standard deviations sigmas stand beside labels, both None in a gap. limits: "exact" for
    the variance after so many periods, period by period; "asymptotic" for that of a long row, which takes
    equal sigmas. weight in (0, 1]; width in standard deviations of the average. least, most: what the values can be
    (0 and 1 for shares), within which the limits are kept. Raises ValueError.
    Source: Roberts (1959), Technometrics 1, 239-250; NIST/SEMATECH e-Handbook 6.3.2.4.
    """
    labels = demand_labels(labels, "values", values)
    demand_as_many("sigmas", sigmas, "values", values)
    target = demand_number(target, "target")
    width = demand_positive(width, "width")
    demand_choice(limits, ("exact", "asymptotic"), "limits")
    partial_last = demand_flag(partial_last, "partial_last")
    weight = demand_number(weight, "weight")
    if not 0 < weight <= 1:
        raise ValueError(f"weight must be above 0 and at most 1, got {weight!r}")
    least, most = _range(least, most, target)
    values = [
        None if one is None else demand_number(one, f"values[{i}]")
        for i, one in enumerate(demand_list(values, "values"))
    ]
    sigmas = [
        None if one is None else demand_positive(one, f"sigmas[{i}]")
        for i, one in enumerate(demand_list(sigmas, "sigmas"))
    ]
    _demand_within(values, least, most)
    known = {sigma for sigma in sigmas if sigma is not None}
    if limits == "asymptotic" and len(known) > 1:
        raise ValueError("sigmas must be equal for asymptotic limits; exact limits take periods that differ")
    average, variance, points = target, 0.0, []
    for place, (label, value, sigma) in enumerate(zip(labels, values, sigmas, strict=True)):
        is_partial = partial_last and place == len(labels) - 1
        if (value is None) != (sigma is None):
            raise ValueError(f"values and sigmas must both be None in a gap, got one of them for {label!r}")
        if value is not None and sigma is not None and not is_partial:
            average = weight * value + (1 - weight) * average
            variance = (weight * sigma) ** 2 + (1 - weight) ** 2 * variance
        scatter = sqrt(variance) if limits == "exact" else max(known, default=0.0) * sqrt(weight / (2 - weight))
        lower, upper = max(least, target - width * scatter), min(most, target + width * scatter)
        points.append(_ewma_point(label, value, average, lower, upper, is_partial))
    return EwmaChart(tuple(points), target, weight, width, limits)


def _range(least: float, most: float, target: float) -> tuple[float, float]:
    """Return what the values can be; refuse a range that is none or leaves the target out."""
    for name, end, none in (("least", least, -inf), ("most", most, inf)):
        if end != none:
            demand_number(end, name)
    if not least <= target <= most:
        raise ValueError(f"target must be from least ({least:g}) to most ({most:g}), got {target!r}")
    return float(least), float(most)


def _demand_within(values: Sequence[float | None], least: float, most: float) -> None:
    for i, value in enumerate(values):
        if value is not None and not least <= value <= most:
            raise ValueError(f"values[{i}] must be from least ({least:g}) to most ({most:g}), got {value!r}")


def _ewma_point(
    label: str, value: float | None, average: float, lower: float, upper: float, is_partial: bool
) -> EwmaPoint:
    slack = ROUNDING * (upper - lower)  # both finite: the scatter is
    state: State = "in"
    if value is None:
        state = "gap"
    elif is_partial:
        state = "partial"
    elif average > upper + slack:
        state = "signal_high"
    elif average < lower - slack:
        state = "signal_low"
    return EwmaPoint(label, value, average, lower, upper, state)


def ewma_of_chart(chart: ControlChart, weight: float, width: float) -> EwmaChart:
    """Return the EWMA, with exact limits, of the values on a chart whose periods share one centre (p, u, c).

    Gaps and a partial last period are as the chart has them; limits lie within 0 and 1 for shares, above 0 for the
    others. Raises ValueError where the centre varies, or where the baseline leaves no scatter: none of its units was
    defective, or all were.
    """
    demand_kind(chart, ControlChart, "chart")
    judged = [point for point in chart.points if point.state != "gap"]
    centres = {point.centre for point in judged}
    if len(centres) != 1:
        raise ValueError(f"chart must have one centre line for an EWMA, got {len(centres)} on the {chart.kind} chart")
    if any(point.sigma == 0 for point in judged):
        raise ValueError(
            f"chart must have a baseline that leaves scatter for an EWMA, got a centre of {judged[0].centre:g} on the "
            f"{chart.kind} chart: a longer baseline, or a standard, would do"
        )
    is_partial = bool(chart.points) and chart.points[-1].state == "partial"
    return ewma_chart(
        [point.value for point in chart.points],
        [point.sigma for point in chart.points],
        [point.label for point in chart.points],
        centres.pop(),
        weight,
        width,
        "exact",
        partial_last=is_partial,
        least=0.0,
        most=1.0 if chart.kind in ("p", "p′") else inf,
    )
