"""Pareto: order, ties, the others, cumulative shares and weights."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.causes.pareto import could_swap, pareto, severity_amounts, vital_few
from qc.stats.series import counts_of

CODES = ["leak", "gap", "scratch", "stain", "missing"]


def by_count(counts, **more):
    return pareto(counts_of(counts, CODES[: len(counts)]), counts, "defects", other="Others", **more)


def test_equal_bars_keep_the_order_in_which_they_were_given():
    chart = by_count([7, 7, 3, 1, 3])

    assert [bar.label for bar in chart.bars] == ["leak", "gap", "scratch", "missing", "stain"]


def test_the_others_stand_last_whatever_their_size_and_are_in_the_whole():
    chart = by_count([1, 20, 3, 2, 4], last=["gap"], most=2)

    assert [(bar.label, bar.count) for bar in chart.bars] == [("missing", 4), ("scratch", 3), ("Others", 23)]
    assert chart.bars[-1].members == ("leak", "gap", "stain")
    assert [bar.cumulative for bar in chart.bars] == pytest.approx([4 / 30, 7 / 30, 1.0])


@given(counts=st.lists(st.integers(0, 500), min_size=5, max_size=5), most=st.integers(1, 6))
def test_shares_sum_to_one_and_nothing_is_lost(counts, most):
    chart = by_count(counts, most=most)
    if isinstance(chart, TooLittle):
        assert sum(counts) == 0
        return

    assert sum(bar.share for bar in chart.bars) == pytest.approx(1)
    assert chart.bars[-1].cumulative == 1
    assert sum(bar.count for bar in chart.bars) == chart.total_count == sum(counts)
    kept = [bar.amount for bar in chart.bars if bar.label != "Others"]
    assert kept == sorted(kept, reverse=True)


@given(counts=st.lists(st.integers(1, 500), min_size=5, max_size=5), factor=st.integers(1, 50))
def test_another_unit_of_the_weight_changes_no_share(counts, factor):
    one = by_count(counts)
    other = pareto(counts_of(counts, CODES), [factor * count for count in counts], "minutes", other="Others")

    assert [bar.label for bar in other.bars] == [bar.label for bar in one.bars]
    assert [bar.share for bar in other.bars] == pytest.approx([bar.share for bar in one.bars])


def test_minutes_and_severity_can_order_otherwise_than_counts():
    counts, amounts = severity_amounts({"critical": [1, 0], "minor": [0, 9]}, {"critical": 100, "minor": 1})
    chart = pareto(counts_of(counts, ["gas", "stain"]), amounts, "severity points", other="Others")

    assert (counts, amounts) == ((1, 9), (100, 9))
    assert [(bar.label, bar.count, bar.amount) for bar in chart.bars] == [("gas", 1, 100), ("stain", 9, 9)]
    assert chart.weight == "severity points"


def test_a_cause_without_a_defect_keeps_its_bar():
    assert [(bar.label, bar.share) for bar in by_count([0, 4]).bars] == [("gap", 1.0), ("leak", 0.0)]


def test_no_defect_at_all_is_too_little():
    assert isinstance(by_count([0, 0]), TooLittle)
    assert isinstance(by_count([]), TooLittle)


def test_places_that_chance_could_swap_are_marked():
    # 60 against 30: an even coin gives 30 or fewer of 90 in .1 %; 30 against 28: every other time.
    assert could_swap([60, 30, 28, 0, 0], 0.95) == (False, True, False, True)


@pytest.mark.parametrize(
    ("counts", "more", "told"),
    [
        ([1, -2], {}, r"counts\[1\] must be a whole number of at least 0, got -2"),
        ([1, 2], {"most": 0}, "most must be a whole number of at least 1, got 0"),
        ([1, 2], {"last": ["rust"]}, "last names 'rust'"),
    ],
)
def test_impossible_input_is_refused(counts, more, told):
    with pytest.raises(ValueError, match=told):
        by_count(counts, **more)


def test_a_severity_without_a_weight_is_refused():
    with pytest.raises(ValueError, match="weights needs a weight for severity 'major'"):
        severity_amounts({"major": [1]}, {"minor": 1})
    with pytest.raises(ValueError, match="amounts must be at least 0, got -3 for 'leak'"):
        pareto(counts_of([1], ["leak"]), [-3], "minutes", other="Others")


def ranked(counts, **more):
    return pareto(
        counts_of(counts, [str(place) for place in range(len(counts))]), counts, "defects", other="Other", **more
    )


def test_the_vital_few_are_the_fewest_that_reach_the_share():
    # 40 + 25 + 15 of 100 are four fifths to the digit; without the third they are 65.
    answer = vital_few(ranked([5, 40, 15, 25, 15]), 0.8)

    assert (answer.labels, answer.ties, answer.causes) == (("1", "3", "2"), ("4",), 5)
    assert answer.reached == pytest.approx(0.8)
    assert vital_few(ranked([5, 40, 15, 25, 15]), 0.4).labels == ("1",)


def test_a_bar_of_the_others_is_none_of_the_few():
    answer = vital_few(ranked([10] * 10, most=4), 0.8)

    assert isinstance(answer, TooLittle)
    assert "4 causes" in answer.reason


@given(st.lists(st.integers(0, 50), min_size=1, max_size=12).filter(any), st.floats(0.01, 1))
def test_one_fewer_would_not_reach_it(counts, share):
    whole = ranked(counts)
    answer = vital_few(whole, share)
    amounts = sorted(counts, reverse=True)

    assert sum(amounts[: len(answer.labels)]) >= share * sum(counts) * (1 - 1e-9)
    assert sum(amounts[: len(answer.labels) - 1]) < share * sum(counts)


@pytest.mark.parametrize("share", [0, 1.5, float("nan"), "0.8"])
def test_a_share_that_cannot_be_is_refused(share):
    with pytest.raises(ValueError, match="share must be"):
        vital_few(ranked([3, 2]), share)
