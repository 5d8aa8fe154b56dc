"""Simulated run lengths: the same rules as on a chart, and the exact chain's answers where there is one."""

import numpy as np
import pytest

from qc.stats.answers import TooLittle
from qc.stats.by_command.run_lengths.point_laws import normal_law
from qc.stats.by_command.run_lengths.run_length import rules_run_length, zone_rules
from qc.stats.by_command.run_lengths.simulated_run_length import completes, simulated_run_length
from qc.stats.charts.run_rules import (
    BEYOND_3S,
    NELSON_1984,
    SIX_TREND,
    WESTERN_ELECTRIC_1956,
    Rule,
    RuleSet,
    run_rules,
)


@pytest.mark.parametrize("rule", NELSON_1984.rules, ids=lambda rule: rule.key)
@pytest.mark.parametrize("scatter", [0.4, 1.0, 1.6])
def test_every_point_completes_what_the_rules_of_a_chart_say(rule, scatter):
    # Tenths, so that ties and points on a zone's edge come up; two hundred series of forty points.
    points = np.round(np.random.default_rng(7).normal(0.2, scatter, size=(40, 200)), 1)
    rules, labels = RuleSet(rule.key, "one rule", (rule,)), [str(place) for place in range(40)]
    told = [
        {one.at for one in run_rules(list(series), labels, rules, across_gaps=False).findings} for series in points.T
    ]

    for end in range(40):
        found = completes(rule, points[max(0, end + 1 - rule.of) : end + 1])
        assert [end in at for at in told] == found.tolist()


@pytest.mark.parametrize("rules", [WESTERN_ELECTRIC_1956, zone_rules(NELSON_1984)], ids=lambda rules: rules.name)
@pytest.mark.parametrize("shift", [0.0, 1.0])
def test_zone_rules_signal_as_the_exact_chain_says(rules, shift):
    # Four standard errors: one failure in 16 000 seeds; the seed is fixed.
    answer, exact = (
        simulated_run_length(rules, shift, 20_000, 0.95, 3),
        rules_run_length(rules, normal_law(rules, shift)),
    )

    assert abs(answer.mean - exact.mean) < 4 * answer.error


def test_a_run_of_six_either_way_comes_half_as_late_as_one_way():
    # One way the mean wait for n in a row rising is 1 / sum of (1/(kn)! - 1/(kn+1)!): 840 for six points. Source: David
    # & Barton (1962), Combinatorial Chance, ch. 10 (from memory). Either way is about half of it.
    answer = simulated_run_length(RuleSet("trend", "Nelson's third", (SIX_TREND,)), 0.0, 20_000, 0.95, 5)

    assert answer.mean == pytest.approx(840 / 2, rel=0.03)


def test_more_rules_signal_sooner_and_the_same_seed_says_the_same():
    few, many = (simulated_run_length(rules, 0.0, 5_000, 0.95, 1) for rules in (zone_rules(NELSON_1984), NELSON_1984))

    assert many.mean < few.mean
    assert many == simulated_run_length(NELSON_1984, 0.0, 5_000, 0.95, 1)
    assert many.low < many.mean < many.high <= many.longest


def test_rules_that_hardly_ever_signal_are_too_little():
    far = RuleSet("far", "constructed", (Rule("far", "one point far out", "beyond", 1, 1, 6.0),))

    assert isinstance(simulated_run_length(far, 0.0, 1_000, 0.95, 1), TooLittle)
    assert simulated_run_length(RuleSet("one", "Shewhart", (BEYOND_3S,)), 9.0, 1_000, 0.95, 1).mean == 1


def test_series_that_all_end_at_once_leave_some_doubt():
    answer = simulated_run_length(WESTERN_ELECTRIC_1956, 50.0, 1000, 0.95, 1)

    # Of 1000 that all ended at the first point, 0.025^(1/1000) = 0.99632 is the least share of such (exact limit).
    assert (answer.mean, answer.low) == (1, 1)
    assert answer.high == pytest.approx(1 / 0.99632, abs=1e-5)
