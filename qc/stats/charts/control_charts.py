"""p, np, u and c charts: each period judged against limits from a frozen baseline.

The limits never move with the data that they judge; a partial last period is plotted and not judged.
Plain Python: a chart of two years of weeks has 104 points, and loading an array library would take longer.
"""

from collections.abc import Sequence
from math import inf, sqrt

from qc.domain.words.speaking import say, say_many
from qc.stats.charts.baselines import Baseline, BaselineKind, Standard
from qc.stats.charts.chart_points import (
    ChartPoint,
    ControlChart,
    Limits,
    changed_since_frozen,
    chart_points,
    sigma_limits,
)
from qc.stats.refusals import demand_flag, demand_kind, demand_positive
from qc.stats.series import Counts, Rates, Shares, rates_of

# Fewer periods make limits that are a guess: 20 to 25 are usual (Montgomery, ch. 7; ISO 7870-2 practice).
USUAL_PERIODS = 20
# Below five expected the normal limits misjudge (common practice, no source).
SMALL_COUNT = 5


def demand_baseline(baseline: Baseline | Standard, kind: BaselineKind) -> None:
    """Refuse a baseline of the other kind: shares and rates are different numbers."""
    demand_kind(baseline, (Baseline, Standard), "baseline")
    if baseline.kind != kind:
        raise ValueError(f"baseline {baseline.name!r} must hold {kind}s for this chart, got {baseline.kind}s")


def baseline_cautions(
    baseline: Baseline | Standard, changed: Sequence[str], *, allows_for_guess: bool = False
) -> tuple[str, ...]:
    """Return what a reader must know about the baseline before believing the limits.

    allows_for_guess: the limits themselves are wider for a short or empty baseline, so that need not be said.
    """
    said = []
    if isinstance(baseline, Baseline) and not allows_for_guess:
        if baseline.periods < USUAL_PERIODS:
            said.append(_short(baseline))
        if baseline.total_events == 0:
            said.append(say("Nothing was found in the baseline: the limit is 0 and any find signals."))
    if changed:
        said.append(
            say(
                "{number} baseline periods have other counts today; the limits keep the frozen ones.",
                number=len(changed),
            )
        )
    return tuple(said)


def _short(baseline: Baseline) -> str:
    if baseline.kind == "gap":
        return say(
            "The baseline has {number} gaps; 20 to 25 are usual, so these limits are a first guess.",
            number=baseline.periods,
        )
    return say(
        "The baseline has {number} periods; 20 to 25 are usual, so these limits are a first guess.",
        number=baseline.periods,
    )


def _small_counts(points: Sequence[ChartPoint], expected: Sequence[float]) -> tuple[str, ...]:
    small = sum(
        0 <= fewest < SMALL_COUNT for point, fewest in zip(points, expected, strict=True) if point.state != "gap"
    )
    if not small:
        return ()
    told = say_many(
        "In one period fewer than {least} are expected: limits in standard deviations misjudge small counts, exact "
        "limits judge them.",
        "In {number} periods fewer than {least} are expected: limits in standard deviations misjudge small counts, "
        "exact limits judge them.",
        small,
        least=SMALL_COUNT,
    )
    return (told,)


def p_chart(
    shares: Shares,
    baseline: Baseline | Standard,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart:
    """Return the chart of the share of defective units, each period with limits for its own size.

    shares in time order; inspected 0 is a gap, not a zero.
    Limits: pbar +- width sqrt(pbar (1 - pbar) / n_i), pbar the baseline's pooled share; upper clipped at 1;
    not above 0 means no lower limit. A signal is strictly beyond.
    partial_last: the last period is not over; it is marked and not judged.
    Raises ValueError naming argument and value. Source: NIST/SEMATECH e-Handbook 6.3.3.2; Montgomery, ch. 7.
    """
    demand_kind(shares, Shares, "shares")
    demand_baseline(baseline, "share")
    width = demand_positive(width, "width")
    centre = baseline.centre
    scatter = sqrt(centre * (1 - centre))

    def judge(count: float, size: float) -> Limits:
        return sigma_limits(count / size, centre, scatter / sqrt(size), width, 1.0)

    points = chart_points(shares.defectives, shares.inspected, shares.labels, baseline, partial_last, judge, centre)
    expected = [size * min(centre, 1 - centre) for size in shares.inspected]
    return _chart("p", say("share of defective units"), width, baseline, points, expected)


def np_chart(
    shares: Shares,
    baseline: Baseline | Standard,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart:
    """Return the chart of the number of defective units in periods of one size.

    As p_chart times the size; periods with nothing inspected are gaps. Raises ValueError when the sizes
    differ (the partial last period aside): use p_chart then. Source: Montgomery, ch. 7, section 7.2.1.
    """
    demand_kind(shares, Shares, "shares")
    demand_baseline(baseline, "share")
    width = demand_positive(width, "width")
    whole = shares.inspected[:-1] if demand_flag(partial_last, "partial_last") else shares.inspected
    sizes = sorted({size for size in whole if size > 0})
    if len(sizes) > 1:
        raise ValueError(
            f"inspected must be the same in every period of an np chart, got {sizes[0]} to {sizes[-1]}; "
            "a p chart takes periods of different sizes"
        )
    centre = baseline.centre

    def judge(count: float, size: float) -> Limits:
        return sigma_limits(count, size * centre, sqrt(size * centre * (1 - centre)), width, size)

    gap_centre = centre * sizes[0] if sizes else 0.0
    points = chart_points(shares.defectives, shares.inspected, shares.labels, baseline, partial_last, judge, gap_centre)
    expected = [size * min(centre, 1 - centre) for size in shares.inspected]
    return _chart("np", say("number of defective units"), width, baseline, points, expected)


def u_chart(
    rates: Rates,
    baseline: Baseline | Standard,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart:
    """Return the chart of defects per unit, each period with limits for its own units.

    Limits: ubar +- width sqrt(ubar / n_i), ubar the baseline's pooled rate; otherwise as p_chart.
    One unit with three defects counts three here and one in p_chart.
    Source: Montgomery, ch. 7, section 7.3; NIST/SEMATECH e-Handbook 6.3.3.1.
    """
    demand_kind(rates, Rates, "rates")
    demand_baseline(baseline, "rate")
    width = demand_positive(width, "width")
    centre = baseline.centre
    scatter = sqrt(centre)

    def judge(count: float, size: float) -> Limits:
        return sigma_limits(count / size, centre, scatter / sqrt(size), width, inf)

    points = chart_points(rates.defects, rates.units, rates.labels, baseline, partial_last, judge, centre)
    return _chart("u", say("defects per unit"), width, baseline, points, [size * centre for size in rates.units])


def c_chart(
    counts: Counts,
    baseline: Baseline | Standard,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart:
    """Return the chart of the number of defects in periods of equal opportunity.

    Limits: cbar +- width sqrt(cbar); counts in time order, the baseline a rate baseline with 1 unit in each
    period.
    Periods of different size belong on u_chart. Source: NIST/SEMATECH e-Handbook 6.3.3.1.
    """
    demand_kind(counts, Counts, "counts")
    width = demand_positive(width, "width")
    demand_baseline(baseline, "rate")
    if isinstance(baseline, Baseline) and set(baseline.sizes) - {0, 1}:
        raise ValueError(f"baseline {baseline.name!r} must have exposure 1 in each period for a c chart")
    rates = rates_of(counts.counts, [1] * len(counts.counts), counts.labels)
    plain = u_chart(rates, baseline, partial_last=partial_last, width=width)
    method = say("number of defects, {width:g} standard deviations around the baseline", width=float(width))
    return ControlChart(
        kind="c",
        method=method,
        width=width,
        high_is="worse",
        baseline=baseline,
        points=plain.points,
        cautions=plain.cautions,
        changed_since_frozen=plain.changed_since_frozen,
    )


def _chart(
    kind: str,
    what: str,
    width: float,
    baseline: Baseline | Standard,
    points: tuple[ChartPoint, ...],
    expected: Sequence[float],
) -> ControlChart:
    changed = changed_since_frozen(
        [point.events for point in points],
        [point.size for point in points],
        [point.label for point in points],
        baseline,
    )
    return ControlChart(
        kind=kind,
        method=say("{what}, {width:g} standard deviations around the pooled baseline", what=what, width=float(width)),
        width=width,
        high_is="worse",
        baseline=baseline,
        points=points,
        cautions=baseline_cautions(baseline, changed) + _small_counts(points, expected),
        changed_since_frozen=changed,
    )
