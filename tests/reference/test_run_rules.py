"""Run rules complete at the points that the definitions of 1956 and 1984 give."""

import pytest

from qc.stats.charts.run_rules import EIGHT_ONE_SIDE, NELSON_1984, WESTERN_ELECTRIC_1956, RuleSet, run_rules

ALL = RuleSet("all", "both sets", (*NELSON_1984.rules, EIGHT_ONE_SIDE))
CASES = [
    "rules-one-beyond",
    "rules-two-of-three",
    "rules-four-of-five",
    "rules-trend-six",
    "rules-trend-tie",
]


def read(z, rules):
    return run_rules(z, [str(place) for place in range(1, len(z) + 1)], rules, across_gaps=False)


def completed(reading, key):
    return [finding.at + 1 for finding in reading.findings if finding.rule == key]


@pytest.mark.parametrize("name", CASES)
def test_patterns_complete_where_the_definitions_say(case, name):
    facts = case(name)
    reading = read(facts.given["z"], ALL)

    assert {rule.key: completed(reading, rule.key) for rule in ALL.rules} == facts.answer


def test_the_two_sets_differ_in_the_run_on_one_side():
    # Western Electric (1956): eight in a row; Nelson (1984): nine. Definitions from memory.
    z = [0.5] * 8

    assert completed(read(z, WESTERN_ELECTRIC_1956), "8_one_side") == [8]
    assert read(z, NELSON_1984).findings == ()
    assert completed(read([*z, 0.5], NELSON_1984), "9_one_side") == [9]


def test_a_point_on_the_centre_breaks_a_run():
    assert read([0.5] * 7 + [0.0] + [0.5] * 7, WESTERN_ELECTRIC_1956).findings == ()


def test_fourteen_alternating_points_are_needed():
    # Nelson (1984), test 4: definition from memory.
    z = [0.3 if place % 2 else -0.3 for place in range(15)]

    assert completed(read(z[:13], NELSON_1984), "14_alternating") == []
    assert completed(read(z, NELSON_1984), "14_alternating") == [14, 15]


def test_fifteen_points_near_the_centre_are_too_quiet():
    # Nelson (1984), test 7: definition from memory.
    z = [0.9 if place % 3 else -0.9 for place in range(15)]

    assert completed(read(z, NELSON_1984), "15_within_1s") == [15]
    assert completed(read([*z[:14], 1.0], NELSON_1984), "15_within_1s") == []


def test_eight_points_away_from_the_centre_on_both_sides():
    # Nelson (1984), test 8: definition from memory.
    z = [1.5, -1.5, -1.2, 1.1, 1.9, -1.1, 1.3, -1.3]

    assert completed(read(z, NELSON_1984), "8_beyond_1s_both") == [8]
    assert completed(read([1.5] * 8, NELSON_1984), "8_beyond_1s_both") == []
