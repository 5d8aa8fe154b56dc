"""The chance that chance alone puts a row of points on one side: by hand, by scipy's own laws, and by drawing."""

from datetime import date

import numpy as np
import pytest
from scipy import stats

from qc.stats.charts.baselines import Standard, rate_baseline, share_baseline
from qc.stats.charts.control_charts import p_chart, u_chart
from qc.stats.charts.exact_limits import exact_p_chart, exact_u_chart
from qc.stats.charts.one_side import chance_of_one_side
from qc.stats.series import rates_of, shares_of

DAY = date(2026, 1, 5)
WEEKS = [f"W{week}" for week in range(1, 10)]


def of_rates(defects, units, per_unit):
    return exact_u_chart(rates_of(defects, units, WEEKS), Standard("told", DAY, "rate", per_unit, "invented"), 0.00135)


def of_shares(defectives, inspected, share):
    return exact_p_chart(
        shares_of(defectives, inspected, WEEKS), Standard("told", DAY, "share", share, "invented"), 0.00135
    )


def test_nine_weeks_of_none_where_one_in_ten_weeks_has_one():
    chart = of_rates([0] * 9, [5.0] * 9, 0.02)

    assert chance_of_one_side(chart, WEEKS, "low") == pytest.approx(np.exp(-0.1 * 9))  # Poisson's P(0), by hand: .407
    assert chance_of_one_side(chart, WEEKS, "high") == pytest.approx((1 - np.exp(-0.1)) ** 9)


def test_nine_weeks_of_large_counts_are_one_in_512():
    chart = of_rates([90_000] * 9, [1000.0] * 9, 99.9995)

    assert chance_of_one_side(chart, WEEKS, "low") == pytest.approx(0.5**9, rel=0.02)
    assert chance_of_one_side(chart, WEEKS, "high") == pytest.approx(0.5**9, rel=0.02)


@pytest.mark.parametrize("per_unit", [0.02, 0.1, 0.3, 1.0, 3.0])
@pytest.mark.parametrize("units", [5, 20, 80])
def test_each_week_has_its_own_size_and_its_own_law(units, per_unit):
    sizes = [units + week for week in range(9)]
    rates = of_rates([0] * 9, [float(size) for size in sizes], per_unit)
    share = 1 - np.exp(-per_unit)
    shares = of_shares([0] * 9, sizes, share)

    for chart, law in ((rates, lambda n: stats.poisson(n * per_unit)), (shares, lambda n: stats.binom(n, share))):
        means = [float(law(size).mean()) for size in sizes]
        low = np.prod([law(size).cdf(np.ceil(mean - 1e-9) - 1) for size, mean in zip(sizes, means, strict=True)])
        high = np.prod([law(size).sf(np.floor(mean + 1e-9)) for size, mean in zip(sizes, means, strict=True)])
        assert chance_of_one_side(chart, WEEKS, "low") == pytest.approx(low, rel=1e-9)
        assert chance_of_one_side(chart, WEEKS, "high") == pytest.approx(high, rel=1e-9)


def test_drawn_weeks_lie_there_as_often():
    source, runs = np.random.default_rng(5), 40_000
    counts = source.poisson(0.4, (runs, 9))

    drawn = (counts < 0.4).all(axis=1).mean()
    stated = chance_of_one_side(of_rates([0] * 9, [20.0] * 9, 0.02), WEEKS, "low")
    assert stated == pytest.approx(drawn, abs=4 * (stated / runs) ** 0.5)


def test_a_count_on_the_centre_line_is_on_neither_side():
    chart = of_shares([5] * 9, [10] * 9, 0.5)
    low, high = (chance_of_one_side(chart, ["W1"], side) for side in ("low", "high"))

    assert low == high == pytest.approx((1 - stats.binom(10, 0.5).pmf(5)) / 2)


def test_where_everything_is_defective_nothing_lies_on_a_side():
    baseline = share_baseline("b", DAY, shares_of([5, 5], [5, 5], ["A", "B"]), {})
    chart = p_chart(shares_of([5] * 9, [5] * 9, WEEKS), baseline)
    assert chance_of_one_side(chart, WEEKS, "high") < 1e-250
    assert chance_of_one_side(chart, WEEKS, "low") < 1e-250


def test_a_gap_a_stranger_and_another_kind_of_chart_are_refused():
    baseline = rate_baseline("b", DAY, rates_of([5, 6], [5, 5], ["A", "B"]), {})
    chart = u_chart(rates_of([5, 0], [5, 0], ["W1", "W2"]), baseline)

    for named in (["W2"], ["W7"], []):
        with pytest.raises(ValueError, match="labels"):
            chance_of_one_side(chart, named, "low")
    with pytest.raises(ValueError, match="side must be one of 'high', 'low', got 'both'"):
        chance_of_one_side(chart, ["W1"], "both")
