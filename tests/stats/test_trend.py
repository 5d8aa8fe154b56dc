"""Trends: edges, order, scale, refusals. Sources: tests/reference/test_trend_cases.py."""

import math
from statistics import median

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.by_command.change import pairs_in_time
from qc.stats.by_command.change.likelihood_climb import climbed
from qc.stats.by_command.change.rate_trend import negative_binomial_trend, poisson_trend, quasi_poisson_trend
from qc.stats.by_command.change.regression import negative_binomial_regression, poisson_regression
from qc.stats.by_command.change.trend import cochran_armitage, mann_kendall_exact, mann_kendall_normal
from qc.stats.series import rates_of, shares_of

ABC = ("a", "b", "c")


def weekly(trend, counts, units=None, level=0.95):
    n = len(counts)
    return trend(rates_of(counts, units or (10,) * n, tuple(map(str, range(n)))), tuple(range(n)), level)


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(30, 60)), min_size=3, max_size=7), st.floats(0.1, 50))
def test_the_scale_of_the_scores_does_not_matter(groups, scale):
    bad, n = zip(*groups, strict=True)
    labels = tuple(map(str, range(len(groups))))
    one, other = (cochran_armitage(shares_of(bad, n, labels), [k * i + 3 for i in range(len(n))]) for k in (1, scale))
    if isinstance(one, TooLittle):
        assert isinstance(other, TooLittle)
        return

    assert other.z == pytest.approx(one.z, abs=1e-9)
    assert other.slope * scale == pytest.approx(one.slope, abs=1e-9)


def test_turning_the_scores_round_turns_the_sign():
    up = cochran_armitage(shares_of((1, 3, 6), (20, 20, 20), ABC), (1, 2, 3))
    down = cochran_armitage(shares_of((6, 3, 1), (20, 20, 20), ABC), (1, 2, 3))

    assert up.z == pytest.approx(-down.z)
    assert up.slope > 0 > down.slope


def test_a_straight_line_has_no_departure():
    answer = cochran_armitage(shares_of((2, 4, 6), (20, 20, 20), ABC), (1, 2, 3))

    assert answer.departure == pytest.approx(0, abs=1e-12)
    assert answer.slope == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("bad", "n", "scores"),
    [((0, 0, 0), (9, 9, 9), (1, 2, 3)), ((9, 9, 9), (9, 9, 9), (1, 2, 3)), ((1, 2, 0), (9, 9, 0), (1, 2, 3)),
     ((1, 2, 3), (9, 9, 9), (2, 2, 2))],
)  # fmt: skip
def test_shares_without_a_trend_to_tell_say_so(bad, n, scores):
    assert isinstance(cochran_armitage(shares_of(bad, n, ABC), scores), TooLittle)


@given(st.lists(st.integers(-1000, 1000), min_size=3, max_size=14, unique=True))
def test_exact_sides_share_the_seen_value_and_time_reversed_swaps_them(values):
    there, back = mann_kendall_exact(values), mann_kendall_exact(values[::-1])

    assert there.p_rising + there.p_falling > 1
    assert (back.p_rising, back.p_falling) == (there.p_falling, there.p_rising)


@given(st.lists(st.integers(0, 9), min_size=4, max_size=20))
def test_only_the_order_of_the_values_matters(values):
    one, other = mann_kendall_normal(values), mann_kendall_normal([v**3 for v in values])
    if isinstance(one, TooLittle):
        return

    assert (one.s, one.p_value, one.ties) == (other.s, other.p_value, other.ties)


def test_the_normal_p_value_nears_the_exact_one():
    """By construction: twelve values with five inversions."""
    values = [1, 0, 3, 2, 5, 4, 7, 6, 9, 8, 10, 11]

    assert mann_kendall_normal(values).p_value == pytest.approx(mann_kendall_exact(values).p_value, abs=2e-4)


def test_as_many_rises_as_falls_is_no_trend_at_all():
    answer = mann_kendall_normal([2, 1, 1, 2])

    assert (answer.s, answer.p_value) == (0, 1.0)


def test_all_rising_is_one_order_out_of_all():
    answer = mann_kendall_exact([1, 2, 3, 4, 5, 6])

    assert answer.p_rising == pytest.approx(1 / math.factorial(6))
    assert answer.p_falling == 1
    assert answer.slope == 1


def test_ties_are_refused_by_the_exact_and_taken_by_the_normal_distribution():
    with pytest.raises(ValueError, match=r"values must all differ .* got 4.0 more than once"):
        mann_kendall_exact([4, 4, 5])
    assert mann_kendall_normal([4, 4, 5]).ties == 2


@pytest.mark.parametrize("values", [[1, 2], []])
def test_two_values_are_no_trend(values):
    assert isinstance(mann_kendall_exact(values), TooLittle)
    assert isinstance(mann_kendall_normal(values), TooLittle)
    assert isinstance(mann_kendall_normal([5, 5, 5, 5]), TooLittle)


@pytest.mark.parametrize("trend", [poisson_trend, quasi_poisson_trend, negative_binomial_trend])
def test_a_steady_rate_on_uneven_weeks_has_ratio_1(trend):
    answer = weekly(trend, (10, 2, 10, 20, 10), units=(50, 10, 50, 100, 50))

    assert answer.ratio == pytest.approx(1)
    assert answer.low < 1 < answer.high
    assert not answer.scattered


@pytest.mark.parametrize("trend", [poisson_trend, quasi_poisson_trend, negative_binomial_trend])
def test_a_week_without_units_is_a_gap(trend):
    answer = weekly(trend, (10, 0, 12, 14), units=(50, 0, 50, 50))

    assert answer.gaps == ("1",)


def test_calendar_numbers_do_not_upset_the_fit():
    counts, labels = (10, 12, 15, 13, 18), tuple("abcde")
    near, far = (
        poisson_trend(rates_of(counts, (50,) * 5, labels), tuple(start + i for i in range(5)), 0.95)
        for start in (0, 738_000)
    )

    assert far.ratio == pytest.approx(near.ratio)
    assert far.high == pytest.approx(near.high)


def test_scatter_beyond_poisson_is_told_and_widens_the_interval():
    counts = (10, 60, 12, 70, 9, 80, 11, 66)
    plain, wide = weekly(poisson_trend, counts), weekly(quasi_poisson_trend, counts)

    assert plain.scattered
    assert wide.low < plain.low < plain.high < wide.high
    assert math.isfinite(weekly(negative_binomial_trend, counts).regression.theta)


def test_counts_steadier_than_poisson_are_not_narrowed():
    answer = weekly(quasi_poisson_trend, (10, 10, 11, 10, 10, 11))

    assert answer.regression.dispersion == 1
    assert weekly(negative_binomial_trend, (10, 10, 11, 10, 10, 11)).regression.theta == math.inf


@pytest.mark.parametrize("counts", [(0, 0, 0, 0, 9), (9, 0, 0, 0, 0), (0, 0, 0, 0, 0), (3, 4)])
def test_a_slope_that_would_run_off_is_too_little(counts):
    assert isinstance(weekly(poisson_trend, counts), TooLittle)
    assert isinstance(weekly(negative_binomial_trend, counts), TooLittle)


def test_one_defect_in_the_middle_has_a_slope():
    assert weekly(poisson_trend, (0, 0, 1, 0, 0)).ratio == pytest.approx(1)


def test_columns_that_repeat_each_other_are_too_little():
    answer = poisson_regression(
        rates_of((1, 2, 3, 4, 5), (1,) * 5, "abcde"), ([0, 1, 2, 3, 4], [0, 2, 4, 6, 8]), ("t", "2t"), 0.95
    )

    assert isinstance(answer, TooLittle)
    assert "repeat" in answer.reason


def test_a_short_column_is_refused_by_name():
    with pytest.raises(ValueError, match=r"columns\['model'\] must be as many as rates \(4\), got 3"):
        negative_binomial_regression(rates_of((1, 2, 3, 4), (1,) * 4, "abcd"), ([0, 1, 2],), ("model",), 0.95)


def test_the_orders_of_many_values_are_counted_in_whole_numbers():
    # All orders of n values are n!, and half of them rise as much as fall or more. Source: symmetry.
    answer = mann_kendall_exact([float(i * 7919 % 151) for i in range(150)])

    assert answer.p_rising + answer.p_falling > 1
    assert mann_kendall_normal(answer.values).p_value == pytest.approx(answer.p_value, rel=0.01)
    with pytest.raises(ValueError, match=r"at most 200 .* got 201"):
        mann_kendall_exact([float(i) for i in range(201)])
    with pytest.raises(ValueError, match=r"at most 5000, got 5001"):
        mann_kendall_normal([float(i) for i in range(5001)])


def test_a_ratio_that_no_number_holds_is_refused_with_what_would_do():
    with pytest.raises(ValueError, match="times must be told in a smaller unit"):
        poisson_trend(rates_of([3, 4, 5, 6, 9], [10] * 5, "abcde"), [place * 1e-12 for place in range(5)], 0.95)


@pytest.mark.parametrize("regression", [poisson_regression, negative_binomial_regression])
@pytest.mark.parametrize(
    ("counts", "exposures", "column"),
    [
        ([5, 10, 10_000_000, 9, 10, 3], [10.0] * 6, [2, 2, 1, 3, 100, 6.5]),
        ([1000, 20, 1000, 30, 2, 2], [2.0, 12.5, 0.99, 1e-9, 15.0, 10.0], [1, 2, 3, 4, 5, 6.5]),
        ([8, 11, 6, 0, 14, 2], [10.0] * 6, [10, 1, 100, 10_000_000, 5, 6.5]),
        ([1, 20, 0, 0, 0, 40], [10.0, 12.5, 8.0, 10.0, 15.0, 10.0], [0, 2, 3, 4, 1000, 0.05]),
        ([1, 20, 1000, 10_000_000, 3, 40], [5] * 6, [1, 2, 3, 4, 5, 6.5]),
    ],
)
def test_a_fit_that_does_not_settle_is_no_answer(regression, counts, exposures, column):
    # On each of these some step of the fit overflows: a finite answer, or none, but no warning and no nan.
    answer = regression(rates_of(counts, exposures, range(6)), [column], ["time"], 0.95)

    if isinstance(answer, TooLittle):
        assert "did not settle" in answer.reason
    else:
        assert all(map(math.isfinite, [*answer.coefficients, *answer.errors, answer.deviance]))


@pytest.mark.parametrize(
    ("counts", "exposures", "column", "log_likelihood", "theta"),
    [
        ([3, 2, 300, 12, 12, 3], [1e6, 3, 5, 1e6, 1e6, 1], [-2.5, 300, -2.5, 300, 0.001, 2], -32.978789482, 0.119423),
        ([1000, 20, 1000, 30, 2, 2], [2, 12.5, 0.99, 1e-9, 15, 10], [1, 2, 3, 4, 5, 6.5], -44.935211631, 0.058853),
        ([1, 20, 3, 30, 2, 40], [10, 12.5, 8, 10, 15, 10], [1, 2, 3, 4, 5, 6.5], -21.932909269, 0.999908),
    ],
)
def test_the_negative_binomial_fit_is_the_highest_there_is(counts, exposures, column, log_likelihood, theta):
    # Against scipy's Nelder-Mead on the whole likelihood from 24 starts; the library's own steps overflow on the first.
    answer = negative_binomial_regression(rates_of(counts, exposures, range(len(counts))), [column], ["x"], 0.95)

    assert answer.log_likelihood == pytest.approx(log_likelihood, abs=1e-8)
    assert answer.theta == pytest.approx(theta, rel=1e-4)


@pytest.mark.parametrize("theta", [0.05, 3.0, math.inf])
def test_the_climb_arrives_where_the_slope_is_level(theta):
    counts, offset = np.array([3.0, 2, 300, 12, 12, 3]), np.log([1e6, 3, 5, 1e6, 1e6, 1])
    design = np.column_stack([np.ones(6), [-2.5, 300, -2.5, 300, 0.001, 2]])
    mean = np.exp(offset + design @ climbed(counts, offset, design, theta))
    surprise = (counts - mean) / (1 if math.isinf(theta) else 1 + mean / theta)

    assert design.T @ surprise / np.abs(design).max(axis=0) == pytest.approx([0, 0], abs=1e-4)


@given(st.lists(st.one_of(st.integers(0, 4).map(float), st.floats(-1e6, 1e6)), min_size=3, max_size=25))
@settings(max_examples=40)
def test_rises_and_slopes_are_those_of_every_pair(values):
    found = mann_kendall_normal(values)
    if isinstance(found, TooLittle):
        return
    pairs = [(i, j) for i in range(len(values)) for j in range(i + 1, len(values))]

    assert found.s == sum((values[j] > values[i]) - (values[j] < values[i]) for i, j in pairs)
    assert found.slope == float(median((values[j] - values[i]) / (j - i) for i, j in pairs))


def drawn_values(ties):
    source = np.random.default_rng(3)
    return (source.integers(0, 6, 700) if ties else source.normal(size=700)).astype(float)


@pytest.mark.parametrize("ties", [False, True])
@pytest.mark.parametrize("around", [None, (9.0, 9.5), (-9.5, -9.0)])  # a sample that lies above or below the median
def test_the_median_slope_of_many_values_is_that_of_every_pair(ties, around, monkeypatch):
    values = drawn_values(ties)
    i, j = np.triu_indices(len(values), 1)
    if around:
        monkeypatch.setattr(pairs_in_time, "_around_the_median", lambda _: around)

    assert pairs_in_time.median_slope(values) == np.median((values[j] - values[i]) / (j - i))
    assert pairs_in_time.rises_less_falls(values) == np.sign(values[j] - values[i]).sum()
