"""p′ and u′ charts: limits widened by the scatter that the baseline shows between neighbouring periods."""

from collections.abc import Sequence
from itertools import pairwise
from math import inf, sqrt

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.charts.baselines import Baseline
from qc.stats.charts.chart_points import (
    ROUNDING,
    ControlChart,
    Limits,
    changed_since_frozen,
    chart_points,
    sigma_limits,
)
from qc.stats.charts.control_charts import baseline_cautions, demand_baseline
from qc.stats.refusals import demand_kind, demand_numbers, demand_positive
from qc.stats.series import Rates, Shares

# Mean range of two standard normal values, to the three decimals that the published charts use.
D2_OF_PAIRS = 1.128


def spread_between(z: Sequence[float]) -> float | TooLittle:
    """Return σz, the mean absolute step between neighbours in time over 1.128.

    z: standardised values in time order; fewer than three answer TooLittle.
    Source: Laney (2002), Quality Engineering 14, 531-537.
    """
    values = demand_numbers(z, "z")
    if len(values) < 3:
        reason = say("scatter between neighbouring periods takes three periods")
        return TooLittle("spread of the baseline", reason, have=len(values), need=3)
    steps = [abs(b - a) for a, b in pairwise(values)]
    return sum(steps) / len(steps) / D2_OF_PAIRS


def p_prime_chart(
    shares: Shares,
    baseline: Baseline,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart | TooLittle:
    """Return the p′ chart: a p chart whose sigma is multiplied by σz of the baseline (chart.spread).

    Neighbours are successive periods that enter the baseline; empty and excluded ones are stepped over.
    σz below 1 narrows the limits, and a caution says so. Under three periods, a baseline without any scatter
    to standardise by, or periods that all have one value (σz 0) answer TooLittle. Arguments, gaps and errors as in
    p_chart.
    Source: Laney (2002), Quality Engineering 14, 531-537.
    """
    demand_kind(shares, Shares, "shares")
    demand_kind(baseline, Baseline, "baseline")
    demand_baseline(baseline, "share")
    centre = baseline.centre
    scatter = sqrt(centre * (1 - centre))
    return _prime_chart("p′", shares, baseline, partial_last, width, scatter, 1.0)


def u_prime_chart(
    rates: Rates,
    baseline: Baseline,
    *,
    partial_last: bool = False,
    width: float = 3.0,
) -> ControlChart | TooLittle:
    """Return the u′ chart: a u chart whose sigma is multiplied by σz of the baseline; as p_prime_chart."""
    demand_kind(rates, Rates, "rates")
    demand_kind(baseline, Baseline, "baseline")
    demand_baseline(baseline, "rate")
    scatter = sqrt(baseline.centre)
    return _prime_chart("u′", rates, baseline, partial_last, width, scatter, inf)


def _prime_chart(
    kind: str,
    series: Shares | Rates,
    baseline: Baseline,
    partial_last: bool,
    width: float,
    scatter: float,
    ceiling: float,
) -> ControlChart | TooLittle:
    width = demand_positive(width, "width")
    centre = baseline.centre
    if scatter == 0:
        reason = say("the baseline has no event, or nothing but events, so its scatter cannot be standardised")
        return TooLittle(f"{kind} chart", reason, have=0, need=1)
    spread = spread_between([(count / size - centre) * sqrt(size) / scatter for count, size in baseline.used])
    if isinstance(spread, TooLittle):
        return spread
    if spread < ROUNDING:
        reason = say("all periods of the baseline have one and the same value, so there is no scatter to set limits by")
        return TooLittle(f"{kind} chart", reason, have=1, need=2)

    def judge(count: float, size: float) -> Limits:
        return sigma_limits(count / size, centre, spread * scatter / sqrt(size), width, ceiling)

    points = chart_points(series.events, series.sizes, series.labels, baseline, partial_last, judge, centre)
    changed = changed_since_frozen(series.events, series.sizes, series.labels, baseline)
    return ControlChart(
        kind=kind,
        method=say(
            "{width:g} standard deviations around the pooled baseline, widened by σz = {spread:.3f} from neighbouring "
            "periods",
            width=float(width),
            spread=spread,
        ),
        width=width,
        high_is="worse",
        baseline=baseline,
        points=points,
        cautions=baseline_cautions(baseline, changed) + _narrow(spread),
        changed_since_frozen=changed,
        spread=spread,
    )


def _narrow(spread: float) -> tuple[str, ...]:
    if spread >= 1:
        return ()
    told = say(
        "The baseline scatters less than chance (σz = {spread:.3f}): these limits are narrower than plain ones.",
        spread=spread,
    )
    return (told,)
