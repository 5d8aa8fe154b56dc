"""Properties and edges of differences, ratios and paired tests."""

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.contingency_tables import mcnemar

from qc.stats.answers import TooLittle
from qc.stats.by_command.intervals.contrasts import (
    difference_interval,
    odds_ratio_interval,
    paired_test,
    rate_ratio_interval,
)

shares = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
rates = st.tuples(st.integers(0, 300), st.floats(0.1, 500))


@given(one=shares, two=shares)
def test_exchanging_the_sides_turns_the_difference_over(one, two):
    there, back = difference_interval(*one, *two, 0.95), difference_interval(*two, *one, 0.95)

    assert -1 <= there.low <= there.difference <= there.high <= 1
    assert (back.low, back.high) == pytest.approx((-there.high, -there.low))


@given(one=rates, two=rates)
def test_exchanging_the_sides_turns_the_ratio_over(one, two):
    there, back = rate_ratio_interval(*one, *two, 0.95), rate_ratio_interval(*two, *one, 0.95)
    if isinstance(there, TooLittle):
        assert one[0] == two[0] == 0
        return

    assert there.low <= there.ratio <= there.high
    assert back.p_value == pytest.approx(there.p_value)
    if one[0] and two[0]:
        assert back.low == pytest.approx(1 / there.high, rel=1e-6)


def test_a_count_of_zero_leaves_the_ratio_open_on_its_side():
    none_first, none_second = rate_ratio_interval(0, 10, 4, 10, 0.95), rate_ratio_interval(4, 10, 0, 10, 0.95)

    assert (none_first.low, none_first.ratio) == (0, 0)
    assert none_first.high < inf
    assert (none_second.ratio, none_second.high) == (inf, inf)
    assert none_second.low > 0


def test_too_little_is_said():
    assert isinstance(difference_interval(0, 0, 1, 5, 0.95), TooLittle)
    assert isinstance(rate_ratio_interval(0, 3, 0, 5, 0.95), TooLittle)
    assert isinstance(rate_ratio_interval(0, 0, 1, 5, 0.95), TooLittle)
    assert isinstance(odds_ratio_interval(0, 8, 3, 9, 0.95), TooLittle)
    assert isinstance(odds_ratio_interval(3, 8, 9, 9, 0.95), TooLittle)
    assert isinstance(paired_test(0, 0), TooLittle)


def test_the_paired_test_looks_at_disagreements_only():
    # 1 against 7: an even coin gives 0, 1, 7 or 8 of 8 in 18/256, by counting.
    answer = paired_test(1, 7)

    assert answer.p_value == pytest.approx(18 / 256)
    assert answer.share_first == 1 / 8
    assert paired_test(4, 4).p_value == 1.0


def test_impossible_input_is_refused():
    with pytest.raises(ValueError, match=r"first_inspected must be at least first_defectives \(9\), got 8"):
        difference_interval(9, 8, 1, 5, 0.95)
    with pytest.raises(ValueError, match="level must be"):
        difference_interval(1, 8, 1, 5, 95)
    with pytest.raises(ValueError, match="only_second must be a whole number of at least 0, got -1"):
        paired_test(1, -1)


@given(one=st.integers(0, 400), other=st.integers(0, 400))
def test_mcnemars_chi_squares_are_those_of_statsmodels(one, other):
    answer = paired_test(one, other)
    if one + other == 0:
        assert isinstance(answer, TooLittle)
        return
    table = [[0, one], [other, 0]]
    plain, corrected = (mcnemar(table, exact=False, correction=how) for how in (False, True))

    assert (answer.chi_square, answer.chi_p_value) == pytest.approx((plain.statistic, plain.pvalue))
    if one != other:  # the library corrects a difference of 0 to 1
        assert (answer.corrected, answer.corrected_p_value) == pytest.approx((corrected.statistic, corrected.pvalue))
    assert answer.p_value == pytest.approx(mcnemar(table, exact=True).pvalue)
