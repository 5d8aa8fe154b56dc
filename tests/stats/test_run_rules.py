"""How runs are parted and read; the published patterns are in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.charts.run_rules import NELSON_1984, WESTERN_ELECTRIC_1956, run_rules

values = st.lists(st.floats(-4, 4), max_size=40)


def read(z, rules=NELSON_1984, *, across_gaps=False, fresh_from=()):
    return run_rules(z, [str(i) for i in range(len(z))], rules, across_gaps=across_gaps, fresh_from=fresh_from)


def keys(reading):
    return [(finding.rule, finding.label) for finding in reading.findings]


@given(z=values)
def test_turning_the_chart_over_turns_the_sides_over(z):
    other = {"high": "low", "low": "high", "rising": "falling", "falling": "rising", "both": "both"}
    up, down = read(z), read([-value for value in z])

    assert sorted((f.rule, f.at, f.side) for f in up.findings) == sorted(
        (f.rule, f.at, other[f.side]) for f in down.findings
    )


@given(z=values, more=values)
def test_later_points_complete_no_earlier_pattern(z, more):
    assert [f for f in read(z + more).findings if f.at < len(z)] == list(read(z).findings)


@given(z=values)
def test_a_pattern_ends_at_the_point_that_completes_it(z):
    for finding in read(z).findings:
        assert finding.pattern[-1] == finding.label == str(finding.at)


def test_a_gap_parts_a_run_unless_neighbours_across_it_are_asked_for():
    z = [0.5, 0.5, 0.5, 0.5, None, 0.5, 0.5, 0.5, 0.5]

    assert read(z, WESTERN_ELECTRIC_1956).findings == ()
    assert read(z, WESTERN_ELECTRIC_1956).stretches == 2
    across = read(z, WESTERN_ELECTRIC_1956, across_gaps=True)
    assert keys(across) == [("8_one_side", "8")]
    assert across.judged == 8


def test_no_rule_runs_across_a_change_of_criteria():
    z = [0.5] * 10

    assert keys(read(z, WESTERN_ELECTRIC_1956)) == [("8_one_side", "7"), ("8_one_side", "8"), ("8_one_side", "9")]
    assert read(z, WESTERN_ELECTRIC_1956, fresh_from=["5"]).findings == ()


@pytest.mark.parametrize(("value", "rule"), [(3.0, "beyond_3s"), (2.0, "2of3_beyond_2s"), (1.0, "4of5_beyond_1s")])
def test_a_point_on_a_zone_line_is_not_beyond_it(value, rule):
    on, beyond = read([value] * 5), read([value + 0.001] * 5)

    assert rule not in {finding.rule for finding in on.findings}
    assert rule in {finding.rule for finding in beyond.findings}


def test_a_point_that_completes_a_pattern_lies_in_its_zone():
    # Two beyond, then one back inside: the third point completes nothing.
    assert keys(read([2.5, 2.5, 0.0])) == [("2of3_beyond_2s", "1")]


def test_what_a_point_completed_can_be_asked_for():
    reading = read([0.1, 2.5, 3.5])

    assert [finding.rule for finding in reading.at("2")] == ["beyond_3s", "2of3_beyond_2s"]
    assert reading.at("2")[1].pattern == ("1", "2")


def test_nothing_to_read_gives_no_finding():
    assert read([]).findings == ()
    assert read([None, None]).judged == 0


def test_impossible_input_is_refused():
    with pytest.raises(ValueError, match="got nan for '1'"):
        read([0.0, float("nan")])
    with pytest.raises(ValueError, match="fresh_from names '9'"):
        read([0.0], fresh_from=["9"])
    with pytest.raises(ValueError, match=r"labels must be as many as z \(2\), got 1"):
        run_rules([0.0, 1.0], ["a"], NELSON_1984, across_gaps=False)
