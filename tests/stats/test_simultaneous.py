"""Simultaneous intervals: edges and refusals. Sources: tests/reference."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.proportion import multinomial_proportions_confint

from qc.stats.answers import TooLittle
from qc.stats.by_command.intervals.simultaneous import goodman_intervals, sison_glaz_intervals
from qc.stats.series import counts_of


@given(st.lists(st.integers(0, 300), min_size=2, max_size=12).filter(any))
def test_a_share_lies_in_its_interval_and_the_interval_in_0_and_1(counts):
    answer = goodman_intervals(counts_of(counts, tuple(map(str, range(len(counts))))), 0.95)

    assert sum(answer.shares) == pytest.approx(1)
    for low, share, high in zip(answer.low, answer.shares, answer.high, strict=True):
        assert 0 <= low <= share + 1e-12
        assert share - 1e-12 <= high <= 1


def test_more_categories_together_need_wider_intervals():
    few = goodman_intervals(counts_of((40, 60), ("a", "rest")), 0.95)
    many = goodman_intervals(counts_of((40, 30, 20, 10), ("a", "b", "c", "d")), 0.95)

    assert many.low[0] < few.low[0] < few.high[0] < many.high[0]


@pytest.mark.parametrize("intervals", [goodman_intervals, sison_glaz_intervals])
@pytest.mark.parametrize(("counts", "labels"), [((0, 0), ("a", "b")), ((), ()), ((5,), ("a",))])
def test_nothing_counted_or_one_category_is_too_little(intervals, counts, labels):
    assert isinstance(intervals(counts_of(counts, labels), 0.95), TooLittle)


@pytest.mark.parametrize("counts", [(1, 0, 0), (5, 0), (2, 2, 2)])
def test_sison_glaz_does_not_answer_where_it_would_claim_certainty(counts):
    answer = sison_glaz_intervals(counts_of(counts, tuple("abc"[: len(counts)])), 0.95)

    assert isinstance(answer, TooLittle)
    assert answer.have == sum(counts)


def test_a_level_in_percent_is_refused():
    with pytest.raises(ValueError, match=r"level must be a share between 0 and 1, say 0.95, got 95"):
        sison_glaz_intervals(counts_of((10, 20), ("a", "b")), 95)


@pytest.mark.parametrize("counts", [(90_000, 10_000, 10_000), (180_000, 1, 0)])
def test_counts_on_which_the_approximation_breaks_down_have_no_answer(counts):
    # The library's limits there are 0.818182 to 0.818182; the single normal interval is 460 counts wide.
    answer = sison_glaz_intervals(counts_of(counts, tuple("abc")), 0.95)

    assert isinstance(answer, TooLittle)
    assert "take Goodman's" in answer.reason


def test_large_counts_on_which_it_holds_keep_their_answer():
    # 1.2717 of the root of the count of one of three equal categories, at every size (constructed: scaling).
    answer = sison_glaz_intervals(counts_of((30_000,) * 3, tuple("abc")), 0.95)

    assert (answer.high[0] - answer.low[0]) * 30_000**0.5 == pytest.approx(1.2717, rel=2e-3)


def test_more_counts_than_can_be_searched_are_refused_with_what_would_do():
    with pytest.raises(ValueError, match=r"counts must sum to at most 200000 .* take Goodman's"):
        sison_glaz_intervals(counts_of((10**7, 10**5, 100), tuple("abc")), 0.95)


def test_one_category_that_holds_all_leaves_no_share_without_doubt():
    counts, labels = [0, 0, 73], ["gap", "step", "scratch"]
    goodman = goodman_intervals(counts_of(counts, labels), 0.95)

    assert isinstance(sison_glaz_intervals(counts_of(counts, labels), 0.95), TooLittle)
    assert all(low < high for low, high in zip(goodman.low, goodman.high, strict=True))


@given(st.lists(st.integers(0, 25), min_size=2, max_size=6), st.sampled_from([0.5, 0.8, 0.95, 0.998]))
@settings(max_examples=15, deadline=None)
def test_sison_and_glaz_s_limits_are_those_of_statsmodels(counts, level):
    """Reference library: statsmodels, one category after the other; all widths at once give the same."""
    if sum(counts) < 5 * len(counts):
        counts = [count + 5 for count in counts]
    labels = [str(i) for i in range(len(counts))]
    made = sison_glaz_intervals(counts_of(counts, labels), level)
    if isinstance(made, TooLittle):
        return
    limits = multinomial_proportions_confint(counts, alpha=1 - level, method="sison-glaz")

    assert made.low == pytest.approx(limits[:, 0], rel=1e-9, abs=1e-12)
    assert made.high == pytest.approx(limits[:, 1], rel=1e-9, abs=1e-12)
