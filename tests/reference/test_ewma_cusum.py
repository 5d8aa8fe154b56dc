"""EWMA and cusum reproduce the handbook's worked examples and the papers' constants."""

from math import log, sqrt

import pytest

from qc.stats.by_command.charts.cusum import (
    bernoulli_constants,
    bernoulli_cusum,
    normal_cusum,
    poisson_allowance,
    poisson_cusum,
)
from qc.stats.by_command.charts.ewma import ewma_chart
from qc.stats.series import rates_of


def numbered(values):
    return [str(place) for place in range(1, len(values) + 1)]


def positions(chart):
    return [int(label) for label in chart.signals]


def test_the_handbooks_ewma(case):
    facts = case("ewma-nist")
    data, sigma = facts.given["data"], facts.given["sigma"]
    chart = ewma_chart(
        data,
        [sigma] * len(data),
        numbered(data),
        facts.given["target"],
        facts.given["lam"],
        3.0,
        "asymptotic",
    )

    facts.agrees("ewma", [point.average for point in chart.points])
    facts.agrees("ucl", chart.points[-1].upper)
    facts.agrees("lcl", chart.points[-1].lower)
    facts.agrees("factor", (chart.points[-1].upper - chart.target) / (3 * sigma))
    facts.agrees("signals", positions(chart))


def test_exact_ewma_limits_follow_the_closed_form():
    # NIST/SEMATECH e-Handbook 6.3.2.4: sigma sqrt(L/(2-L) [1-(1-L)^(2i)]).
    weight, sigma = 0.3, 2.0
    chart = ewma_chart([1.0] * 6, [sigma] * 6, numbered(range(6)), 0.0, weight, 3.0, "exact")

    closed = [3 * sigma * sqrt(weight / (2 - weight) * (1 - (1 - weight) ** (2 * i))) for i in range(1, 7)]
    assert [point.upper for point in chart.points] == pytest.approx(closed, rel=1e-12)


def test_the_handbooks_tabular_cusum(case):
    facts = case("cusum-nist")
    given = facts.given
    chart = normal_cusum(given["data"], numbered(given["data"]), given["target"], given["k"], given["h"], "never")

    facts.agrees("s_hi", [point.high for point in chart.points])
    facts.agrees("signals_hi", [int(point.label) for point in chart.points if point.state == "signal_high"])
    facts.agrees("signals_lo", [int(point.label) for point in chart.points if point.state == "signal_low"])
    assert chart.points[13].since_high == "13"


def test_the_constants_of_a_cusum_of_units(case):
    facts = case("cusum-bernoulli")
    constants = bernoulli_constants(facts.given["p0"], facts.given["p1"] / facts.given["p0"])

    facts.agrees("r1", constants.r1)
    facts.agrees("r2", constants.r2)
    facts.agrees("gamma", constants.allowance)
    facts.agrees("w_defect", constants.defective_adds)
    facts.agrees("w_good", constants.clean_adds)


def test_a_cusum_of_units_is_the_likelihood_ratio_on_another_scale():
    # Reynolds & Stoumbos (1999): the sum times r2 is the cumulated log-likelihood ratio, floored at 0.
    outcomes = [0, 1, 0, 0, 1, 1, 0, 0, 0, 1]
    chart = bernoulli_cusum(outcomes, numbered(outcomes), 0.1, 3.0, 50.0, "never")
    constants = bernoulli_constants(0.1, 3.0)

    ratio, floored = 0.0, []
    for outcome in outcomes:
        ratio = max(0.0, ratio + (log(0.3 / 0.1) if outcome else log(0.7 / 0.9)))
        floored.append(ratio)
    assert [point.high * constants.r2 for point in chart.points] == pytest.approx(floored, abs=1e-12)


def test_the_reference_value_of_a_poisson_cusum():
    # Lucas (1985): k = (7 - 5)/(ln 7 - ln 5) = 5.944 for 5 against 7, by calculator.
    assert poisson_allowance(5, 7 / 5) == pytest.approx(5.944, abs=0.0005)


def test_a_poisson_cusum_weighs_periods_by_their_exposure():
    # The log-likelihood ratio of the period, c ln(u1/u0) - n (u1 - u0), on the scale of defects.
    defects, units = [3, 9, 14], [4, 6, 5]
    chart = poisson_cusum(rates_of(defects, units, numbered(defects)), 1.0, 2.0, 100.0, "never")

    steps = [c - n / log(2) for c, n in zip(defects, units, strict=True)]
    expected = [max(0.0, steps[0])]
    for step in steps[1:]:
        expected.append(max(0.0, expected[-1] + step))
    assert [point.high for point in chart.points] == pytest.approx(expected, abs=1e-12)
