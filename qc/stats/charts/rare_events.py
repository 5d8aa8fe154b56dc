"""Rare events by the gaps between them: good units between defective ones (g), time between events (t).

For these charts a long gap is good news. Short gaps are the bad news, and the three-sigma g chart has no
lower limit with which to see them: exact limits or a cusum do.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import ceil, exp, floor, inf, log, log1p, sqrt
from typing import Literal

from qc.domain.words.speaking import marked, say
from qc.stats.answers import TooLittle
from qc.stats.charts.baselines import Baseline, Standard
from qc.stats.charts.chart_points import ControlChart, Limits, changed_since_frozen, chart_points, sigma_limits
from qc.stats.charts.control_charts import baseline_cautions, demand_baseline
from qc.stats.charts.overdispersed_charts import spread_between
from qc.stats.intervals.count_limits import TIE, demand_tail, least_count
from qc.stats.refusals import (
    demand_count,
    demand_kind,
    demand_labels,
    demand_list,
    demand_number,
    demand_positive,
    plain_number,
)

# Nelson's exponent 1/3.6 as it is printed: it makes exponential times nearly symmetric.
NELSON_POWER = 0.2777

NO_LOWER = marked("No lower limit at this tail: even two events in a row would not signal.")

Counting = Literal["good units between", "up to and with the defective"]


def g_chart(
    gaps: Sequence[int],
    labels: Sequence[str],
    baseline: Baseline | Standard,
    counting: Counting,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart:
    """Return the chart of units between defective units.

    gaps count units, beside the label of the defective unit that ended each; counting says whether that unit
    is left out (gaps from 0) or is in (from 1). Limits: gbar ± width sqrt(gbar (gbar + 1)), or (gbar - 1)
    with the unit in. partial_last: the last gap is still open. Raises ValueError naming argument and value.
    Source: Kaminsky, Benneyan, Davis & Burke (1992), Journal of Quality Technology 24, 63-69.
    """
    gaps, labels = _demand_gaps(gaps, labels, counting, baseline)
    width = demand_positive(width, "width")
    centre = baseline.centre
    sigma = sqrt(_geometric_variance(centre, counting))

    def judge(gap: float, _: float) -> Limits:
        return sigma_limits(gap, centre, sigma, width, inf)

    method = f"units between events, {width:g} standard deviations of the geometric law"
    chart = _gap_chart("g", method, width, gaps, labels, baseline, partial_last, judge)
    chart = replace(chart, median=geometric_median(centre, counting))
    blind = "No lower limit: this chart cannot see gaps grow short; use exact limits or a cusum for that."
    return _with_caution(chart, blind)


def exact_g_chart(
    gaps: Sequence[int],
    labels: Sequence[str],
    baseline: Baseline | Standard,
    counting: Counting,
    tail: float,
    *,
    partial_last: bool = False,
) -> ControlChart:
    """Return the g chart with limits of the geometric law itself, a false alarm of at most tail each side.

    A gap signals above upper or below lower; lower None if even the shortest gap is likelier than tail.
    Otherwise as g_chart.
    """
    gaps, labels = _demand_gaps(gaps, labels, counting, baseline)
    tail = demand_tail(tail)
    centre = baseline.centre
    sigma = sqrt(_geometric_variance(centre, counting))
    lower, upper = geometric_limits(centre, counting, tail)

    def judge(gap: float, _: float) -> Limits:
        return Limits(gap, centre, sigma, lower, upper)

    method = f"units between events, exact geometric limits, a false alarm on each side at most {tail:g}"
    chart = _gap_chart("g", method, 0.0, gaps, labels, baseline, partial_last, judge)
    chart = replace(chart, median=geometric_median(centre, counting))
    if lower is not None:
        return chart
    return _with_caution(chart, NO_LOWER)


def predictive_g_chart(
    gaps: Sequence[int],
    labels: Sequence[str],
    baseline: Baseline,
    counting: Counting,
    tail: float,
    *,
    partial_last: bool = False,
) -> ControlChart:
    """Return the exact g chart whose limits allow for the baseline being an estimate: for short baselines.

    The limits are predictive_gap_limits. A gap of the baseline itself is judged as if it were new, so a little too
    kindly. Otherwise as exact_g_chart.
    """
    demand_kind(baseline, Baseline, "baseline")
    gaps, labels = _demand_gaps(gaps, labels, counting, baseline)
    tail = demand_tail(tail)
    centre, total = baseline.centre, int(baseline.total_events)
    sigma = sqrt(_geometric_variance(centre, counting))
    lower, upper = predictive_gap_limits(baseline.periods, total, counting, tail)

    def judge(gap: float, _: float) -> Limits:
        return Limits(gap, centre, sigma, lower, upper)

    method = say(
        "units between events, limits that allow for a baseline of {number} gaps, a false alarm on each side at most "
        "{tail:g}",
        number=baseline.periods,
        tail=tail,
    )
    chart = _gap_chart("g", method, 0.0, gaps, labels, baseline, partial_last, judge, allows_for_guess=True)
    chart = replace(chart, median=geometric_median(centre, counting))
    return chart if lower is not None else _with_caution(chart, NO_LOWER)


def geometric_limits(mean_gap: float, counting: Counting, tail: float) -> tuple[float | None, float]:
    """Return (lower, upper) for a gap of this mean: a signal is below lower or above upper.

    P(gap > upper) <= tail with upper least, P(gap < lower) <= tail with lower greatest, None if that is the
    smallest possible gap. Source: direct summation of the geometric law.
    """
    tail = demand_tail(tail)
    first = _first_gap(counting)
    if (mean_gap := demand_number(mean_gap, "mean_gap")) <= first:
        raise ValueError(f"mean_gap must be above {first}, the smallest gap, got {mean_gap!r}")
    good = _log_chance_of_good(mean_gap, first)
    # Lengths are whole: a rounding error of 1e-9 must not cost or gain a unit.
    over = max(0, ceil(log(tail) / good - 1e-9) - 1)
    under = floor(log1p(-tail) / good + 1e-9)
    return (float(under + first) if under > 0 else None), float(over + first)


def predictive_gap_limits(gaps: int, total: int, counting: Counting, tail: float) -> tuple[float | None, float]:
    """Return (lower, upper) for the next gap after so many gaps of this total; a signal is below lower or above upper.

    gaps at least 1; total: their units in all, above the smallest that they can have. On either side the chance of a
    signal is at most tail, whatever the rate: lower is None if even the shortest gap is likelier than that.
    Source: of units in random order the next gap is longer than g with the chance B(n, T + g + 1) / B(n, T), n gaps and
    T good units before (beta-geometric law, the Pólya urn); for rare events it is (1 + g / T)^-n, the F law of
    Nelson (1970), Technometrics 12, 871-874 (from memory). That the chances hold is counted in the tests.
    """
    first = _first_gap(counting)
    gaps = demand_count(gaps, "gaps", 1)
    total, tail = demand_count(total, "total", first * gaps + 1), demand_tail(tail)
    good = total - first * gaps

    from scipy.special import betaln

    def longer(gap: int) -> float:
        return float(min(1.0, exp(betaln(gaps, good + gap + 1) - betaln(gaps, good))))

    upper = least_count(lambda gap: longer(gap) <= tail * TIE, good // gaps)
    lower = least_count(lambda gap: 1 - longer(gap) > tail * TIE, 0)
    return (float(lower + first) if lower > 0 else None), float(upper + first)


def geometric_median(mean_gap: float, counting: Counting) -> float:
    """Return the median gap of this mean: the least whole number of units that half of all gaps do not exceed.

    A chart's centre line at the mean has most points below it; this one has as many on either side.
    Source: the geometric law, P(gap > m) = (1 - p)^(m + 1) with p = 1 / (mean gap + 1); the median as centre line:
    Benneyan (2001), Health Care Management Science 4, 305-318 (from memory).
    """
    first = _first_gap(counting)
    if (mean_gap := demand_number(mean_gap, "mean_gap")) < first:
        raise ValueError(f"mean_gap must be at least {first}, the smallest gap, got {mean_gap!r}")
    if mean_gap == first:
        return float(first)
    return float(max(0, ceil(log(0.5) / _log_chance_of_good(mean_gap, first) - 1e-9) - 1) + first)


def _log_chance_of_good(mean_gap: float, first: int) -> float:
    return log1p(-1 / (mean_gap - first + 1))


def t_chart(
    times: Sequence[float],
    labels: Sequence[str],
    baseline: Baseline,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart | TooLittle:
    """Return the individuals chart of times between events, raised to 0.2777 to make them symmetric.

    times at least 0 in one unit, beside the label of the event that ended each; values, centre and limits
    are on the transformed scale (times_of brings them back). sigma is the baseline's mean step between
    neighbours over 1.128; fewer than three times, or all equal, answer TooLittle. Raises ValueError.
    Source: Nelson (1994), Journal of Quality Technology 26, 60-63; Montgomery, ch. 7, section 7.3.5.
    """
    times, labels = _demand_times(times, labels, baseline)
    width = demand_positive(width, "width")
    usual = [time**NELSON_POWER for time, _ in baseline.used]
    sigma = spread_between(usual)
    if isinstance(sigma, TooLittle) or sigma == 0:
        reason = "the scatter of times takes three times between events that are not all alike"
        return TooLittle("t chart", reason, have=len(usual), need=3)
    centre, spread = sum(usual) / len(usual), sigma

    def judge(time: float, _: float) -> Limits:
        return sigma_limits(time**NELSON_POWER, centre, spread, width, inf)

    method = f"time between events to the power {NELSON_POWER}, {width:g} standard deviations from moving ranges"
    # A power keeps the order of the times, so that the middle of the symmetric scale is the median.
    return replace(_gap_chart("t", method, width, times, labels, baseline, partial_last, judge), median=centre)


def times_of(transformed: float) -> float:
    """Return the time that a value on the scale of t_chart stands for, at least 0. Source: as t_chart."""
    return float(max(0.0, demand_number(transformed, "transformed")) ** (1 / NELSON_POWER))


def exact_t_chart(
    times: Sequence[float],
    labels: Sequence[str],
    baseline: Baseline | Standard,
    tail: float,
    *,
    partial_last: bool = False,
) -> ControlChart:
    """Return the chart of times between events with exponential limits, tail each side, in the times' unit.

    Limits: -m ln(1 - tail) and -m ln(tail), m the baseline's mean time. Otherwise as t_chart.
    Source: quantiles of the exponential law.
    """
    times, labels = _demand_times(times, labels, baseline)
    tail = demand_tail(tail)
    mean = baseline.centre
    if mean == 0:
        raise ValueError(f"baseline {baseline.name!r} must have a mean time above 0, got 0")
    lower, upper = -mean * log1p(-tail), -mean * log(tail)

    def judge(time: float, _: float) -> Limits:
        return Limits(time, mean, mean, lower, upper)

    method = f"time between events, exact exponential limits, a false alarm on each side of {tail:g}"
    return replace(_gap_chart("t", method, 0.0, times, labels, baseline, partial_last, judge), median=mean * log(2))


def _first_gap(counting: Counting) -> int:
    if counting not in ("good units between", "up to and with the defective"):
        raise ValueError(f"counting must be 'good units between' or 'up to and with the defective', got {counting!r}")
    return 0 if counting == "good units between" else 1


def _geometric_variance(centre: float, counting: Counting) -> float:
    return centre * (centre + 1) if counting == "good units between" else centre * (centre - 1)


def _demand_gaps(
    gaps: Sequence[int], labels: Sequence[str], counting: Counting, baseline: Baseline | Standard
) -> tuple[tuple[int, ...], tuple[str, ...]]:
    names = demand_labels(labels, "gaps", gaps)
    demand_baseline(baseline, "gap")
    first = _first_gap(counting)
    units = tuple(
        demand_count(gap, f"gaps for {label!r}", first)
        for label, gap in zip(names, demand_list(gaps, "gaps"), strict=True)
    )
    if baseline.centre <= first:
        raise ValueError(
            f"baseline {baseline.name!r} must have a mean gap above {first}, got {baseline.centre:g}: "
            "events that follow each other at once are not rare"
        )
    return units, names


def _demand_times(
    times: Sequence[float], labels: Sequence[str], baseline: Baseline | Standard
) -> tuple[tuple[float, ...], tuple[str, ...]]:
    names = demand_labels(labels, "times", times)
    demand_baseline(baseline, "gap")
    found = demand_list(times, "times")
    for label, time in zip(names, found, strict=True):
        if demand_number(time, f"times for {label!r}") < 0:
            raise ValueError(f"times must be at least 0, got {time!r} for {label!r}")
    return tuple(map(plain_number, found)), names


def _gap_chart(
    kind: str,
    method: str,
    width: float,
    gaps: Sequence[float],
    labels: Sequence[str],
    baseline: Baseline | Standard,
    partial_last: bool,
    judge: Callable[[float, float], Limits],
    *,
    allows_for_guess: bool = False,
) -> ControlChart:
    ones = [1] * len(gaps)
    points = chart_points(gaps, ones, labels, baseline, partial_last, judge, baseline.centre)
    changed = changed_since_frozen(gaps, ones, labels, baseline)
    cautions = baseline_cautions(baseline, changed, allows_for_guess=allows_for_guess)
    return ControlChart(
        kind=kind,
        method=method,
        width=width,
        high_is="better",
        baseline=baseline,
        points=points,
        cautions=cautions,
        changed_since_frozen=changed,
    )


def _with_caution(chart: ControlChart, said: str) -> ControlChart:
    return replace(chart, cautions=(*chart.cautions, say(said)))
