"""EWMA and cusum at their edges; the worked examples are in tests/reference."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.by_command.charts.cusum import bernoulli_cusum, normal_cusum, poisson_allowance, poisson_cusum
from qc.stats.by_command.charts.ewma import ewma_chart, ewma_of_chart
from qc.stats.charts.baselines import given_standard
from qc.stats.charts.control_charts import np_chart, p_chart
from qc.stats.series import rates_of, shares_of

DAY = date(2024, 1, 8)
values = st.lists(st.floats(-5, 5), min_size=1, max_size=30)


def numbered(items):
    return [str(place) for place in range(1, len(items) + 1)]


def ewma(z, weight=0.2, **more):
    sigmas = [None if value is None else 1.0 for value in z]
    return ewma_chart(z, sigmas, numbered(z), 0.0, weight, 3.0, "exact", **more)


@given(z=values, weight=st.floats(0.01, 1))
def test_an_average_stays_among_its_values_and_its_target(z, weight):
    averages = [point.average for point in ewma(z, weight).points]

    assert min([0, *z]) - 1e-9 <= min(averages)
    assert max(averages) <= max([0, *z]) + 1e-9


@given(z=values)
def test_a_weight_of_one_is_the_chart_of_the_values(z):
    assert [point.average for point in ewma(z, 1.0).points] == z


def test_a_gap_and_a_running_period_leave_the_average_where_it_was():
    chart = ewma([1.0, None, 9.0], partial_last=True)

    assert [point.state for point in chart.points] == ["in", "gap", "partial"]
    assert [point.average for point in chart.points] == pytest.approx([0.2, 0.2, 0.2])


def test_an_ewma_reads_a_p_chart_with_periods_of_different_size():
    standard = given_standard("agreed", DAY, "share", 0.1, "the plant's agreement")
    chart = p_chart(shares_of([2, 0, 30, 5], [20, 0, 200, 9], numbered("abcd")), standard, partial_last=True)
    read = ewma_of_chart(chart, 0.3, 3.0)

    assert read.target == 0.1
    assert [point.state for point in read.points] == ["in", "gap", "in", "partial"]
    # Variance .09 (.3^2/200 + .7^2 .3^2/20), by hand.
    expected = 3 * (0.09 * (0.09 / 200 + 0.49 * 0.09 / 20)) ** 0.5
    assert read.points[2].upper - 0.1 == pytest.approx(expected)


def test_an_ewma_refuses_a_centre_that_moves():
    standard = given_standard("agreed", DAY, "share", 0.1, "the plant's agreement")
    chart = np_chart(shares_of([1, 1], [40, 10], numbered("ab")), standard, partial_last=True)

    with pytest.raises(ValueError, match="chart must have one centre line for an EWMA, got 2 on the np chart"):
        ewma_of_chart(chart, 0.3, 3.0)


@given(z=values)
def test_turning_the_values_over_exchanges_the_sums(z):
    up = normal_cusum(z, numbered(z), 0.0, 0.5, 4.0, "never")
    down = normal_cusum([-value for value in z], numbered(z), 0.0, 0.5, 4.0, "never")

    assert [point.high for point in up.points] == [point.low for point in down.points]
    assert all(point.high >= 0 and point.low >= 0 for point in up.points)


def test_a_sum_on_the_decision_interval_does_not_signal():
    chart = normal_cusum([1.5, 1.5, 1.5], numbered("abc"), 0.0, 0.5, 2.0, "never")

    assert [point.high for point in chart.points] == [1.0, 2.0, 3.0]
    assert chart.signals == ("3",)
    # Three tenths are three tenths, whatever floating point makes of their sum.
    tenths = normal_cusum([0.1] * 3, numbered("abc"), 0.0, 0.0, 0.3, "never")
    assert tenths.signals == ()


def test_a_restart_begins_from_nothing_after_a_signal():
    z = [3.0, 3.0, 3.0]

    assert normal_cusum(z, numbered(z), 0.0, 0.5, 4.0, "never").signals == ("2", "3")
    restarted = normal_cusum(z, numbered(z), 0.0, 0.5, 4.0, "after signal")
    assert restarted.signals == ("2",)
    assert restarted.points[2].high == 2.5


def test_a_sum_tells_where_it_began_to_grow():
    chart = normal_cusum([1.0, -2.0, 0.9, 0.9, 0.9], numbered("abcde"), 0.0, 0.5, 1.0, "never")

    assert [point.since_high for point in chart.points] == ["1", "", "3", "3", "3"]
    assert chart.points[1].since_low == "2"


def test_gaps_and_running_periods_add_nothing():
    chart = poisson_cusum(
        rates_of([5, 0, 5, 9], [2, 0, 2, 1], numbered("abcd")), 1.0, 2.0, 3.0, "never", partial_last=True
    )

    assert [point.state for point in chart.points] == ["in", "gap", "signal_high", "partial"]
    assert chart.points[1].high == chart.points[0].high
    assert chart.points[3].high == chart.points[2].high
    assert [point.low for point in chart.points] == [None] * 4


def test_a_cusum_can_watch_for_an_improvement():
    chart = poisson_cusum(rates_of([0] * 12, [1] * 12, numbered("a" * 12)), 1.0, 0.5, 4.0, "never")

    assert chart.watches == "down"
    assert chart.signals[0] == "6"
    assert chart.points[-1].state == "signal_low"


def test_a_stated_reference_value_is_the_one_taken_off():
    chart = poisson_cusum(rates_of([5, 7], [1, 2], numbered("ab")), 4.0, 1.25, 9.0, "never", allowance=4.5)
    units = bernoulli_cusum([1, 0], numbered("ab"), 0.01, 5.0, 1.5, "never", allowance=0.025)

    assert chart.allowance == 4.5
    assert [point.high for point in chart.points] == [0.5, 0.0]
    assert [point.high for point in units.points] == pytest.approx([0.975, 0.95])


def test_units_are_watched_one_by_one():
    chart = bernoulli_cusum([0, 1, 1, 0], numbered("abcd"), 0.01, 5.0, 1.5, "never")

    assert chart.signals == ("3", "4")


@given(rate=st.floats(0.01, 50), factor=st.floats(1.05, 20))
def test_the_allowance_lies_between_the_two_rates(rate, factor):
    allowance = poisson_allowance(rate, factor)

    assert rate < allowance < rate * factor
    assert poisson_allowance(rate * factor, 1 / factor) == pytest.approx(allowance)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: ewma([1.0], 0.0), "weight must be above 0 and at most 1, got"),
        (
            lambda: ewma_chart([1.0], [None], ["a"], 0, 0.2, 3, "exact"),
            "both be None in a gap, got one of them for 'a'",
        ),
        (lambda: ewma_chart([1.0] * 2, [1, 2], ["a", "b"], 0, 0.2, 3, "asymptotic"), "sigmas must be equal"),
        (lambda: normal_cusum([1.0], ["a"], 0, -1, 4, "never"), "allowance must be at least 0, got -1"),
        (lambda: normal_cusum([float("inf")], ["a"], 0, 1, 4, "never"), "got inf for 'a'"),
        (
            lambda: normal_cusum([1.0], ["a"], 0, 1, 4, "sometimes"),
            "restart must be one of 'never', 'after signal', got 'sometimes'",
        ),
        (lambda: normal_cusum([1.0], ["a"], 0, 1, 0, "never"), "decision must be more than 0, got 0"),
        (lambda: poisson_allowance(2, 1), "ratio must differ from 1"),
        (
            lambda: poisson_cusum(rates_of([2], [1], ["a"]), 4, 1.25, 9, "never", allowance=5),
            "allowance must lie between 4 and 5",
        ),
        (lambda: bernoulli_cusum([2], ["a"], 0.1, 2, 3, "never", allowance=1), "allowance must lie between 0.1"),
        (lambda: bernoulli_cusum([2], ["a"], 0.1, 2, 3, "never"), "defective must be true or false, got 2 for 'a'"),
        (lambda: bernoulli_cusum([1], ["a"], 0.0, 2, 3, "never"), "share must be above 0 and below 1, got"),
    ],
)
def test_impossible_input_is_refused(call, told):
    with pytest.raises(ValueError, match=told):
        call()
