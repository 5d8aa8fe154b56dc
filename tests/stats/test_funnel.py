"""Funnels: edges, never narrowed, short weeks not praised. Sources: tests/reference."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats.mstats import winsorize

from qc.stats.answers import TooLittle
from qc.stats.series import rates_of, shares_of
from qc.stats.stations.funnel import (
    additive_funnel,
    against_own_past,
    exact_funnel,
    funnel_dispersion,
    indicator_of,
    multiplicative_funnel,
)
from qc.stats.stations.funnel_limits import exact_rate_limits, exact_share_limits

CHANCES = (0.001, 0.025, 0.975, 0.999)
groups = st.lists(st.tuples(st.integers(0, 40), st.integers(1, 300)), min_size=3, max_size=10)


def indicator(pairs, target=0.1):
    counts, units = zip(*pairs, strict=True)
    return indicator_of(rates_of(counts, units, tuple(map(str, range(len(pairs))))), target)


@given(st.floats(0.02, 0.98), st.integers(1, 400))
def test_share_limits_stand_in_order_and_do_not_reach_above_1(target, n):
    limits = exact_share_limits(target, n, CHANCES)

    assert list(limits) == sorted(limits)
    assert limits[-1] <= 1


@given(st.floats(0.02, 2), st.floats(1, 200))
def test_more_exposure_narrows_the_funnel(target, exposure):
    small, large = (exact_rate_limits(target, e, CHANCES) for e in (exposure, 20 * exposure))

    assert large[3] - large[0] < small[3] - small[0]


@given(groups)
def test_limits_are_never_narrower_than_chance(pairs):
    answer = multiplicative_funnel(indicator(pairs), 0.95, 0.998, 0.1)

    assert answer.dispersion.used >= 1
    for point in answer.points:
        plain = (0.1 / point.size) ** 0.5
        assert point.limits[2] - 0.1 >= 1.9599 * plain - 1e-9


def test_groups_alike_have_phi_below_1_and_no_additive_variance():
    answer = funnel_dispersion(indicator([(10, 100), (11, 100), (9, 100), (10, 100)]), 0.1)

    assert answer.phi < 1
    assert answer.used == 1
    assert answer.tau_squared == 0


def test_winsorising_keeps_one_wild_group_from_widening_the_limits_for_all():
    pairs = [(10, 100), (11, 100), (9, 100), (12, 100), (8, 100), (10, 100), (11, 100), (9, 100), (10, 100), (60, 100)]

    assert funnel_dispersion(indicator(pairs), 0.1).phi < funnel_dispersion(indicator(pairs), 0.0).phi / 4
    assert multiplicative_funnel(indicator(pairs), 0.95, 0.998, 0.1).points[-1].verdict == "very high"


def test_a_short_week_without_a_defect_is_not_praised():
    answer = exact_funnel(indicator([(0, 12), (30, 300), (35, 300)]), 0.95, 0.998)

    assert answer.points[0].limits[1] <= 0
    assert answer.points[0].verdict == "usual range"


def test_nought_on_many_units_is_low():
    assert exact_funnel(indicator([(0, 60)]), 0.95, 0.998).points[0].verdict == "low"
    assert exact_funnel(indicator([(0, 90)]), 0.95, 0.998).points[0].verdict == "very low"


def test_all_defective_is_very_high():
    point = exact_funnel(indicator_of(shares_of((8,), (8,), ("a",)), 0.1), 0.95, 0.998).points[0]

    assert point.verdict == "very high"
    assert point.value == 1


def test_a_value_on_a_normal_limit_is_not_beyond_it():
    """Rate 1 on 100 units has error 0.1: put the inner limit exactly on the third group's value."""
    from scipy.special import ndtr

    level = float(2 * ndtr(2.0) - 1)
    four = indicator_of(rates_of((100, 100, 120, 100), (100,) * 4, tuple("abcd")), 1.0)

    assert multiplicative_funnel(four, level, 0.9999, 0.0).points[2].verdict == "usual range"
    assert multiplicative_funnel(four, level - 1e-4, 0.9999, 0.0).points[2].verdict == "high"


def test_a_group_without_units_is_shown_and_not_judged():
    answer = exact_funnel(indicator([(0, 0), (30, 300)]), 0.95, 0.998)

    assert answer.points[0].verdict == "no exposure"


def test_too_few_groups_have_no_dispersion():
    assert isinstance(multiplicative_funnel(indicator([(1, 9), (2, 9)]), 0.95, 0.998, 0.1), TooLittle)
    assert isinstance(additive_funnel(indicator([(1, 9), (2, 9)]), 0.95, 0.998, 0.1), TooLittle)
    assert isinstance(exact_funnel(indicator([(0, 0)]), 0.95, 0.998), TooLittle)


@pytest.mark.parametrize(
    ("inner", "outer", "winsorised", "words"),
    [(0.95, 0.9, 0.1, "outer must be more than inner"), (0.95, 0.998, 0.5, "winsorised must be .* below 0.5, got 0.5")],
)
def test_impossible_settings_are_refused(inner, outer, winsorised, words):
    with pytest.raises(ValueError, match=words):
        multiplicative_funnel(indicator([(1, 9), (2, 9), (3, 9)]), inner, outer, winsorised)


def test_a_target_of_nought_is_refused():
    with pytest.raises(ValueError, match="target must be more than 0, got 0"):
        indicator_of(rates_of((1,), (9,), ("a",)), 0)
    with pytest.raises(ValueError, match="target must be a share between 0 and 1"):
        indicator_of(shares_of((1,), (9,), ("a",)), 1)


def test_winsorising_as_published_sets_the_ends_to_the_next_order_statistic():
    # Ten groups of z -9, -4 .. 4, 9 in all but scale: of 10 the lowest and highest 1 are set to the 2nd and 9th.
    counts = [1, 60, 70, 80, 90, 110, 120, 130, 140, 400]
    indicator = indicator_of(rates_of(counts, [100.0] * 10, [str(place) for place in range(10)]), 1.0)
    published = funnel_dispersion(indicator, 0.1, "order statistic")
    interpolated = funnel_dispersion(indicator, 0.1)
    z = sorted(point.z for point in exact_funnel(indicator, 0.95, 0.998).points)
    by_hand = [z[1], *z[1:-1], z[-2]]

    assert published.phi == pytest.approx(sum(one * one for one in by_hand) / 10)
    assert (published.winsorising, interpolated.winsorising) == ("order statistic", "interpolated")
    assert interpolated.phi > published.phi
    few = indicator_of(rates_of(counts[:9], [100.0] * 9, [str(place) for place in range(9)]), 1.0)
    assert funnel_dispersion(few, 0.1, "order statistic").phi == funnel_dispersion(few, 0.0).phi


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 300), min_size=3, max_size=40), st.sampled_from([0.05, 0.1, 0.2, 0.25, 0.4]))
def test_winsorising_as_published_is_that_of_the_reference_library(counts, share):
    """Reference library: scipy.stats.mstats.winsorize sets the lowest and highest share to the next order statistic."""
    indicator = indicator_of(rates_of(counts, [100.0] * len(counts), [str(place) for place in range(len(counts))]), 1.0)
    z = [point.z for point in exact_funnel(indicator, 0.95, 0.998).points]
    theirs = np.mean(np.asarray(winsorize(np.array(z), (share, share))) ** 2)

    assert funnel_dispersion(indicator, share, "order statistic").phi == pytest.approx(theirs, rel=1e-12)


def test_a_past_that_is_itself_chance_widens_the_limits():
    """By hand: 60 now where the same units before had 40 is z = (60 - 40) / sqrt(40 + 40), not 20 / sqrt(40)."""
    counts, past = (60, 41, 39, 20), (40.0, 40.0, 40.0, 16.0)
    errors = [mean**0.5 for mean in past]  # as many units before as now
    known, own = (
        indicator_of(rates_of(counts, past, "abcd"), 1.0),
        against_own_past(rates_of(counts, past, "abcd"), errors),
    )
    plain, wide = (multiplicative_funnel(each, 0.95, 0.998, 0.45) for each in (known, own))

    assert [point.z for point in wide.points] == pytest.approx([20 / 80**0.5, 1 / 80**0.5, -1 / 80**0.5, 4 / 32**0.5])
    assert (plain.dispersion.used, wide.dispersion.used) == (1.0, 1.0)
    for one, other in zip(plain.points, wide.points, strict=True):
        assert other.limits[3] - 1 == pytest.approx(2**0.5 * (one.limits[3] - 1))
    assert (plain.points[0].verdict, wide.points[0].verdict) == ("very high", "high")
