"""Exact, widened, demerit and rare-event charts, and the test that chooses: edges and properties."""

from datetime import date
from fractions import Fraction
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.special import pdtr, pdtrc
from scipy.stats import betanbinom, binom, nbinom, poisson

from qc.stats.answers import TooLittle
from qc.stats.by_command.charts.demerit_chart import demerit_chart
from qc.stats.charts.baselines import gap_baseline, given_standard, rate_baseline, share_baseline, weighted_baseline
from qc.stats.charts.control_charts import p_chart, u_chart
from qc.stats.charts.dispersion import (
    expected_poisson_counts,
    rate_chart_choice,
    rate_dispersion,
    share_chart_choice,
    share_dispersion,
)
from qc.stats.charts.exact_limits import exact_p_chart, exact_u_chart, predictive_p_chart, predictive_u_chart
from qc.stats.charts.overdispersed_charts import p_prime_chart, spread_between, u_prime_chart
from qc.stats.charts.rare_events import (
    exact_g_chart,
    exact_t_chart,
    g_chart,
    geometric_limits,
    geometric_median,
    predictive_g_chart,
    predictive_gap_limits,
    t_chart,
    times_of,
)
from qc.stats.intervals.count_limits import (
    binomial_limits,
    limits_on_tails,
    poisson_limits,
    predictive_rate_limits,
    predictive_share_limits,
)
from qc.stats.series import rates_of, shares_of

DAY = date(2024, 1, 8)
GOOD = "good units between"


def numbered(counts):
    return [str(place) for place in range(1, len(counts) + 1)]


def standard(centre, kind):
    return given_standard("agreed", DAY, kind, centre, "the plant's agreement")


@given(n=st.integers(1, 300), share=st.floats(0, 1), tail=st.floats(1e-5, 0.49))
def test_exact_limits_keep_their_promise_on_both_sides(n, share, tail):
    limits = binomial_limits(n, share, tail)

    assert 0 <= limits.lower <= limits.upper <= n
    assert limits.p_high <= tail
    assert limits.p_low <= tail


def test_every_tail_that_an_outcome_has_is_met_by_that_outcome():
    # Shares that floats hold exactly, against sums of whole fractions. Source: direct definition.
    for n in range(1, 25):
        for share in (Fraction(1, 2), Fraction(1, 4), Fraction(5, 8)):
            pmf = [comb(n, k) * share**k * (1 - share) ** (n - k) for k in range(n + 1)]
            for upper in range(n):
                tail = sum(pmf[upper + 1 :])
                if 1e-9 < tail < 0.5:
                    assert binomial_limits(n, float(share), float(tail)).upper == upper


def test_limits_of_a_huge_count_take_no_longer():
    # The normal law at this size: mean 1e15, three standard deviations are 9.5e7.
    limits = poisson_limits(1e15, 0.00135)
    apart = predictive_rate_limits(1e9, 5, 100, 0.00135)

    assert limits.upper - 1e15 == pytest.approx(3 * 1e15**0.5, rel=1e-3)
    assert apart.p_high <= 0.00135 < 1.01 * apart.p_high


@given(mean=st.floats(0, 500), tail=st.floats(1e-5, 0.49))
def test_a_smaller_tail_moves_the_limits_outwards(mean, tail):
    near, far = poisson_limits(mean, tail), poisson_limits(mean, tail / 3)

    assert far.lower <= near.lower
    assert far.upper >= near.upper


@pytest.mark.parametrize("guess", [0.0, 3.0, 28.0, 60.0, float("nan")])
def test_a_wrong_first_guess_of_a_limit_is_put_right_on_the_tails(guess):
    # Poisson, mean 16, .00135 each side: 5 and 29, by direct summation.
    limits = limits_on_tails(0.00135, None, guess, guess, lambda c: float(pdtrc(c, 16)), lambda c: float(pdtr(c, 16)))

    assert (limits.lower, limits.upper) == (5, 29)


def test_a_share_of_0_or_1_leaves_one_possible_count():
    assert (binomial_limits(9, 0.0, 0.01).lower, binomial_limits(9, 0.0, 0.01).upper) == (0, 0)
    assert (binomial_limits(9, 1.0, 0.01).lower, binomial_limits(9, 1.0, 0.01).upper) == (9, 9)
    assert poisson_limits(0.0, 0.01).upper == 0


@given(n=st.integers(1, 200), events=st.integers(0, 40), tail=st.floats(1e-4, 0.2))
def test_limits_that_allow_for_the_guess_are_wider_and_close_in_with_the_baseline(n, events, tail):
    exact = binomial_limits(n, events / 40, tail)
    short, long = (
        predictive_share_limits(n, events, 40, tail),
        predictive_share_limits(n, 10000 * events, 400_000, tail),
    )

    assert short.upper >= exact.upper
    assert short.lower <= exact.lower
    assert abs(long.upper - exact.upper) <= 1
    assert abs(long.lower - exact.lower) <= 1


@given(exposure=st.floats(0.5, 50), events=st.integers(1, 60), tail=st.floats(1e-4, 0.2))
def test_limits_on_defects_that_allow_for_the_guess_are_wider(exposure, events, tail):
    exact, predicted = poisson_limits(exposure * events / 20, tail), predictive_rate_limits(exposure, events, 20, tail)

    assert predicted.upper >= exact.upper
    assert predicted.lower <= exact.lower
    assert max(predicted.p_high, predicted.p_low) <= tail


def test_a_baseline_without_a_find_still_allows_for_one():
    baseline = share_baseline("clean", DAY, shares_of([0] * 5, [10] * 5, numbered("abcde")), {})
    exact = exact_p_chart(shares_of([1, 5], [10, 10], ["one", "five"]), baseline, 0.00135)
    predictive = predictive_p_chart(shares_of([1, 5], [10, 10], ["one", "five"]), baseline, 0.00135)

    assert exact.signals == ("one", "five")
    assert predictive.signals == ("five",)
    assert "a baseline of 0 of 50 units" in predictive.method
    assert (len(exact.cautions), predictive.cautions) == (2, ())


def test_five_weeks_make_wide_limits_for_defects_too():
    short = rate_baseline("short", DAY, rates_of([20] * 5, [10] * 5, numbered("abcde")), {})
    plain = exact_u_chart(rates_of([34], [10], ["now"]), short, 0.00135).points[0]
    allowing = predictive_u_chart(rates_of([34], [10], ["now"]), short, 0.00135).points[0]

    assert plain.upper < allowing.upper
    assert plain.centre == allowing.centre == 2.0


def test_an_exact_chart_signals_beyond_the_count_and_not_on_it():
    upper = poisson_limits(8 * 0.5, 0.00135).upper
    chart = exact_u_chart(rates_of([upper, upper + 1], [8, 8], ["on", "beyond"]), standard(0.5, "rate"), 0.00135)

    assert [point.state for point in chart.points] == ["in", "signal_high"]
    assert chart.points[0].lower is None
    partial = exact_p_chart(
        shares_of([0, 20], [20, 20], numbered("ab")), standard(0.1, "share"), 0.00135, partial_last=True
    )
    assert partial.points[-1].state == "partial"


@given(counts=st.lists(st.integers(0, 60), min_size=3, max_size=25))
def test_a_widened_chart_is_the_plain_one_times_its_spread(counts):
    sizes = [60] * len(counts)
    baseline = share_baseline("b", DAY, shares_of(counts, sizes, numbered(counts)), {})
    widened = p_prime_chart(shares_of(counts, sizes, numbered(counts)), baseline)
    if isinstance(widened, TooLittle):
        assert len(set(counts)) == 1
        return

    plain = p_chart(shares_of(counts, sizes, numbered(counts)), baseline)
    for wide, point in zip(widened.points, plain.points, strict=True):
        assert wide.sigma == pytest.approx(point.sigma * widened.spread)
        assert (wide.value, wide.centre) == (point.value, point.centre)


def test_a_baseline_of_one_value_has_no_spread_to_widen_by():
    # A tenth defective in every period, on different sizes: rounding alone would leave a spread of 1e-17.
    counts, sizes = [3, 6, 9, 12], [30, 60, 90, 120]
    baseline = share_baseline("flat", DAY, shares_of(counts, sizes, numbered(counts)), {})
    chart = p_prime_chart(shares_of(counts, sizes, numbered(counts)), baseline)

    assert isinstance(chart, TooLittle)
    assert "one and the same value" in chart.reason


def test_a_spread_below_one_narrows_the_limits_and_says_so():
    counts, sizes = [10, 11, 10, 11, 10], [40] * 5
    baseline = rate_baseline("calm", DAY, rates_of(counts, sizes, numbered(counts)), {})
    chart = u_prime_chart(rates_of(counts, sizes, numbered(counts)), baseline)

    assert chart.spread < 1
    assert chart.points[0].upper < u_chart(rates_of(counts, sizes, numbered(counts)), baseline).points[0].upper
    assert any("narrower than plain" in caution for caution in chart.cautions)


@pytest.mark.parametrize("dispersion", [1.0, 1.4, 2.0, 6.5])
@pytest.mark.parametrize(("units", "events", "size"), [(5, 0, 100), (20, 8, 400), (80, 160, 1600), (54, 3760, 1080)])
def test_predictive_limits_of_scattered_counts_are_a_negative_binomial_laws(dispersion, units, events, size):
    """Of scipy.stats: the mean as ever, the variance dispersion x (1 + units / size) times it."""
    limits = predictive_rate_limits(units, events, size, 0.00135, dispersion=dispersion)
    mean, factor = (events + 0.5) * units / size, dispersion * (1 + units / size)
    law = nbinom(mean / (factor - 1), 1 / factor)

    assert (law.mean(), law.var()) == pytest.approx((mean, factor * mean))
    assert limits.upper == law.isf(0.00135)
    assert limits.lower == (law.ppf(0.00135) if law.cdf(0) < 0.00135 else 0)
    if dispersion == 1:
        assert limits == predictive_rate_limits(units, events, size, 0.00135)


def test_a_scatter_below_chance_is_refused():
    baseline = rate_baseline("b", DAY, rates_of([9, 12], [10, 10], numbered("ab")), {})
    for damaged in (0.99, 0, -1, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="dispersion must be"):
            predictive_rate_limits(20, 8, 400, 0.00135, dispersion=damaged)
        with pytest.raises(ValueError, match="dispersion must be"):
            predictive_u_chart(rates_of([9], [10], ["now"]), baseline, 0.00135, dispersion=damaged)


def test_the_spread_takes_neighbours_in_time_and_three_periods():
    # Steps 1, 3: mean 2 over 1.128. In another order: 2, 1 (mean 1.5).
    assert spread_between([0.0, 1.0, -2.0]) == pytest.approx(2 / 1.128)
    assert spread_between([0.0, -2.0, 1.0]) == pytest.approx(2.5 / 1.128)
    assert isinstance(spread_between([0.0, 1.0]), TooLittle)


def test_excluded_and_empty_periods_do_not_enter_the_spread():
    whole = share_baseline("w", DAY, shares_of([4, 9, 6], [50, 50, 50], numbered("abc")), {})
    longer = share_baseline(
        "l", DAY, shares_of([4, 0, 9, 50, 6], [50, 0, 50, 50, 50], numbered("abcde")), {"4": "wrong jig"}
    )
    one = p_prime_chart(shares_of([5], [50], ["now"]), whole)
    other = p_prime_chart(shares_of([5], [50], ["now"]), longer)

    assert (one.spread, one.points) == (other.spread, other.points)


def test_chance_scatter_asks_for_the_plain_chart_and_more_for_the_widened_one():
    calm = rate_chart_choice(rates_of([9, 12, 10, 8], [10] * 4, numbered("abcd")), 0.99)
    wild = rate_chart_choice(rates_of([2, 40, 3, 31], [10] * 4, numbered("abcd")), 0.99)
    flat = share_chart_choice(shares_of([25] * 20, [50] * 20, numbered("a" * 20)), 0.99)

    assert (calm.kind, wild.kind, flat.kind) == ("u", "u′", "p")
    assert "which chance alone could give" in calm.reason
    assert "plain limits would signal too often" in wild.reason
    assert "mixed streams" in flat.reason


@given(counts=st.lists(st.integers(0, 50), min_size=2, max_size=20))
def test_the_order_of_periods_does_not_matter_for_the_scatter(counts):
    one = rate_dispersion(rates_of(counts, [5] * len(counts), numbered(counts)))
    other = rate_dispersion(rates_of(sorted(counts), [5] * len(counts), numbered(counts)))

    if isinstance(one, TooLittle):
        assert sum(counts) == 0
    else:
        assert other.chi_square == pytest.approx(one.chi_square)
        assert one.p_more + one.p_less == pytest.approx(1)


def test_scatter_takes_two_periods_and_something_found():
    assert isinstance(share_dispersion(shares_of([3, 0], [10, 0], ["a", "b"])), TooLittle)
    assert isinstance(share_dispersion(shares_of([0, 0], [10, 10], ["a", "b"])), TooLittle)
    assert isinstance(share_dispersion(shares_of([10, 10], [10, 10], ["a", "b"])), TooLittle)


def demerits():
    parts = {
        name: rate_baseline(name, DAY, rates_of(counts, [10, 10], numbered("ab")), {})
        for name, counts in {"critical": [1, 0], "minor": [8, 12]}.items()
    }
    return weighted_baseline("spring", DAY, parts, {"critical": 50, "minor": 1})


def test_demerits_add_the_weighted_defects():
    counts = {"minor": [8, 12, 0], "critical": [1, 0, 2]}
    chart = demerit_chart(
        {name: rates_of(found, [10, 10, 10], numbered("abc")) for name, found in counts.items()}, demerits()
    )

    assert [point.events for point in chart.points] == [58, 12, 100]
    assert [point.value for point in chart.points] == [5.8, 1.2, 10.0]
    assert chart.points[0].centre == pytest.approx(50 * 0.05 + 1.0)
    assert [point.in_baseline for point in chart.points] == [True, True, False]
    assert "critical 50, minor 1" in chart.method


def test_demerits_refuse_other_classes_and_baselines():
    with pytest.raises(ValueError, match="rates_by_class must have the classes"):
        demerit_chart({"minor": rates_of([1], [10], ["a"])}, demerits())
    with pytest.raises(ValueError, match="weights needs a weight for 'minor'"):
        weighted_baseline("b", DAY, {"minor": standard(0.1, "rate")}, {})
    with pytest.raises(ValueError, match="got a share baseline for 'minor'"):
        weighted_baseline("b", DAY, {"minor": standard(0.1, "share")}, {"minor": 1})


def test_the_sigma_chart_of_gaps_says_that_it_cannot_see_them_grow_short():
    baseline = gap_baseline("b", DAY, [30, 20, 40], numbered("abc"), {})
    chart = g_chart([0, 0, 0, 0], numbered("abcd"), baseline, GOOD)

    assert chart.signals == ()
    assert chart.points[0].lower is None
    assert any("cannot see gaps grow short" in caution for caution in chart.cautions)


def test_an_exact_chart_of_gaps_signals_short_ones_if_its_tail_allows():
    baseline = gap_baseline("b", DAY, [900, 1000, 1100], numbered("abc"), {})
    seeing = exact_g_chart([0, 5, 1000], numbered("xyz"), baseline, GOOD, 0.01)
    blind = exact_g_chart([0, 5, 1000], numbered("xyz"), baseline, GOOD, 0.00001)

    assert [point.state for point in seeing.points] == ["signal_low", "signal_low", "in"]
    assert blind.signals == ()
    assert any("No lower limit" in caution for caution in blind.cautions)


@given(mean=st.floats(0.01, 1e5), tail=st.floats(1e-5, 0.4))
def test_counting_the_event_itself_shifts_the_limits_by_one(mean, tail):
    lower, upper = geometric_limits(mean, GOOD, tail)
    lower_with, upper_with = geometric_limits(mean + 1, "up to and with the defective", tail)

    assert upper_with == upper + 1
    assert lower_with == (None if lower is None else lower + 1)


def test_the_gap_that_is_still_open_is_not_judged():
    baseline = gap_baseline("b", DAY, [30, 20, 40], numbered("abc"), {})
    chart = g_chart([30, 500], ["closed", "open"], baseline, GOOD, partial_last=True)

    assert [point.state for point in chart.points] == ["in", "partial"]


def test_times_come_back_from_the_transformed_scale():
    assert times_of(286**0.2777) == pytest.approx(286)
    assert times_of(-1.0) == 0.0


def test_times_signal_on_both_sides_of_exponential_limits():
    baseline = gap_baseline("b", DAY, [50, 150], numbered("ab"), {})
    chart = exact_t_chart([0.1, 100, 700], numbered("abc"), baseline, 0.00135)

    assert [point.state for point in chart.points] == ["signal_low", "in", "signal_high"]


def test_times_without_scatter_have_no_chart():
    alike = gap_baseline("b", DAY, [5, 5, 5], numbered("abc"), {})

    assert isinstance(t_chart([5], ["x"], alike), TooLittle)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda b: g_chart([0], ["a"], b, "up to and with the defective"), "gaps for 'a' must be a whole number of at"),
        (lambda b: g_chart([1], ["a"], b, "somehow"), "counting must be 'good units between'"),
        (lambda b: exact_g_chart([1], ["a"], b, GOOD, 0.6), "tail must be a probability between 0 and"),
        (lambda b: t_chart([-1], ["a"], b), "times must be at least 0, got -1 for 'a'"),
        (lambda b: g_chart([1], ["a"], standard(0.1, "rate"), GOOD), "must hold gaps for this chart, got rates"),
        (lambda b: gap_baseline("b", DAY, [-2], ["a"], {}), "gaps must be at least 0, got -2 for 'a'"),
        (lambda b: g_chart([0], ["a"], gap_baseline("z", DAY, [0], ["a"], {}), GOOD), "must have a mean gap above 0"),
        (lambda b: binomial_limits(10, 1.5, 0.01), "share must be between 0 and 1, got"),
    ],
)
def test_impossible_input_is_refused(call, told):
    with pytest.raises(ValueError, match=told):
        call(gap_baseline("b", DAY, [3, 4, 9], ["a", "b", "c"], {}))


@pytest.mark.parametrize("mean", [0, 0.3, 16, 800.0])
def test_expected_counts_are_the_poisson_law(mean):
    # Against scipy.stats.poisson; at 800 events a period exp(-mean) by itself is 0 in floating point.
    expected = expected_poisson_counts(200, mean, 900)

    assert expected == pytest.approx(200 * poisson.pmf(range(901), mean), rel=1e-9, abs=1e-300)


@pytest.mark.parametrize("mean", [0.2, 1, 7.5, 46, 1e6])
def test_half_of_all_gaps_are_no_longer_than_the_median(mean):
    # scipy counts the trials up to and with the event; its median is the least that half do not exceed.
    assert geometric_median(mean, GOOD) == stats.geom.ppf(0.5, 1 / (mean + 1)) - 1
    assert geometric_median(mean + 1, "up to and with the defective") == stats.geom.ppf(0.5, 1 / (mean + 1))


def test_charts_of_gaps_and_times_have_their_median():
    gaps, times = [40, 70, 20, 55, 90, 3], [40, 70, 20, 55, 90, 3.5]
    baseline = gap_baseline("b", DAY, gaps, numbered("abcdef"), {})
    of_times = gap_baseline("b", DAY, times, numbered("abcdef"), {})
    exact = exact_t_chart(times, numbered("abcdef"), of_times, 0.01)
    nelson = t_chart(times, numbered("abcdef"), of_times)

    assert exact_g_chart(gaps, numbered("abcdef"), baseline, GOOD, 0.01).median == 32
    assert g_chart(gaps, numbered("abcdef"), baseline, GOOD).median == 32
    assert exact.median == pytest.approx(stats.expon.ppf(0.5, scale=sum(times) / 6))
    assert nelson.median == nelson.points[0].centre


@pytest.mark.parametrize(("gaps", "mean"), [(8, 60), (20, 60), (8, 700)])
def test_the_next_gap_lies_beyond_limits_from_few_gaps_no_oftener_than_they_say(gaps, mean):
    """Counted: 4000 series of gaps, the next one against limits from those before, at a mean that nobody is told."""
    source = np.random.default_rng(gaps * mean)
    drawn = source.geometric(1 / (mean + 1), (4000, gaps + 1)) - 1
    limits = [predictive_gap_limits(gaps, int(row[:-1].sum()), "good units between", 0.025) for row in drawn]
    over = sum(row[-1] > high for row, (_, high) in zip(drawn, limits, strict=True))
    under = sum(low is not None and row[-1] < low for row, (low, _) in zip(drawn, limits, strict=True))

    assert binom.sf(over - 1, 4000, 0.025) > 0.001
    assert binom.sf(under - 1, 4000, 0.025) > 0.001
    # The planted fault: the mean of the baseline taken as known.
    known = [geometric_limits(row[:-1].mean(), "good units between", 0.025)[1] for row in drawn]
    assert gaps > 8 or binom.sf(sum(drawn[:, -1] > known) - 1, 4000, 0.025) < 1e-6


def test_limits_from_few_gaps_are_the_urns_and_close_in_on_the_geometric_law():
    """By hand: after 2 gaps of 3 good units in all, the next is longer than g with B(2, g + 4) / B(2, 3)."""
    chance = {g: (3 * 4) / ((3 + g + 1) * (3 + g + 2)) for g in range(400)}
    upper = predictive_gap_limits(2, 3, "good units between", 0.05)[1]

    assert upper == min(g for g in chance if chance[g] <= 0.05)
    # Reference library: scipy.stats.betanbinom, good units before one find whose chance has a beta law.
    assert predictive_gap_limits(8, 480, "good units between", 0.025) == (
        betanbinom.ppf(0.025, 1, 8, 480),
        betanbinom.isf(0.025, 1, 8, 480),
    )
    assert predictive_gap_limits(100_000, 4_600_000, "good units between", 0.01) == geometric_limits(
        46.0, "good units between", 0.01
    )
    assert predictive_gap_limits(8, 488, "up to and with the defective", 0.01) == tuple(
        limit and limit + 1 for limit in predictive_gap_limits(8, 480, "good units between", 0.01)
    )


def test_a_chart_of_few_gaps_says_that_it_allows_for_them():
    gaps = [40, 70, 20, 55, 90, 3, 61, 44]
    baseline = gap_baseline("first", DAY, gaps, [str(place) for place in range(8)], {})
    chart = predictive_g_chart([5000], ["next"], baseline, "good units between", 0.025)

    assert "a baseline of 8 gaps" in chart.method
    assert chart.cautions == ()
    assert chart.signals == ("next",)
