"""Sampling plans: arrows, whole lots, edges, refusals. Sources: tests/reference/test_sampling_cases.py."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.by_command.sampling.operating_characteristic import (
    binomial_acceptance,
    hypergeometric_acceptance,
    outgoing,
    outgoing_limit,
    poisson_acceptance,
    quality_at,
)
from qc.stats.by_command.sampling.sampling_plans import AQLS, INSPECTION_LEVELS, code_letter, single_normal_plan

lots, levels, aqls = st.integers(2, 2_000_000), st.sampled_from(INSPECTION_LEVELS), st.sampled_from(AQLS)


@given(lots, levels, aqls)
def test_every_lot_level_and_aql_has_a_plan(lot, level, aql):
    plan = single_normal_plan(lot, level, aql)

    assert plan.reject == plan.accept + 1
    assert 1 <= plan.sample <= lot
    assert plan.inspect_all == (plan.sample == lot)


def test_an_arrow_up_changes_the_sample_and_the_acceptance_number():
    """Lot 100 at AQL 1.0: letter F points up to E, 13 units, accept on 0."""
    plan = single_normal_plan(100, "II", 1.0)

    assert (plan.letter, plan.letter_used, plan.sample, plan.accept) == ("F", "E", 13, 0)


def test_an_arrow_down_changes_the_sample_and_the_acceptance_number():
    """Lot 40 at AQL 4.0: letter D points down to E, 13 units, accept on 1."""
    plan = single_normal_plan(40, "II", 4.0)

    assert (plan.letter, plan.letter_used, plan.sample, plan.accept) == ("D", "E", 13, 1)


def test_a_sample_as_large_as_the_lot_means_every_unit():
    """Lot 40 at AQL 0.65: the arrows lead to F, 20 units; at AQL 0.1 to K, 125 units, more than there are."""
    assert not single_normal_plan(40, "II", 0.65).inspect_all
    assert single_normal_plan(20, "II", 0.65).inspect_all  # exactly as many
    plan = single_normal_plan(40, "II", 0.10)

    assert plan.inspect_all
    assert plan.sample == 40


@pytest.mark.parametrize(
    ("lot", "level", "aql", "used", "accept"),
    [
        (5, "I", 10, "C", 1),  # letter A with nothing above: the plan below
        (9_000_000, "III", 0.010, "Q", 0),  # letter R: up to Q
        (9_000_000, "III", 0.015, "P", 0),  # letter R with nothing below: the plan above
        (5, "I", 1000, "A", 30),
        (10, "II", 1000, "B", 44),
        (20, "II", 1000, "B", 44),  # the printed row of C ends at 650: the arrow leads up to B
        (100, "II", 100, "E", 21),
        (9_000_000, "III", 0.65, "R", 21),
    ],
)
def test_the_corners_of_the_table(lot, level, aql, used, accept):
    plan = single_normal_plan(lot, level, aql)

    assert (plan.letter_used, plan.accept) == (used, accept)


@given(st.integers(2, 600_000), levels)
def test_a_larger_lot_never_has_an_earlier_letter(lot, level):
    assert code_letter(lot, level) <= code_letter(2 * lot, level)


@given(st.integers(2, 2_000_000))
def test_a_higher_level_never_has_an_earlier_letter(lot):
    letters = [code_letter(lot, level) for level in ("I", "II", "III")]

    assert letters == sorted(letters)


def test_above_aql_10_a_plan_is_for_nonconformities():
    assert single_normal_plan(100, "II", 15).per_100
    assert not single_normal_plan(100, "II", 10).per_100


@pytest.mark.parametrize(
    ("lot", "level", "aql", "words"),
    [
        (1, "II", 1.0, "lot must be a whole number of at least 2, got 1"),
        (100, "IV", 1.0, "inspection_level must be one of S-1, .* got 'IV'"),
        (100, "II", 0.9, "aql must be one of the preferred values, say 1.0, got 0.9"),
    ],
)
def test_impossible_plans_are_refused(lot, level, aql, words):
    with pytest.raises(ValueError, match=words):
        single_normal_plan(lot, level, aql)


@given(st.integers(1, 200), st.floats(0, 1), st.floats(0, 1))
def test_worse_quality_is_accepted_no_oftener(sample, one, other):
    better, worse = sorted((one, other))
    accept = sample // 10

    assert (
        binomial_acceptance(sample, accept, worse).chance <= binomial_acceptance(sample, accept, better).chance + 1e-12
    )


def test_edges_of_the_curves():
    assert binomial_acceptance(20, 0, 0.0).chance == 1
    assert binomial_acceptance(20, 0, 1.0).chance == 0
    assert binomial_acceptance(20, 20, 1.0).chance == 1
    assert poisson_acceptance(20, 0, 0.0).chance == 1
    assert hypergeometric_acceptance(20, 20, 1, 2).chance == 0
    assert hypergeometric_acceptance(20, 20, 2, 2).chance == pytest.approx(1)


def test_a_whole_lot_looked_at_lets_nothing_out():
    answer = outgoing(50, 1, 50, 0.1)

    assert answer.quality == 0
    assert answer.inspected == 50


@given(st.integers(5, 200), st.integers(0, 4), st.floats(0.001, 0.5))
def test_no_incoming_quality_goes_out_worse_than_the_limit(sample, accept, share):
    assert outgoing(sample, accept, 5000, share).quality <= outgoing_limit(sample, accept, 5000).quality + 1e-9


def test_a_large_share_of_the_lot_makes_the_binomial_rough():
    assert outgoing(50, 1, 400, 0.02).rough
    assert not outgoing(50, 1, 500, 0.02).rough


def test_impossible_quality_is_refused():
    with pytest.raises(ValueError, match=r"share must be between 0 and 1, got 1.2"):
        binomial_acceptance(20, 1, 1.2)
    with pytest.raises(ValueError, match=r"accept must be at most the sample \(20\), got 21"):
        binomial_acceptance(20, 21, 0.1)
    with pytest.raises(ValueError, match="the plan accepts everything"):
        quality_at(20, 20, 0.95)
    with pytest.raises(ValueError, match=r"nonconforming must be at most the lot \(30\), got 31"):
        hypergeometric_acceptance(30, 5, 0, 31)
    with pytest.raises(ValueError, match=r"per_unit must be at least 0, got -0\.1"):
        poisson_acceptance(20, 1, -0.1)
