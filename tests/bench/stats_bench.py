"""Each chart and interval against the plainest numpy or scipy call for the same numbers, as ratios.

    python tests/bench/stats_bench.py

A ratio below 1 means that the project's own call is quicker, although it also checks its input and answers point by
point with its evidence. The numbers of both are compared before anything is timed, and a chart without a case here
stops the run. Times are the best of several rounds; absolute ones depend on the machine.
"""

import inspect
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from timeit import repeat
from typing import Any

import numpy as np
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from qc.stats.by_command.charts import cusum, demerit_chart, ewma
from qc.stats.by_command.charts.cusum import bernoulli_constants, bernoulli_cusum, normal_cusum, poisson_cusum
from qc.stats.by_command.charts.ewma import ewma_chart, ewma_of_chart
from qc.stats.by_command.run_lengths.point_laws import normal_law
from qc.stats.by_command.run_lengths.run_length import rules_run_length
from qc.stats.causes.pareto import pareto
from qc.stats.charts import control_charts, exact_limits, overdispersed_charts, rare_events
from qc.stats.charts.baselines import Baseline, gap_baseline, rate_baseline, share_baseline, weighted_baseline
from qc.stats.charts.chart_points import ControlChart
from qc.stats.charts.control_charts import c_chart, np_chart, p_chart, u_chart
from qc.stats.charts.dispersion import rate_dispersion, share_dispersion
from qc.stats.charts.exact_limits import exact_p_chart, exact_u_chart, predictive_p_chart, predictive_u_chart
from qc.stats.charts.overdispersed_charts import p_prime_chart, u_prime_chart
from qc.stats.charts.rare_events import exact_g_chart, exact_t_chart, g_chart, predictive_g_chart, t_chart
from qc.stats.charts.run_rules import BEYOND_3S, WESTERN_ELECTRIC_1956, RuleSet, run_rules
from qc.stats.intervals.one_sample import clopper_pearson_interval, poisson_interval, wilson_interval
from qc.stats.series import counts_of, rates_of, shares_of
from qc.stats.stations import funnel
from qc.stats.stations.funnel import additive_funnel, exact_funnel, indicator_of, multiplicative_funnel
from qc.stats.watch import watch_design
from qc.stats.watch.watch_design import watched_sums

WEEKS, TAIL = 104, 0.00135
RANDOM = np.random.default_rng(20240108)
LABELS = [f"week {week}" for week in range(1, WEEKS + 1)]
INSPECTED = [int(size) for size in RANDOM.integers(20, 90, WEEKS)]
DEFECTIVES = [int(RANDOM.binomial(size, 0.15)) for size in INSPECTED]
DEFECTS = [int(RANDOM.poisson(2.3 * size)) for size in INSPECTED]
SERIOUS = [int(RANDOM.poisson(0.2 * size)) for size in INSPECTED]
OF_ONE_SIZE = [int(RANDOM.binomial(50, 0.15)) for _ in LABELS]
GAPS = [int(RANDOM.geometric(0.02)) - 1 for _ in LABELS]
TIMES = [float(RANDOM.exponential(40)) for _ in LABELS]
UNITS = [bool(bad) for bad in RANDOM.random(2000) < 0.02]
DAY = date(2024, 1, 8)
FIRST = slice(0, 52)


def frozen(answer: Any) -> Baseline:
    assert isinstance(answer, Baseline)
    return answer


SHARES = frozen(share_baseline("first year", DAY, shares_of(DEFECTIVES[FIRST], INSPECTED[FIRST], LABELS[FIRST]), {}))
SAME = frozen(share_baseline("first year", DAY, shares_of(OF_ONE_SIZE[FIRST], [50] * 52, LABELS[FIRST]), {}))
RATES = frozen(rate_baseline("first year", DAY, rates_of(DEFECTS[FIRST], INSPECTED[FIRST], LABELS[FIRST]), {}))
FEW = frozen(rate_baseline("first year", DAY, rates_of(SERIOUS[FIRST], INSPECTED[FIRST], LABELS[FIRST]), {}))
ONES = frozen(rate_baseline("first year", DAY, rates_of(DEFECTS[FIRST], [1] * 52, LABELS[FIRST]), {}))
GAPPED = frozen(gap_baseline("first year", DAY, GAPS[FIRST], LABELS[FIRST], {}))
TIMED = frozen(gap_baseline("first year", DAY, TIMES[FIRST], LABELS[FIRST], {}))
WEIGHTS = {"minor": 1.0, "major": 10.0}
WEIGHED = weighted_baseline("first year", DAY, {"minor": RATES, "major": FEW}, WEIGHTS)
COUNTING = "good units between"
ONE_POINT = RuleSet("one point", "common", (BEYOND_3S,))
CHART = p_chart(shares_of(DEFECTIVES, INSPECTED, LABELS), SHARES)
WATCHED = watch_design.watch_design(120, 52, 2.0, 0.01, 26)
STATIONS = [f"S{place:02d}" for place in range(1, 25)]
EXPECTED = [float(mean) for mean in RANDOM.uniform(5, 60, 24)]
MADE = [int(RANDOM.poisson(mean)) for mean in EXPECTED]
INDICATOR = indicator_of(rates_of(MADE, EXPECTED, STATIONS), 1.0)

d, n, c, s = np.array(DEFECTIVES), np.array(INSPECTED), np.array(DEFECTS), np.array(SERIOUS)
same, g, t, bad = np.array(OF_ONE_SIZE), np.array(GAPS), np.array(TIMES), np.array(UNITS, dtype=int)
P, U, F, G = SHARES.centre, RATES.centre, FEW.centre, GAPPED.centre


@dataclass(frozen=True)
class Case:
    """A name, our call, the plain one, and what of our answer is the plain one's numbers. covers: its functions."""

    name: str
    ours: Callable[[], Any]
    plain: Callable[[], Any]
    numbers: Callable[[Any], Any]
    covers: tuple[Callable[..., Any], ...] = ()


def uppers(chart: ControlChart) -> list[float]:
    return [float(point.upper) for point in chart.points if point.upper is not None]


def upper_counts(chart: ControlChart) -> list[float]:
    return [float(point.upper * point.size) for point in chart.points if point.upper is not None]


def numpy_p() -> Any:
    return np.minimum(1, P + 3 * np.sqrt(P * (1 - P) / n))


def numpy_np() -> Any:
    return np.full(WEEKS, 50 * SAME.centre + 3 * np.sqrt(50 * SAME.centre * (1 - SAME.centre)))


def numpy_u() -> Any:
    return U + 3 * np.sqrt(U / n)


def numpy_c() -> Any:
    return np.full(WEEKS, ONES.centre + 3 * np.sqrt(ONES.centre))


def numpy_p_prime() -> Any:
    sigma = np.sqrt(P * (1 - P) / n)
    z = (d / n - P) / sigma
    return np.minimum(1, P + 3 * sigma * np.abs(np.diff(z[:52])).mean() / 1.128)


def numpy_u_prime() -> Any:
    sigma = np.sqrt(U / n)
    z = (c / n - U) / sigma
    return U + 3 * sigma * np.abs(np.diff(z[:52])).mean() / 1.128


def scipy_exact_p() -> Any:
    return stats.binom.ppf(1 - TAIL, n, P)


def scipy_exact_u() -> Any:
    return stats.poisson.ppf(1 - TAIL, n * U)


def scipy_predictive_p() -> Any:
    events, size = SHARES.total_events, SHARES.total_size
    return stats.betabinom.ppf(1 - TAIL, n, events + 0.5, size - events + 0.5)


def scipy_predictive_u() -> Any:
    return stats.nbinom.ppf(1 - TAIL, RATES.total_events + 0.5, RATES.total_size / (RATES.total_size + n))


def numpy_demerit() -> Any:
    return U + 10 * F + 3 * np.sqrt((U + 100 * F) / n)


def numpy_g() -> Any:
    return np.full(WEEKS, G + 3 * np.sqrt(G * (G + 1)))


def scipy_exact_g() -> Any:
    return np.full(WEEKS, stats.geom.ppf(1 - TAIL, 1 / (G + 1)) - 1)


def scipy_predictive_g() -> Any:
    return np.full(WEEKS, stats.betanbinom(1, GAPPED.periods, int(GAPPED.total_events)).ppf(1 - TAIL))


def numpy_t() -> Any:
    y = t[:52] ** 0.2777
    return np.full(WEEKS, y.mean() + 3 * np.abs(np.diff(y)).mean() / 1.128)


def numpy_exact_t() -> Any:
    return np.full(WEEKS, -TIMED.centre * np.log(TAIL))


def numpy_runs() -> Any:
    z = (d / n - P) / np.sqrt(P * (1 - P) / n)
    found = int((np.abs(z) > 3).sum())
    for zone, need, of in ((2, 2, 3), (1, 4, 5), (0, 8, 8)):
        for side in (z, -z):
            beyond = side > zone
            found += int((beyond & (np.convolve(beyond, np.ones(of))[: len(z)] >= need)).sum())
    return found


def numpy_ewma() -> Any:
    averages, average = np.empty(WEEKS), P
    for week, value in enumerate(d / n):
        averages[week] = average = 0.2 * value + 0.8 * average
    return averages


def numpy_cusum(steps: Any) -> Any:
    sums, height = np.empty(len(steps)), 0.0
    for place, step in enumerate(steps):
        sums[place] = height = max(0.0, height + step)
    return sums


def numpy_watched() -> Any:
    expected = n * (120 / 52) / n.mean()
    sums, height, k = np.empty(WEEKS), 0.0, 1 / np.log(2.0)
    for place in range(WEEKS):
        height = max(0.0, height + s[place] - k * expected[place])
        sums[place] = height
        if height > WATCHED.decisions[min(place, len(WATCHED.decisions) - 1)]:
            height = 0.0
    return sums


def numpy_pareto() -> Any:
    order = np.argsort(-c, kind="stable")
    return np.cumsum(c[order]) / c.sum()


def scipy_funnel() -> Any:
    """Return the upper 0.1 % limits with the interpolation of Spiegelhalter (2005)."""
    mean = np.array(EXPECTED)
    r = stats.poisson.ppf(0.999, mean)
    below, at = stats.poisson.cdf(r - 1, mean), stats.poisson.cdf(r, mean)
    return (r - (at - 0.999) / (at - below)) / mean


def numpy_phi() -> Any:
    """Return z and the winsorised phi of Spiegelhalter (2005)."""
    sigma = 1 / np.sqrt(EXPECTED)
    z = (np.array(MADE) / EXPECTED - 1) / sigma
    return sigma, float(np.mean(np.asarray(stats.mstats.winsorize(z, (0.1, 0.1))) ** 2))


def numpy_multiplicative() -> Any:
    sigma, phi = numpy_phi()
    return 1 + stats.norm.ppf(0.999) * sigma * np.sqrt(max(1.0, phi))


def numpy_additive() -> Any:
    sigma, phi = numpy_phi()
    weights, many = 1 / sigma**2, len(sigma)
    tau2 = max(0.0, (many * phi - (many - 1)) / (weights.sum() - (weights**2).sum() / weights.sum()))
    return 1 + stats.norm.ppf(0.999) * np.sqrt(sigma**2 + tau2)


CONSTANTS = bernoulli_constants(0.02, 2.5)
SIGMAS = [float(point.sigma) for point in CHART.points if point.sigma is not None]
VALUES = [float(point.value) for point in CHART.points if point.value is not None]
EXPOSED = [float(size) for size in n * (120 / 52) / n.mean()]

CASES: tuple[Case, ...] = (
    Case("p chart", lambda: p_chart(shares_of(DEFECTIVES, INSPECTED, LABELS), SHARES), numpy_p, uppers, (p_chart,)),
    Case("np chart", lambda: np_chart(shares_of(OF_ONE_SIZE, [50] * WEEKS, LABELS), SAME), numpy_np,
         uppers, (np_chart,)),
    Case("u chart", lambda: u_chart(rates_of(DEFECTS, INSPECTED, LABELS), RATES), numpy_u, uppers, (u_chart,)),
    Case("c chart", lambda: c_chart(counts_of(DEFECTS, LABELS), ONES), numpy_c, uppers, (c_chart,)),
    Case("p′ chart", lambda: p_prime_chart(shares_of(DEFECTIVES, INSPECTED, LABELS), SHARES), numpy_p_prime, uppers,
         (p_prime_chart,)),
    Case("u′ chart", lambda: u_prime_chart(rates_of(DEFECTS, INSPECTED, LABELS), RATES), numpy_u_prime, uppers,
         (u_prime_chart,)),
    Case("exact p chart", lambda: exact_p_chart(shares_of(DEFECTIVES, INSPECTED, LABELS), SHARES, TAIL), scipy_exact_p,
         upper_counts, (exact_p_chart,)),
    Case("exact u chart", lambda: exact_u_chart(rates_of(DEFECTS, INSPECTED, LABELS), RATES, TAIL), scipy_exact_u,
         upper_counts, (exact_u_chart,)),
    Case("predictive p chart", lambda: predictive_p_chart(shares_of(DEFECTIVES, INSPECTED, LABELS), SHARES, TAIL),
         scipy_predictive_p, upper_counts, (predictive_p_chart,)),
    Case("predictive u chart", lambda: predictive_u_chart(rates_of(DEFECTS, INSPECTED, LABELS), RATES, TAIL),
         scipy_predictive_u, upper_counts, (predictive_u_chart,)),
    Case("demerit chart",
         lambda: demerit_chart.demerit_chart(
             {"minor": rates_of(DEFECTS, INSPECTED, LABELS), "major": rates_of(SERIOUS, INSPECTED, LABELS)}, WEIGHED),
         numpy_demerit, uppers, (demerit_chart.demerit_chart,)),
    Case("g chart", lambda: g_chart(GAPS, LABELS, GAPPED, COUNTING), numpy_g, uppers, (g_chart,)),
    Case("exact g chart", lambda: exact_g_chart(GAPS, LABELS, GAPPED, COUNTING, TAIL), scipy_exact_g, uppers,
         (exact_g_chart,)),
    Case("predictive g chart", lambda: predictive_g_chart(GAPS, LABELS, GAPPED, COUNTING, TAIL), scipy_predictive_g,
         uppers, (predictive_g_chart,)),
    Case("t chart", lambda: t_chart(TIMES, LABELS, TIMED), numpy_t, uppers, (t_chart,)),
    Case("exact t chart", lambda: exact_t_chart(TIMES, LABELS, TIMED, TAIL), numpy_exact_t, uppers, (exact_t_chart,)),
    Case("EWMA of a chart", lambda: ewma_of_chart(CHART, 0.2, 3.0), numpy_ewma,
         lambda chart: [point.average for point in chart.points], (ewma_of_chart,)),
    Case("EWMA of values", lambda: ewma_chart(VALUES, SIGMAS, LABELS, P, 0.2, 3.0, "exact"), numpy_ewma,
         lambda chart: [point.average for point in chart.points], (ewma_chart,)),
    Case("cusum of values", lambda: normal_cusum(VALUES, LABELS, P, 0.01, 0.1, "never"),
         lambda: numpy_cusum(d / n - P - 0.01), lambda chart: [point.high for point in chart.points], (normal_cusum,)),
    Case("Poisson cusum", lambda: poisson_cusum(rates_of(DEFECTS, INSPECTED, LABELS), U, 1.5, 20.0, "never"),
         lambda: numpy_cusum(c - n * (0.5 * U / np.log(1.5))), lambda chart: [point.high for point in chart.points],
         (poisson_cusum,)),
    Case("Bernoulli cusum, 2000 units",
         lambda: bernoulli_cusum(UNITS, [str(place) for place in range(2000)], 0.02, 2.5, 6.0, "never"),
         lambda: numpy_cusum(bad - CONSTANTS.allowance), lambda chart: [point.high for point in chart.points],
         (bernoulli_cusum,)),
    Case("watched cusum", lambda: watched_sums(SERIOUS, EXPOSED, WATCHED), numpy_watched,
         lambda sums: [height for height, _ in sums], (watched_sums,)),
    Case("run rules of 1956", lambda: run_rules(CHART.standardised, LABELS, WESTERN_ELECTRIC_1956, across_gaps=False),
         numpy_runs, lambda reading: len(reading.findings)),
    Case("funnel, exact, 24 stations", lambda: exact_funnel(INDICATOR, 0.95, 0.998), scipy_funnel,
         lambda answer: [point.limits[-1] for point in answer.points], (exact_funnel,)),
    Case("funnel, multiplicative", lambda: multiplicative_funnel(INDICATOR, 0.95, 0.998, 0.1), numpy_multiplicative,
         lambda answer: [point.limits[-1] for point in answer.points], (multiplicative_funnel,)),
    Case("funnel, additive", lambda: additive_funnel(INDICATOR, 0.95, 0.998, 0.1), numpy_additive,
         lambda answer: [point.limits[-1] for point in answer.points], (additive_funnel,)),
    Case("Pareto, 104 causes", lambda: pareto(counts_of(DEFECTS, LABELS), DEFECTS, "defects", other="Others"),
         numpy_pareto, lambda answer: [bar.cumulative for bar in answer.bars]),
    Case("dispersion of rates", lambda: rate_dispersion(rates_of(DEFECTS, INSPECTED, LABELS)),
         lambda: stats.chisquare(c, c.sum() * n / n.sum()).statistic, lambda answer: answer.chi_square),
    Case("dispersion of shares", lambda: share_dispersion(shares_of(DEFECTIVES, INSPECTED, LABELS)),
         lambda: stats.chi2_contingency(np.array([d, n - d]), correction=False).statistic,
         lambda answer: answer.chi_square),
    Case("Wilson interval", lambda: wilson_interval(15, 148, 0.95),
         lambda: proportion_confint(15, 148, method="wilson"), lambda answer: (answer.low, answer.high)),
    Case("Clopper-Pearson interval", lambda: clopper_pearson_interval(15, 148, 0.95),
         lambda: proportion_confint(15, 148, method="beta"), lambda answer: (answer.low, answer.high)),
    Case("Garwood interval", lambda: poisson_interval(7, 20, 0.95),
         lambda: stats.chi2.ppf([0.025, 0.975], [14, 16]) / 40, lambda answer: (answer.low, answer.high)),
    Case("run length, one beyond 3", lambda: rules_run_length(ONE_POINT, normal_law(ONE_POINT, 0.0)),
         lambda: 1 / (2 * stats.norm.sf(3)), lambda answer: answer.mean),
)  # fmt: skip

# What these modules offer for one chart; each must have a case.
CHARTS = (
    control_charts,
    overdispersed_charts,
    exact_limits,
    demerit_chart,
    rare_events,
    ewma,
    cusum,
    funnel,
    watch_design,
)
CHART_WORDS = ("chart", "cusum", "funnel", "sums")


def charts_without_a_case() -> list[str]:
    """Return the public chart functions of those modules that no case covers."""
    covered = {function.__name__ for case in CASES for function in case.covers}
    offered = {
        name
        for module in CHARTS
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if function.__module__ == module.__name__ and not name.startswith("_") and "limits" not in name
        if any(name.endswith((word, f"{word}_of_chart")) or name == "ewma_of_chart" for word in CHART_WORDS)
    }
    return sorted(offered - covered)


def check_that_both_agree() -> None:
    """Fail before anything is timed if the two sides do not compute the same, or a chart is not here."""
    assert not charts_without_a_case(), charts_without_a_case()
    for case in CASES:
        assert np.allclose(case.numbers(case.ours()), case.plain()), f"{case.name}: the two sides differ"


def best(call: Callable[[], Any]) -> float:
    """Return the best time of one call, in seconds."""
    call()
    return min(repeat(call, number=20, repeat=9)) / 20


def main() -> None:
    check_that_both_agree()
    print(f"{f'{WEEKS} weeks unless said':34}{'ours':>10}{'plain':>10}{'ratio':>8}")
    for case in CASES:
        own, other = best(case.ours), best(case.plain)
        print(f"{case.name:34}{own * 1e6:8.0f} µs{other * 1e6:7.0f} µs{own / other:8.2f}")


if __name__ == "__main__":
    main()
