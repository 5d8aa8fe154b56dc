"""Impossible input is refused with the argument's name and the value."""

import math

import pytest

from qc.stats import refusals
from tests.stats.test_scale import watched


@pytest.mark.parametrize("level", [0, 1, -0.1, 1.5, 95, math.nan, True, "0.95"])
def test_a_level_outside_0_and_1_is_refused(level):
    with pytest.raises(ValueError, match=r"level must be a share .* got "):
        refusals.demand_level(level)


@pytest.mark.parametrize("count", [-1, 2.0, math.nan, None, True])
def test_a_count_that_is_no_whole_number_is_refused(count):
    with pytest.raises(ValueError, match=r"counts\[1\] must be a whole number .* got "):
        refusals.demand_counts((3, count), "counts")


def test_defects_on_no_exposure_are_refused():
    with pytest.raises(ValueError, match=r"units\[1\] must be more than 0 where counts\[1\] is 2, got 0"):
        refusals.demand_counted_on((0, 2), "counts", (0, 0), "units")


def test_more_defectives_than_units_are_refused():
    with pytest.raises(ValueError, match=r"inspected\[0\] must be at least defectives\[0\] \(12\), got 10"):
        refusals.demand_no_more((12,), "defectives", (10,), "inspected")


def test_a_label_that_stands_twice_is_refused():
    with pytest.raises(ValueError, match="labels must differ, got 'S07' twice"):
        refusals.demand_labels(("S07", "S08", "S07"), "counts", (1, 2, 3))


def test_a_label_that_stands_twice_among_very_many_is_found_at_once():
    labels = [*map(str, range(60_000)), "59999"]
    with watched(5), pytest.raises(ValueError, match="labels must differ, got '59999' twice"):
        refusals.demand_labels(labels, "counts", labels)


@pytest.mark.parametrize("table", [(), ((),), ((1, 2), (3,))])
def test_a_ragged_or_empty_table_is_refused(table):
    with pytest.raises(ValueError, match="table"):
        refusals.demand_table(table, "table")


@pytest.mark.parametrize("value", [0, -2, math.inf, math.nan])
def test_a_quantity_that_must_be_positive_is_refused(value):
    with pytest.raises(ValueError, match="rate must be"):
        refusals.demand_positive(value, "rate")


@pytest.mark.parametrize("count", [10**9 + 1, 10**18, 2**70])
def test_a_count_beyond_the_largest_is_refused_with_the_largest(count):
    with pytest.raises(ValueError, match=rf"counts\[1\] must be at most 1000000000, .* got {count}"):
        refusals.demand_counts((3, count), "counts")
    assert refusals.demand_counts((3, 10**9), "counts") == (3, 10**9)


def test_an_exposure_beyond_the_largest_is_refused_with_the_largest():
    with pytest.raises(ValueError, match=r"units\[0\] must be at most 1e\+12, .* got 10000000000000"):
        refusals.demand_sizes((1e13,), "units")
