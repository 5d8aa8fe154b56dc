"""Which types changed: rates, not bars. Sources beside each check."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.by_command.change.type_changes import type_changes
from qc.stats.series import counts_of

TYPES = ("gap", "leak", "scratch", "trim")


def changes(before, after, units=(500, 500)):
    return type_changes(counts_of(before, TYPES), units[0], counts_of(after, TYPES), units[1], 0.95, 0.05)


def test_the_profile_is_the_chi_square_of_two_months_by_four_types():
    """Source: hand expected counts 30, 27.5, 22.5, 20 in each month: chi-square 10.1768 on 3 degrees."""
    answer = changes((40, 25, 20, 15), (20, 30, 25, 25))

    assert answer.profile.chi_square == pytest.approx(10.176767676767676)
    assert answer.overall.p_value == pytest.approx(1)


def test_twice_the_units_with_twice_the_defects_is_no_change():
    answer = changes((40, 25, 20, 15), (80, 50, 40, 30), units=(250, 500))

    assert not any(kind.changed for kind in answer.types)
    assert all(kind.ratio.ratio == pytest.approx(1) for kind in answer.types)


def test_one_type_that_fell_is_named_alone():
    answer = changes((90, 60, 50, 40), (30, 58, 52, 41))

    assert [kind.label for kind in answer.types if kind.changed] == ["gap"]
    assert answer.types[0].adjusted >= answer.types[0].ratio.p_value


def test_a_type_that_nobody_found_is_named_and_not_tested():
    answer = changes((9, 0, 5, 4), (8, 0, 6, 4))

    assert answer.unseen == ("leak",)
    assert [kind.label for kind in answer.types] == ["gap", "scratch", "trim"]


def test_no_defect_at_all_is_too_little():
    assert isinstance(changes((0, 0, 0, 0), (0, 0, 0, 0)), TooLittle)


def test_a_period_without_units_is_refused():
    with pytest.raises(ValueError, match="after_units must be more than 0, got 0"):
        changes((1, 0, 0, 0), (0, 0, 0, 0), units=(10, 0))


pairs_of_counts = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=4, max_size=4)


@given(pairs=pairs_of_counts.filter(lambda pairs: any(map(any, pairs))))
def test_the_order_of_types_and_the_unit_of_exposure_do_not_matter(pairs):
    before, after = zip(*pairs, strict=True)
    one = changes(before, after)
    other = type_changes(
        counts_of(before[::-1], TYPES[::-1]), 5.0, counts_of(after[::-1], TYPES[::-1]), 5.0, 0.95, 0.05
    )

    def told(answer):
        return {each.label: (each.ratio.ratio, each.ratio.p_value, each.changed) for each in answer.types}

    assert told(one).keys() == told(other).keys()
    for label, facts in told(one).items():
        assert told(other)[label] == pytest.approx(facts)
    assert {*one.unseen} == {*other.unseen}
