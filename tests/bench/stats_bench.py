"""Each chart and interval against the plainest numpy or scipy call for the same numbers, as ratios.

Run it: python tests/bench/stats_bench.py. A ratio below 1 means that the project's own call is quicker, although it
also checks its input and answers point by point with its evidence. The numbers of both are compared first.
Times are the best of several rounds; absolute times depend on the machine and are there for the order of magnitude.
"""

from collections.abc import Callable
from datetime import date
from timeit import repeat

import numpy as np
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from qc.stats.baselines import Baseline, rate_baseline, share_baseline
from qc.stats.control_charts import p_chart, u_chart
from qc.stats.cusum import poisson_cusum
from qc.stats.dispersion import rate_dispersion
from qc.stats.ewma import ewma_of_chart
from qc.stats.exact_limits import exact_p_chart
from qc.stats.intervals import clopper_pearson_interval, poisson_interval, wilson_interval
from qc.stats.overdispersed_charts import p_prime_chart
from qc.stats.pareto import pareto
from qc.stats.point_laws import normal_law
from qc.stats.run_length import rules_run_length
from qc.stats.run_rules import BEYOND_3S, WESTERN_ELECTRIC_1956, RuleSet, run_rules

WEEKS = 104
RANDOM = np.random.default_rng(20240108)
LABELS = [f"week {week}" for week in range(1, WEEKS + 1)]
INSPECTED = [int(size) for size in RANDOM.integers(20, 90, WEEKS)]
DEFECTIVES = [int(RANDOM.binomial(size, 0.15)) for size in INSPECTED]
DEFECTS = [int(RANDOM.poisson(2.3 * size)) for size in INSPECTED]
SHARES = share_baseline("first year", date(2024, 1, 8), LABELS[:52], DEFECTIVES[:52], INSPECTED[:52], {})
RATES = rate_baseline("first year", date(2024, 1, 8), LABELS[:52], DEFECTS[:52], INSPECTED[:52], {})
assert isinstance(SHARES, Baseline)
assert isinstance(RATES, Baseline)

d, n, c = np.array(DEFECTIVES), np.array(INSPECTED), np.array(DEFECTS)
P, U = SHARES.centre, RATES.centre


def numpy_p() -> object:
    sigma = np.sqrt(P * (1 - P) / n)
    upper, lower = np.minimum(1, P + 3 * sigma), np.maximum(0, P - 3 * sigma)
    return upper, (d / n > upper) | (d / n < lower)


def numpy_u() -> object:
    sigma = np.sqrt(U / n)
    return U + 3 * sigma, c / n > U + 3 * sigma


def numpy_p_prime() -> object:
    sigma = np.sqrt(P * (1 - P) / n)
    z = (d / n - P) / sigma
    return P + 3 * sigma * np.abs(np.diff(z[:52])).mean() / 1.128


def scipy_exact() -> object:
    return stats.binom.ppf(1 - 0.00135, n, P), stats.binom.ppf(0.00135, n, P)


def numpy_runs() -> object:
    z = (d / n - P) / np.sqrt(P * (1 - P) / n)
    one = np.abs(z) > 3
    found = [one]
    for zone, need, of in ((2, 2, 3), (1, 4, 5), (0, 8, 8)):
        for side in (z, -z):
            beyond = side > zone
            found.append(beyond & (np.convolve(beyond, np.ones(of))[: len(z)] >= need))
    return found


def numpy_ewma() -> object:
    averages, average = np.empty(WEEKS), P
    for week, value in enumerate(d / n):
        averages[week] = average = 0.2 * value + 0.8 * average
    return averages


def numpy_cusum() -> object:
    sums, height, k = np.empty(WEEKS), 0.0, (0.5 * U) / np.log(1.5)
    for week in range(WEEKS):
        sums[week] = height = max(0.0, height + c[week] - n[week] * k)
    return sums


def numpy_pareto() -> object:
    order = np.argsort(-c, kind="stable")
    return order, np.cumsum(c[order]) / c.sum()


def scipy_dispersion() -> object:
    return stats.chisquare(c, c.sum() * n / n.sum())


def numpy_run_length() -> object:
    return 1 / (2 * stats.norm.sf(3))


CHART = p_chart(DEFECTIVES, INSPECTED, LABELS, SHARES)
ONE_POINT = RuleSet("one point", "common", (BEYOND_3S,))
CASES: list[tuple[str, Callable[[], object], Callable[[], object]]] = [
    ("p chart, 104 weeks", lambda: p_chart(DEFECTIVES, INSPECTED, LABELS, SHARES), numpy_p),
    ("u chart, 104 weeks", lambda: u_chart(DEFECTS, INSPECTED, LABELS, RATES), numpy_u),
    ("p′ chart, 104 weeks", lambda: p_prime_chart(DEFECTIVES, INSPECTED, LABELS, SHARES), numpy_p_prime),
    ("exact p chart, 104 weeks", lambda: exact_p_chart(DEFECTIVES, INSPECTED, LABELS, SHARES, 0.00135), scipy_exact),
    (
        "run rules of 1956, 104 weeks",
        lambda: run_rules(CHART.standardised, LABELS, WESTERN_ELECTRIC_1956, across_gaps=False),
        numpy_runs,
    ),
    ("EWMA, 104 weeks", lambda: ewma_of_chart(CHART, 0.2, 3.0), numpy_ewma),
    (
        "Poisson cusum, 104 weeks",
        lambda: poisson_cusum(DEFECTS, INSPECTED, LABELS, U, 1.5 * U, 20.0, "never"),
        numpy_cusum,
    ),
    ("Pareto, 104 causes", lambda: pareto(LABELS, DEFECTS, DEFECTS, "defects", other="Others"), numpy_pareto),
    ("dispersion test, 104 weeks", lambda: rate_dispersion(LABELS, DEFECTS, INSPECTED), scipy_dispersion),
    ("Wilson interval", lambda: wilson_interval(15, 148, 0.95), lambda: proportion_confint(15, 148, method="wilson")),
    (
        "Clopper-Pearson interval",
        lambda: clopper_pearson_interval(15, 148, 0.95),
        lambda: proportion_confint(15, 148, method="beta"),
    ),
    ("Garwood interval", lambda: poisson_interval(7, 20, 0.95), lambda: stats.chi2.ppf([0.025, 0.975], [14, 16]) / 40),
    (
        "run length, one point beyond 3",
        lambda: rules_run_length(ONE_POINT, normal_law(ONE_POINT, 0.0)),
        numpy_run_length,
    ),
]


def check_that_both_agree() -> None:
    """Fail before anything is timed if the two sides do not compute the same."""
    upper, out = numpy_p()  # type: ignore[misc]
    assert np.allclose([point.upper for point in CHART.points], upper)
    assert [point.is_signal for point in CHART.points] == list(out)
    rates = u_chart(DEFECTS, INSPECTED, LABELS, RATES)
    assert np.allclose([point.upper for point in rates.points], numpy_u()[0])  # type: ignore[index]
    exact = exact_p_chart(DEFECTIVES, INSPECTED, LABELS, SHARES, 0.00135)
    assert np.allclose([point.upper * point.size for point in exact.points], scipy_exact()[0])  # type: ignore[index]
    reading = run_rules(CHART.standardised, LABELS, WESTERN_ELECTRIC_1956, across_gaps=False)
    assert len(reading.findings) == sum(int(found.sum()) for found in numpy_runs())  # type: ignore[attr-defined]
    assert np.allclose([point.average for point in ewma_of_chart(CHART, 0.2, 3.0).points], numpy_ewma())
    sums = poisson_cusum(DEFECTS, INSPECTED, LABELS, U, 1.5 * U, 20.0, "never")
    assert np.allclose([point.high for point in sums.points], numpy_cusum())


def best(call: Callable[[], object]) -> float:
    """Return the best time of one call, in seconds."""
    call()
    return min(repeat(call, number=20, repeat=9)) / 20


def main() -> None:
    check_that_both_agree()
    print(f"{'':34}{'ours':>10}{'plain':>10}{'ratio':>8}")
    for name, ours, plain in CASES:
        own, other = best(ours), best(plain)
        print(f"{name:34}{own * 1e6:8.0f} µs{other * 1e6:7.0f} µs{own / other:8.2f}")


if __name__ == "__main__":
    main()
