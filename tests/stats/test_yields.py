"""Yields at their edges; first presentations decide."""

from math import exp, inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.by_command.sampling.presentations import Presentation, gate_counts, through_count
from qc.stats.looks.yields import (
    clustered_yield,
    defects_per_million,
    defects_per_unit,
    first_pass,
    first_time_through,
    rolled_shares,
    rolled_yield,
)


def test_first_pass_names_its_severity_and_carries_its_counts():
    answer = first_pass(10, 40, "major and worse", 0.95)

    assert (answer.share, answer.inspected, answer.clean, answer.defectives) == (0.75, 40, 30, 10)
    assert (answer.severity, answer.method, answer.level) == ("major and worse", "Wilson", 0.95)
    assert answer.low < 0.75 < answer.high


@pytest.mark.parametrize(("with_defect", "share"), [(0, 1.0), (12, 0.0)])
def test_first_pass_at_its_edges_keeps_an_interval(with_defect, share):
    answer = first_pass(with_defect, 12, "any", 0.95)

    assert answer.share == share
    assert answer.high - answer.low > 0.2


def test_no_first_presentation_is_too_little():
    assert isinstance(first_pass(0, 0, "any", 0.95), TooLittle)
    assert isinstance(first_time_through(0, 0, "any", 0.95), TooLittle)
    assert isinstance(defects_per_unit(0, 0), TooLittle)
    assert isinstance(defects_per_million(0, 0, 5), TooLittle)


def test_a_gate_without_units_leaves_the_rolled_yield_undefined():
    gates = [("frame", first_pass(1, 10, "any", 0.95)), ("final", first_pass(0, 0, "any", 0.95))]
    answer = rolled_yield(gates)

    assert isinstance(answer, TooLittle)
    assert "final" in answer.reason
    assert isinstance(rolled_yield([]), TooLittle)


def test_gates_that_count_different_severities_are_not_multiplied():
    gates = [("a", first_pass(1, 10, "any", 0.95)), ("b", first_pass(1, 10, "critical", 0.95))]

    with pytest.raises(ValueError, match="gates must count one severity, got any, critical"):
        rolled_yield(gates)


@given(shares=st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_a_rolled_yield_is_no_more_than_its_worst_gate(shares):
    answer = rolled_shares([str(i) for i in range(len(shares))], shares)

    assert 0 <= answer.share <= min(shares) + 1e-12
    assert answer.per_gate ** len(shares) == pytest.approx(answer.share, abs=1e-12)
    assert (answer.defects_per_unit == inf) == (answer.share == 0)


def test_first_time_through_differs_from_the_product_when_defects_gather_on_units():
    # Ten units, two gates, the same two units defective at both.
    events = [Presentation(f"U{u}", gate, 1, int(u < 2)) for u in range(10) for gate in ("a", "b")]
    through = through_count(events, ["a", "b"])
    gates = [
        (count.gate, first_pass(count.defectives, count.inspected, "any", 0.95)) for count in gate_counts(events, "ab")
    ]

    assert first_time_through(through.defectives, through.inspected, "any", 0.95).share == 0.8
    assert rolled_yield(gates).share == pytest.approx(0.64)


@given(st.permutations([("U1", 1, 2), ("U1", 2, 0), ("U2", 1, 0), ("U2", 1, 0), ("U3", 2, 1)]))
def test_presentations_count_once_in_whatever_order_they_arrive(rows):
    (count,) = gate_counts([Presentation(unit, "final", number, n) for unit, number, n in rows], ["final"])

    assert (count.inspected, count.defectives, count.defects) == (2, 1, 2)
    assert count.first_missing == ("U3",)


def test_two_presentations_that_contradict_each_other_are_refused():
    rows = [Presentation("U1", "final", 1, 0), Presentation("U1", "final", 1, 2)]

    with pytest.raises(ValueError, match="presentation 1 of unit 'U1' at 'final' must have one count"):
        gate_counts(rows, ["final"])


def test_a_unit_that_skipped_a_gate_is_not_through():
    rows = [Presentation("U1", "a", 1, 0), Presentation("U1", "b", 1, 0), Presentation("U2", "b", 1, 0)]

    assert through_count(rows, ["a", "b"]).inspected == 1
    assert [count.inspected for count in gate_counts(rows, ["a", "b", "c"])] == [1, 2, 0]


@given(per_unit=st.floats(0, 20), clustering=st.floats(0.05, 100))
def test_clustered_defects_leave_more_units_clean(per_unit, clustering):
    looser, tighter = clustered_yield(per_unit, 2 * clustering), clustered_yield(per_unit, clustering)

    assert 0 <= looser <= tighter + 1e-12 <= 1 + 1e-12


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: first_pass(11, 10, "any", 0.95), r"inspected must be at least defectives \(11\), got 10"),
        (lambda: first_pass(1, 10, " ", 0.95), "severity must say what was counted"),
        (lambda: defects_per_unit(3, 0), r"units must be at least 1 where there are defects \(3\)"),
        (lambda: defects_per_million(1, 10, 0), "opportunities must be a whole number of at least 1, got 0"),
        (lambda: rolled_shares(["a"], [1.1]), "shares for 'a' must be between 0 and 1, got 1.1"),
        (lambda: clustered_yield(1.0, 0.0), "clustering must be more than 0, got 0.0"),
        (lambda: gate_counts([Presentation("U1", "a", 0, 0)], ["a"]), "number for unit 'U1' must be a whole number"),
        (lambda: through_count([], []), "gates must name at least one gate"),
    ],
)
def test_impossible_input_is_refused(call, told):
    with pytest.raises(ValueError, match=told):
        call()


def test_clustering_without_end_is_no_clustering():
    # (1 + d/a)^-a tends to exp(-d); with the sum taken plainly it was 1 from a = 1e16 on.
    assert clustered_yield(1.0, 1e16) == pytest.approx(exp(-1), rel=1e-12)
