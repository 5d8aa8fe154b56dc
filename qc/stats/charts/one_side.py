"""How likely chance alone puts a row of points on one side of the centre line: far from half each for few counts."""

from collections.abc import Sequence
from math import ceil, floor, prod
from typing import Literal

from qc.stats.charts.chart_points import ROUNDING, ChartPoint, ControlChart
from qc.stats.refusals import demand_choice, demand_kind, demand_list
from qc.stats.stated_chances import stated_chance

SHARES, RATES = ("p", "p′"), ("u", "u′")


def chance_of_one_side(chart: ControlChart, labels: Sequence[str], side: Literal["high", "low"]) -> float:
    """Return the chance that every one of these points lies strictly on one side of its centre if nothing changed.

    Run rules take each side for one half. Where .1 defects are expected in a period, nine in ten periods have none and
    lie below the centre. labels: of points of the chart that have a value, at least one; side: "high" or "low".
    The count of a period is binomial on a p chart and Poisson on a u chart, at the centre line and the period's own
    size, periods independent of each other; scatter beyond chance (p′, u′) is left out.
    Raises ValueError for another kind of chart and for a label that is no point with a value.
    Source: binomial and Poisson distribution functions (scipy.special); run rules on few counts: Montgomery,
    Introduction to Statistical Quality Control, ch. 7 (from memory).
    """
    demand_kind(chart, ControlChart, "chart")
    if chart.kind not in (*SHARES, *RATES):
        raise ValueError(f"chart must be of a kind {', '.join((*SHARES, *RATES))}, got {chart.kind!r}")
    side = "high" if demand_choice(side, ("high", "low"), "side") == "high" else "low"
    known = {point.label: point for point in chart.points if point.value is not None}
    plain = demand_list(labels, "labels")
    for label in plain:
        if label not in known:
            raise ValueError(f"labels names {label!r}, which is no point of the chart with a value")
    if not plain:
        raise ValueError("labels must name at least one point, got none")
    of_one = _of_share if chart.kind in SHARES else _of_rate
    return stated_chance(prod(of_one(known[label], side) for label in plain))


def _of_share(point: ChartPoint, side: Literal["high", "low"]) -> float:
    from scipy.special import bdtr, bdtrc

    units, count = int(point.size), _nearest(point, side)
    if side == "high":
        return float(bdtrc(count, units, point.centre)) if count < units else 0.0
    return float(bdtr(count, units, point.centre)) if count >= 0 else 0.0


def _of_rate(point: ChartPoint, side: Literal["high", "low"]) -> float:
    from scipy.special import pdtr, pdtrc

    mean, count = point.size * point.centre, _nearest(point, side)
    if side == "high":
        return float(pdtrc(count, mean))
    return float(pdtr(count, mean)) if count >= 0 else 0.0


def _nearest(point: ChartPoint, side: Literal["high", "low"]) -> int:
    """Return the largest count that is not above the centre, or that is below it; rounding makes neither."""
    mean = point.size * point.centre
    slack = ROUNDING * max(1.0, mean)
    return floor(mean + slack) if side == "high" else ceil(mean - slack) - 1
