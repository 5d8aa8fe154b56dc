"""Run lengths: order, edges and refusals; the published tables are in tests/reference."""

from fractions import Fraction
from itertools import pairwise, product
from math import exp, expm1, inf, log1p, prod

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from qc.stats.by_command.charts.chart_design import size_for_even_chance, size_for_lower_limit
from qc.stats.by_command.charts.cusum import poisson_cusum
from qc.stats.by_command.run_lengths.point_laws import PointLaw, normal_law, rate_law, share_law
from qc.stats.by_command.run_lengths.run_length import rules_run_length, signal_probability, zone_rules
from qc.stats.by_command.run_lengths.sequential_run_length import (
    bernoulli_cusum_run_length,
    ewma_run_length,
    normal_cusum_run_length,
    poisson_cusum_design,
    poisson_cusum_run_length,
)
from qc.stats.charts.run_rules import BEYOND_3S, NELSON_1984, WESTERN_ELECTRIC_1956, Rule, RuleSet, run_rules
from qc.stats.series import rates_of

ONE_POINT = RuleSet("one point", "common", (BEYOND_3S,))


@given(shift=st.floats(-6, 6))
@settings(max_examples=30)
def test_the_law_of_a_point_is_whole(shift):
    assert sum(normal_law(WESTERN_ELECTRIC_1956, shift).probabilities) == pytest.approx(1, abs=1e-12)


@given(n=st.integers(1, 200), share=st.floats(0.01, 0.99), true=st.floats(0, 1))
def test_the_law_of_a_count_is_whole(n, share, true):
    ratio = min(true, 1 - 1e-9) / share
    assert sum(share_law(share, n, ratio).probabilities) == pytest.approx(1, abs=1e-9)
    assert sum(rate_law(share, n, ratio).probabilities) == pytest.approx(1, abs=1e-12)


def test_more_rules_signal_sooner_in_and_out_of_control():
    for shift in (0.0, 0.5, 2.0):
        few = rules_run_length(ONE_POINT, normal_law(ONE_POINT, shift)).mean
        many = rules_run_length(WESTERN_ELECTRIC_1956, normal_law(WESTERN_ELECTRIC_1956, shift)).mean
        assert many < few


def test_shifts_up_and_down_take_equally_long():
    up, down = (rules_run_length(WESTERN_ELECTRIC_1956, normal_law(WESTERN_ELECTRIC_1956, s)).mean for s in (0.7, -0.7))

    assert up == pytest.approx(down)


def test_the_mean_is_the_sum_of_the_chances_of_no_signal_yet():
    rules = WESTERN_ELECTRIC_1956
    law = normal_law(rules, 3.0)

    assert signal_probability(rules, law, 0) == 0
    total = sum(1 - signal_probability(rules, law, points) for points in range(16))
    assert rules_run_length(rules, law).mean == pytest.approx(total, rel=1e-6)


def test_a_chart_that_cannot_signal_says_never():
    # Two units, half defective: no count lies three standard deviations out.
    assert rules_run_length(ONE_POINT, share_law(0.5, 2, 1.0)).mean == inf
    assert poisson_cusum_run_length(0.0, 1.0, 3.0).mean == inf
    assert bernoulli_cusum_run_length(0.0, 0.5, 3.0).mean == inf


def test_a_higher_decision_waits_longer():
    assert normal_cusum_run_length(0, 0.5, 5).mean > normal_cusum_run_length(0, 0.5, 4).mean
    assert poisson_cusum_run_length(1, 1.5, 5).mean > poisson_cusum_run_length(1, 1.5, 4.5).mean
    assert ewma_run_length(0, 0.2, 3.0).mean > ewma_run_length(0, 0.2, 2.5).mean


def test_quiet_and_mixed_patterns_are_chained_as_they_are_read():
    # Every row of five such points, those on a zone line among them, read by the rules one by one.
    within = Rule("3_within", "three within 1", "within", 3, 3, 1.0)
    outside = Rule("3_outside", "three outside 1 on both sides", "outside", 3, 3, 1.0)
    rules = RuleSet("short", "made for this test", (within, outside))
    chances = {-2.0: 0.1, -1.0: 0.2, 0.5: 0.3, 1.0: 0.15, 2.0: 0.25}
    law = PointLaw(tuple(chances), tuple(chances.values()), "five values")
    for points in (3, 4, 5):
        quiet = sum(
            prod(chances[value] for value in row)
            for row in product(chances, repeat=points)
            if not run_rules(row, [str(i) for i in range(points)], rules, across_gaps=False).findings
        )

        assert 1 - signal_probability(rules, law, points) == pytest.approx(quiet, rel=1e-9)


@pytest.mark.parametrize(("mean", "shifted", "wanted"), [(4.0, 7.0, 370), (0.6, 1.4, 200), (0.05, 0.2, 100)])
def test_a_cusum_is_designed_to_the_least_decision_that_is_quiet_enough(mean, shifted, wanted):
    design = poisson_cusum_design(mean, shifted / mean, wanted)

    # One step of the lattice less would not be quiet enough.
    step = 1 / Fraction(design.allowance).limit_denominator(200).denominator
    assert mean < design.allowance < shifted
    assert design.quiet.mean >= wanted > design.after_shift.mean
    assert poisson_cusum_run_length(mean, design.allowance, design.decision - step).mean < wanted


@pytest.mark.parametrize(("mean", "shifted", "wanted", "allowance"), [
    (4.0, 5.0, 80, None), (4.0, 5.0, 80, 4.5),
])  # fmt: skip
def test_a_chart_with_the_design_s_allowance_waits_as_long_as_the_design_says(mean, shifted, wanted, allowance):
    """2,000 runs of the chart itself; with the allowance of the formula, which may lie above, no less long."""
    design = poisson_cusum_design(mean, shifted / mean, wanted, allowance=allowance)
    lengths = chart_run_lengths(mean, shifted, design.decision, design.allowance)
    error = lengths.std() / len(lengths) ** 0.5

    assert lengths.mean() == pytest.approx(design.quiet.mean, abs=4 * error)
    if allowance is None:
        assert chart_run_lengths(mean, shifted, design.decision, None).mean() > wanted - 4 * error
    else:
        assert design.allowance == allowance


def chart_run_lengths(mean, shifted, decision, allowance, runs=2_000):
    """Return the periods between signals of the chart on drawn defects, with restarts."""
    source, lengths = np.random.default_rng(11), []
    while len(lengths) < runs:
        defects = source.poisson(mean, 40_000).tolist()
        labels = [str(i) for i in range(len(defects))]
        chart = poisson_cusum(
            rates_of(defects, [1.0] * len(defects), labels),
            mean,
            shifted / mean,
            decision,
            "after signal",
            allowance=allowance,
        )
        signals = [int(label) for label in chart.signals]
        lengths += [b - a for a, b in pairwise([-1, *signals])]
    return np.array(lengths)


def test_trends_and_alternation_are_left_out_by_name():
    zones = zone_rules(NELSON_1984)

    assert len(zones.rules) == 6
    assert zones.name == "Nelson 1984, zones only"
    assert zone_rules(WESTERN_ELECTRIC_1956) is WESTERN_ELECTRIC_1956


def test_a_period_one_unit_smaller_has_no_lower_limit():
    size = size_for_lower_limit(0.5, 3.0)

    # 9 x .5 / .5 = 9 exactly: at 9 units the limit is 0, which is none.
    assert (size.bound, size.units) == (9.0, 10)
    assert size_for_even_chance(0.5, 1.6, 3.0).units == 25


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: poisson_cusum_run_length(1, 2**0.5, 4), "allowance must be a fraction with a denominator up to 200"),
        (lambda: poisson_cusum_run_length(-1, 1, 4), "mean must be at least 0, got -1"),
        (lambda: bernoulli_cusum_run_length(0.1, 1.5, 4), "allowance must be above 0 and below 1, got"),
        (lambda: bernoulli_cusum_run_length(0.1, 0.005, 40), "decision must be at most 4000 steps of 1/200, got 40"),
        (lambda: poisson_cusum_design(2, 0.5, 100), "ratio must be above 1"),
        (lambda: poisson_cusum_design(1, 2, 1), "wanted must be above 1 period, got 1"),
        (lambda: poisson_cusum_design(1, 2, 50, allowance=2), "allowance must lie between 1 and 2, got 2"),
        (lambda: poisson_cusum_design(0.001, 2, 50), "mean must leave a fraction .* take longer periods"),
        (lambda: ewma_run_length(0, 0.001, 3), "weight must be at least"),
        (lambda: normal_cusum_run_length(0, -0.1, 3), "allowance must be at least 0, got"),
        (lambda: share_law(0.0, 10, 1.0), "share must be above 0 and below 1"),
        (lambda: rate_law(1.0, 0, 1.0), "units must be more than 0, got 0"),
        (lambda: signal_probability(ONE_POINT, normal_law(ONE_POINT, 0), -1), "points must be a whole number"),
        (lambda: size_for_lower_limit(0.0, 3), "share must be above 0 and below 1"),
        (lambda: size_for_even_chance(0.1, 1, 3), "ratio must differ from 1"),
    ],
)
def test_impossible_input_is_refused(call, told):
    with pytest.raises(ValueError, match=told):
        call()


@pytest.mark.parametrize("width", [3.0, 7.0, 9.0, 12.0])
def test_an_ewma_that_forgets_at_once_signals_like_its_newest_point(width):
    # Weight 1: independent points, 1 / P(|Z| > width). Solved plainly, widths from 9 on gave negative run lengths.
    assert ewma_run_length(0, 1.0, width).mean == pytest.approx(1 / (2 * norm.sf(width)), rel=1e-7)


@pytest.mark.parametrize(("decision", "allowance"), [(10, 0.5), (30, 0.5), (50, 0.5), (100, 0.0)])
def test_long_cusum_run_lengths_agree_with_siegmund(decision, allowance):
    # Siegmund (1985), Sequential Analysis, sec. 2.6 (from memory): the decision interval corrected by 1.166.
    b = decision + 1.166
    one_sided = (exp(2 * allowance * b) - 1 - 2 * allowance * b) / (2 * allowance**2) if allowance else b * b

    assert normal_cusum_run_length(0, allowance, decision).mean == pytest.approx(one_sided / 2, rel=0.02)


@pytest.mark.parametrize("share", [0.3, 1e-3, 1e-9, 1.0])
def test_two_defective_units_in_a_row_are_waited_for_as_renewal_says(share):
    # Each defective unit adds a half, each clean one takes it off; above a half are two in a row: (1 + p) / p^2.
    # Source: Feller, An Introduction to Probability Theory I, sec. XIII.7.
    assert bernoulli_cusum_run_length(share, 0.5, 0.5).mean == pytest.approx((1 + share) / share**2, rel=1e-9)


@pytest.mark.parametrize("zone", [5.0, 8.0, 20.0])
def test_a_signal_that_hardly_ever_comes_keeps_its_digits(zone):
    rules = RuleSet("far out", "constructed", (Rule("far", "one point far out", "beyond", 1, 1, zone),))
    chance = 2 * norm.sf(zone)

    assert rules_run_length(rules, normal_law(rules, 0)).mean == pytest.approx(1 / chance, rel=1e-7)
    assert signal_probability(rules, normal_law(rules, 0), 7) == pytest.approx(7 * chance, rel=1e-5)


def test_a_run_that_may_never_end_is_infinite():
    # The first point decides: beyond, and it signals; else all later ones are the same.
    law = PointLaw((0.0,), (1.0,), "always on the centre")

    assert rules_run_length(ONE_POINT, law).mean == inf
    assert poisson_cusum_run_length(0, 0.5, 3).mean == inf


def test_an_interval_that_the_nodes_cannot_resolve_is_refused():
    with pytest.raises(ValueError, match=r"decision must be at most about 900 .* got 5000"):
        normal_cusum_run_length(0, 0.5, 5000)
    with pytest.raises(ValueError, match=r"width must be at most about .* got 1000"):
        ewma_run_length(0, 0.01, 1000)
    with pytest.raises(ValueError, match="inspected must leave at most 1000000 counts"):
        share_law(0.1, 10**9, 1.0)


@pytest.mark.parametrize("points", [5_001, 10**7])
def test_the_chance_of_a_signal_in_very_many_points_is_that_of_independent_ones(points):
    # One point beyond five sigmas: 1 - (1 - p)^n.
    rules = RuleSet("far out", "constructed", (Rule("far", "one point far out", "beyond", 1, 1, 5.0),))
    expected = -expm1(points * log1p(-2 * norm.sf(5.0)))

    assert signal_probability(rules, normal_law(rules, 0), points) == pytest.approx(expected, rel=1e-6)


def test_a_run_longer_than_any_number_is_infinite():
    # 1 / P(|Z| > 100) is above 1e2000.
    assert ewma_run_length(0, 1.0, 100.0).mean == inf
    assert ewma_run_length(0.3, 0.1, 100.0).mean == inf
