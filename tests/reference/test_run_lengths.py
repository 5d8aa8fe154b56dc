"""Run lengths reproduce the published tables, and simulation-free second routes where there are none."""

from itertools import product

import numpy as np
import pytest
from scipy.stats import binom, norm, poisson

from qc.stats.by_command.charts.chart_design import size_for_even_chance, size_for_lower_limit
from qc.stats.by_command.run_lengths.point_laws import normal_law, rate_law, share_law
from qc.stats.by_command.run_lengths.run_length import (
    operating_characteristic,
    rules_run_length,
    signal_probability,
    zone_rules,
)
from qc.stats.by_command.run_lengths.sequential_run_length import (
    bernoulli_cusum_run_length,
    ewma_run_length,
    normal_cusum_run_length,
    poisson_cusum_run_length,
)
from qc.stats.charts.run_rules import (
    BEYOND_3S,
    EIGHT_ONE_SIDE,
    FOUR_OF_FIVE,
    NELSON_1984,
    TWO_OF_THREE,
    WESTERN_ELECTRIC_1956,
    RuleSet,
    run_rules,
)

BY_NUMBER = {"1": BEYOND_3S, "2": TWO_OF_THREE, "3": FOUR_OF_FIVE, "4": EIGHT_ONE_SIDE}
ONE_POINT = RuleSet("one point", "common", (BEYOND_3S,))


@pytest.mark.parametrize("name", ["arl-shewhart-3s", "arl-c12", "arl-c14", "arl-c1234"])
def test_rule_sets_have_the_published_run_lengths(case, name):
    facts = case(name)
    rules = RuleSet(name, facts.source, tuple(BY_NUMBER[number] for number in facts.given.get("rules", "1")))
    lengths = [rules_run_length(rules, normal_law(rules, shift)).mean for shift in facts.given["shifts"]]

    facts.agrees("arl", lengths)


def test_the_cusum_has_the_published_run_lengths(case):
    facts = case("cusum-arl-k.5-h5")
    k, h = facts.given["k"], facts.given["h"]

    facts.agrees("arl", [normal_cusum_run_length(shift, k, h).mean for shift in facts.given["shifts"]])


def test_the_ewma_has_the_published_run_lengths(case):
    facts = case("ewma-arl-l2.814-lam.10")
    weight, width = facts.given["lam"], facts.given["L"]

    facts.agrees("arl", [ewma_run_length(shift, weight, width).mean for shift in facts.given["shifts"]])


def test_an_ewma_that_forgets_all_is_a_chart_of_single_points():
    length = ewma_run_length(1.0, 1.0, 3.0).mean

    assert length == pytest.approx(1 / (norm.sf(2) + norm.cdf(-4)), rel=1e-9)


def test_the_false_alarm_of_a_p_chart_is_the_binomial_tail():
    # n 50, share .02: three sigma signals at 4 and more (direct summation in exact-binomial-50-02).
    law = share_law(0.02, 50, 1.0)

    assert signal_probability(ONE_POINT, law, 1) == pytest.approx(binom(50, 0.02).sf(3), rel=1e-9)
    assert rules_run_length(ONE_POINT, law).mean == pytest.approx(1 / binom(50, 0.02).sf(3), rel=1e-9)


def test_the_false_alarm_of_a_u_chart_is_the_poisson_tail_on_both_sides():
    # Mean 16: limits 4 and 28; on the limit is no signal.
    law = rate_law(4.0, 4.0, 1.0)

    tails = poisson(16).sf(28) + poisson(16).cdf(3)
    assert signal_probability(ONE_POINT, law, 1) == pytest.approx(tails, rel=1e-9)


def test_the_operating_characteristic_is_the_chance_to_stay_between_the_limits():
    shares = (0.1, 0.2, 0.4)
    laws = [share_law(0.2, 50, share / 0.2) for share in shares]
    curve = operating_characteristic(ONE_POINT, laws, 1)

    # .2 +- 3 sqrt(.2 x .8 / 50): .0303 to .3697, so 2 to 18 units stay inside.
    expected = [binom(50, share).cdf(18) - binom(50, share).cdf(1) for share in shares]
    assert [chance for _, chance in curve] == pytest.approx(expected, rel=1e-9)


def test_signals_within_many_points_follow_the_geometric_law_for_one_rule():
    chance = 2 * norm.sf(3)

    within = signal_probability(ONE_POINT, normal_law(ONE_POINT, 0.0), 52)
    assert within == pytest.approx(1 - (1 - chance) ** 52, rel=1e-9)


@pytest.mark.parametrize("rules", [WESTERN_ELECTRIC_1956, zone_rules(NELSON_1984)])
def test_the_chain_agrees_with_reading_every_short_row_by_the_rules(rules):
    law = normal_law(rules, 0.7)
    for points in (3, 4):
        quiet = 0.0
        for row in product(range(len(law.values)), repeat=points):
            z = [law.values[symbol] for symbol in row]
            if not run_rules(z, [str(i) for i in range(points)], rules, across_gaps=False).findings:
                quiet += float(np.prod([law.probabilities[symbol] for symbol in row]))
        assert 1 - signal_probability(rules, law, points) == pytest.approx(quiet, rel=1e-9)


def test_trends_have_no_exact_chain_and_are_refused():
    with pytest.raises(ValueError, match="'6_trend'"):
        rules_run_length(NELSON_1984, normal_law(NELSON_1984, 0.0))


def test_a_cusum_of_defects_agrees_with_the_renewal_of_its_first_steps():
    # Allowance 1, decision 1: heights 0 and 1. By hand: L0 = 1 + (p0 + p1) L0 + p2 L1, L1 = 1 + p0 L0 + p1 L1.
    p = poisson(0.5).pmf([0, 1, 2])
    by_hand = np.linalg.solve([[1 - p[0] - p[1], -p[2]], [-p[0], 1 - p[1]]], [1, 1])[0]

    assert poisson_cusum_run_length(0.5, 1.0, 1.0).mean == pytest.approx(by_hand, rel=1e-12)


def test_a_cusum_of_units_agrees_with_waiting_for_two_close_ones():
    # Allowance 1/2, decision 1/2: heights 0 and 1/2; two defective units in a row reach 1.
    # The mean wait for two successes in a row is (1 + p) / p^2 (Feller, vol. 1, XIII.7); here a clean unit
    # takes a half off, so from 1/2 it falls back to 0: the same chain.
    assert bernoulli_cusum_run_length(0.3, 0.5, 0.5).mean == pytest.approx(1.3 / 0.09, rel=1e-12)


@pytest.mark.parametrize("shift", [0.0, 1.0])
def test_the_integral_equation_agrees_with_a_fine_markov_chain(shift):
    # Brook & Evans (1972), Biometrika 59, 539-549: heights in small cells.
    k, h, cells = 0.5, 4.0, 2001
    cell = 2 * h / (2 * cells - 1)
    heights = np.arange(cells) * cell
    upper = norm.cdf(heights[None, :] + cell / 2 - heights[:, None] - shift + k)
    chain = np.diff(upper, prepend=0.0, axis=1)
    one_sided = np.linalg.solve(np.eye(cells) - chain, np.ones(cells))[0]
    lower = norm.cdf(heights[None, :] + cell / 2 - heights[:, None] + shift + k)
    other = np.linalg.solve(np.eye(cells) - np.diff(lower, prepend=0.0, axis=1), np.ones(cells))[0]

    both = 1 / (1 / one_sided + 1 / other)
    assert normal_cusum_run_length(shift, k, h).mean == pytest.approx(both, rel=1e-5)


def test_period_sizes_for_a_lower_limit_and_for_an_even_chance(case):
    facts = case("p-sample-size")
    size = size_for_lower_limit(facts.given["p0"], 3.0)
    facts.agrees("bound", size.bound)
    facts.agrees("n_lcl_positive", size.units)

    facts = case("p-sample-size-duncan")
    size = size_for_even_chance(facts.given["p0"], facts.given["p1"] / facts.given["p0"], 3.0)
    facts.agrees("n_half", size.bound)
    assert size.units == 56
