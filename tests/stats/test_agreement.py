"""Agreement: edges, order, gaps, refusals. Sources: tests/reference/test_agreement_cases.py."""

import math
from collections import Counter
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.by_command.agreement.agreement import (
    Kappa,
    cohen_kappa,
    judgements_of_two,
    linear_weighted_kappa,
    quadratic_weighted_kappa,
    weighted_kappa,
)
from qc.stats.by_command.agreement.effectiveness import against_reference, effectiveness
from qc.stats.by_command.agreement.krippendorff import krippendorff_alpha, krippendorff_interval
from qc.stats.by_command.agreement.many_raters import fleiss_kappa, gwet_ac1

PASS = ("pass", "defect")


@settings(max_examples=50)
@given(st.lists(st.lists(st.integers(0, 40), min_size=2, max_size=2), min_size=2, max_size=2))
def test_kappa_does_not_mind_who_is_first(table):
    turned = [list(column) for column in zip(*table, strict=True)]
    one, other = cohen_kappa(table, PASS, 0.95), cohen_kappa(turned, PASS, 0.95)
    if isinstance(one, TooLittle):
        assert isinstance(other, TooLittle)
        return

    assert other.kappa == pytest.approx(one.kappa)
    assert math.isfinite(one.z)
    assert -1 <= one.low <= one.kappa + 1e-12
    assert one.kappa - 1e-12 <= one.high <= 1 + 1e-12


@settings(max_examples=80)
@given(
    st.lists(st.lists(st.integers(0, 20), min_size=3, max_size=3), min_size=3, max_size=3), st.sampled_from(range(4))
)
def test_a_weighted_kappa_lies_in_its_interval(table, constant):
    # A rater who always chose one category: the error is 0 and the agreement is not perfect.
    table = [[n * (j == constant) for j, n in enumerate(row)] if constant < 3 else row for row in table]
    for answer in (
        weighted(table, ("a", "b", "c"), 0.9) for weighted in (linear_weighted_kappa, quadratic_weighted_kappa)
    ):
        if isinstance(answer, Kappa):
            assert answer.low - 1e-9 <= answer.kappa <= answer.high + 1e-9
            assert answer.low < answer.high


def test_subjects_that_all_disagree_alike_lie_in_the_interval_of_ac1():
    # Three raters, two to one on every subject: a third of the pairs agree, the scatter over subjects is 0.
    answer = gwet_ac1([[2, 1]] * 30 + [[1, 2]] * 30, PASS, 0.95)

    assert answer.error == pytest.approx(0, abs=1e-12)
    assert answer.low < answer.coefficient < answer.high


def test_chance_agreement_is_nought_and_perfect_agreement_one():
    assert cohen_kappa([[36, 24], [24, 16]], PASS, 0.95).kappa == pytest.approx(0)
    assert cohen_kappa([[30, 0], [0, 9]], PASS, 0.95).kappa == pytest.approx(1)


def test_perfect_agreement_on_few_units_is_not_certain():
    few, many = cohen_kappa([[6, 0], [0, 4]], PASS, 0.95), cohen_kappa([[300, 0], [0, 200]], PASS, 0.95)

    assert few.low < 0.5
    assert many.low > 0.95
    assert gwet_ac1(judgements_of_two([[6, 0], [0, 4]]), PASS, 0.95).low < 0.5


def test_two_that_always_pass_have_no_kappa_and_a_perfect_ac1():
    assert isinstance(cohen_kappa([[50, 0], [0, 0]], PASS, 0.95), TooLittle)
    assert gwet_ac1(judgements_of_two([[50, 0], [0, 0]]), PASS, 0.95).coefficient == 1


def test_a_rater_who_never_finds_anything_agrees_by_chance_alone():
    """Met as a warning of a division by nought: the second rater passed every unit."""
    answer = cohen_kappa([[9, 0], [3, 0]], PASS, 0.95)

    assert answer.kappa == pytest.approx(0)
    assert answer.low < 0 < answer.high
    assert (answer.z, answer.p_value) == (0, 1)


def test_nothing_judged_is_too_little():
    assert isinstance(cohen_kappa([[0, 0], [0, 0]], PASS, 0.95), TooLittle)
    assert isinstance(fleiss_kappa([], PASS), TooLittle)
    assert isinstance(gwet_ac1([], PASS, 0.95), TooLittle)


def test_a_table_that_is_not_square_is_refused():
    with pytest.raises(ValueError, match="table must be square, got 2 rows of 3"):
        cohen_kappa([[1, 2, 3], [4, 5, 6]], PASS, 0.95)


@pytest.mark.parametrize(
    ("weights", "words"),
    [([[0, 1]], "must be 2 by 2"), ([[1, 1], [1, 0]], "0 on the diagonal"), ([[0, -1], [1, 0]], "nowhere below 0")],
)
def test_weights_that_are_no_disagreement_are_refused(weights, words):
    with pytest.raises(ValueError, match=words):
        weighted_kappa([[5, 1], [2, 8]], weights, PASS, 0.95)


def test_near_misses_cost_less_than_far_ones():
    near = [[20, 5, 0], [5, 20, 5], [0, 5, 20]]
    far = [[20, 0, 5], [5, 20, 5], [5, 0, 20]]

    assert linear_weighted_kappa(near, tuple("abc"), 0.95).kappa > linear_weighted_kappa(far, tuple("abc"), 0.95).kappa


def test_fleiss_needs_the_same_raters_everywhere():
    with pytest.raises(ValueError, match=r"counts\[1\] must sum to 3 raters like the first, got 2"):
        fleiss_kappa([[3, 0], [1, 1]], PASS)
    assert isinstance(fleiss_kappa([[1, 0], [0, 1]], PASS), TooLittle)
    assert isinstance(fleiss_kappa([[3, 0], [3, 0]], PASS), TooLittle)


def test_subjects_all_judged_alike_are_perfect():
    assert fleiss_kappa([[3, 0], [0, 3], [3, 0]], PASS).kappa == pytest.approx(1)


def test_ac1_counts_subjects_judged_once_in_the_shares_only():
    with_one, without = (gwet_ac1([[2, 0], [1, 1], [0, 2], *more], PASS, 0.95) for more in ([[1, 0]], []))

    assert with_one.observed == without.observed
    assert with_one.subjects == 4


@pytest.mark.parametrize("metric", ["nominal", "ordinal", "interval", "ratio"])
@given(rows=st.lists(st.lists(st.one_of(st.none(), st.integers(0, 4)), min_size=6, max_size=6), min_size=2, max_size=4))
@settings(max_examples=40)
def test_alpha_does_not_mind_the_order_of_raters_or_units(metric, rows):
    one = krippendorff_alpha(rows, metric)
    other = krippendorff_alpha([row[::-1] for row in rows[::-1]], metric)
    if isinstance(one, TooLittle):
        assert isinstance(other, TooLittle)
        return

    assert other.alpha == pytest.approx(one.alpha)
    assert one.alpha <= 1


@pytest.mark.parametrize("metric", ["nominal", "ordinal", "interval", "ratio"])
def test_alpha_of_perfect_judgements_is_one(metric):
    assert krippendorff_alpha([[1, 2, 3, None], [1, 2, None, 4], [None, 2, 3, 4]], metric).alpha == 1


def test_alpha_without_two_values_or_with_a_wrong_metric():
    assert isinstance(krippendorff_alpha([[1, 1], [1, 1]], "nominal"), TooLittle)
    assert isinstance(krippendorff_alpha([[1, None], [None, 2]], "nominal"), TooLittle)
    assert isinstance(krippendorff_alpha([], "nominal"), TooLittle)
    with pytest.raises(ValueError, match="metric must be one of nominal, ordinal, interval, ratio, got 'circular'"):
        krippendorff_alpha([[1], [2]], "circular")
    with pytest.raises(ValueError, match=r"judgements\[0\]\[1\] must be at least 0 on the ratio metric, got -1"):
        krippendorff_alpha([[1, -1], [1, 2]], "ratio")


def test_the_interval_of_alpha_holds_it_and_repeats_with_its_seed():
    rows = [[1, 2, 3, 3, 2, 1, 4, 1, 2, 5, 1, 2], [1, 2, 3, 3, 2, 2, 4, 1, 2, 5, 2, 3]]
    first, again = (krippendorff_interval(rows, "ordinal", 0.9, 1000, 6) for _ in range(2))

    assert first == again
    assert first.low < first.alpha.alpha < first.high
    assert isinstance(krippendorff_interval([row[:8] for row in rows], "ordinal", 0.9, 1000, 6), TooLittle)


@pytest.mark.parametrize("metric", ["nominal", "ordinal", "interval", "ratio"])
def test_units_that_all_agree_or_all_differ_leave_what_the_exact_limits_leave(metric):
    agreed = krippendorff_interval([[1, 2] * 10] * 2, metric, 0.95, 1000, 1)
    apart = krippendorff_interval([[1, 2] * 10, [2, 1] * 10], metric, 0.95, 1000, 1)
    one_apart = krippendorff_interval([[1, 2] * 10, [1, 2] * 9 + [1, 1]], metric, 0.95, 1000, 1)
    # 0 of 20 units apart: Clopper-Pearson's upper limit is 1 - 0.025^(1/20) = 0.1684, and chance expects 20/39.
    open_ = 0.1684335 / (20 / 39)

    assert (agreed.low, agreed.high) == (pytest.approx(1 - open_, abs=1e-6), 1)
    assert (apart.low, apart.high) == (pytest.approx(-0.95), pytest.approx(-0.95 + open_, abs=1e-6))
    assert one_apart.low < agreed.low
    assert "exact limits" in agreed.method


def test_misses_and_false_calls_have_their_own_denominators():
    answer = against_reference(45, 3, 5, 97, 0.95)

    assert (answer.found.inspected, answer.false_calls.inspected) == (48, 102)
    assert answer.found.share + answer.missed.share == pytest.approx(1)


def test_without_a_bad_unit_the_share_found_is_unknown_and_the_false_calls_are_not():
    answer = against_reference(0, 0, 1, 49, 0.95)

    assert isinstance(answer.found, TooLittle)
    assert answer.false_calls.share == pytest.approx(0.02)
    assert isinstance(effectiveness(0, 0, 0.95), TooLittle)


@pytest.mark.parametrize("metric", ["nominal", "ordinal", "interval", "ratio"])
def test_alphas_of_units_drawn_again_are_those_of_each_draw_by_itself(metric):
    source = np.random.default_rng(5)
    truth = source.integers(0, 5, 14)
    rows = [[None if source.random() < 0.1 else float(one + source.integers(0, 2)) for one in truth] for _ in range(3)]
    units = [unit for unit in zip(*rows, strict=True) if sum(value is not None for value in unit) >= 2]
    again, slow = np.random.default_rng(1), []
    for _ in range(1000):
        drawn = [units[i] for i in again.integers(len(units), size=len(units))]
        slow.append(krippendorff_alpha(list(zip(*drawn, strict=True)), metric).alpha)
    made = krippendorff_interval(rows, metric, 0.9, 1000, 1)

    assert "widened" in made.method or made.low == pytest.approx(float(np.quantile(slow, 0.05)), abs=1e-12)
    assert "widened" in made.method or made.high == pytest.approx(float(np.quantile(slow, 0.95)), abs=1e-12)


def written_out_alpha(units, apart):
    """Return alpha as its definition reads: mean distance within units over that of any two values."""
    values = [value for unit in units for value in unit]
    within = sum(apart(a, b) / (len(unit) - 1) for unit in units for a, b in permutations(unit, 2)) / len(values)
    return 1 - within / (sum(apart(a, b) for a, b in permutations(values, 2)) / (len(values) * (len(values) - 1)))


@pytest.mark.parametrize("metric", ["nominal", "ordinal", "interval", "ratio"])
def test_alpha_is_what_its_definition_says(metric):
    source = np.random.default_rng(8)
    rows = [[None if source.random() < 0.2 else float(source.integers(0, 5)) for _ in range(30)] for _ in range(4)]
    units = [unit for unit in ([v for v in column if v is not None] for column in zip(*rows, strict=True)) if unit[1:]]
    stands = Counter(value for unit in units for value in unit)

    def ordinal(a, b):
        low, high = min(a, b), max(a, b)
        return (sum(stands[v] for v in stands if low <= v <= high) - (stands[low] + stands[high]) / 2) ** 2

    apart = {"nominal": lambda a, b: a != b, "ordinal": ordinal, "interval": lambda a, b: (a - b) ** 2,
             "ratio": lambda a, b: ((a - b) / (a + b)) ** 2 if a != b else 0}[metric]  # fmt: skip

    assert krippendorff_alpha(rows, metric).alpha == pytest.approx(written_out_alpha(units, apart), abs=1e-12)


def test_a_value_whose_square_is_no_number_is_refused_by_name():
    with pytest.raises(ValueError, match=r"judgements\[1\]\[0\] must lie within 1e\+100 of 0, got 1e\+200"):
        krippendorff_alpha([[1.0, 2.0], [1e200, 2.0]], "interval")
