"""Change points: edges, gaps, seeds, scale. Sources: tests/reference/test_change_cases.py."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.change import several_changes
from qc.stats.change.change_points import likely_range, mean_change_point, poisson_change_point
from qc.stats.change.cost_bounds import poisson_cost_bounds, poisson_least_costs
from qc.stats.change.segments import (
    best_costs,
    best_cuts,
    mean_costs,
    poisson_best_costs,
    poisson_costs,
)
from qc.stats.change.several_changes import SeveralChanges, mean_changes, poisson_changes
from qc.stats.series import rates_of


def weeks(n):
    return tuple(f"w{i:02}" for i in range(1, n + 1))


def poisson(counts, units=None, null="poisson", runs=199, seed=1, level=0.95):
    return poisson_change_point(
        rates_of(counts, units or (10,) * len(counts), weeks(len(counts))), level, runs, seed, null
    )


def test_the_index_names_the_last_period_of_the_old_regime():
    answer = poisson((2,) * 6 + (20,) * 6)

    assert (answer.last_before, answer.earliest, answer.latest) == ("w06", "w06", "w06")
    assert (answer.before, answer.after) == pytest.approx((0.2, 2.0))


@settings(max_examples=30)
@given(st.lists(st.integers(0, 30), min_size=4, max_size=15).filter(any))
def test_chances_sum_to_one_and_the_range_holds_the_likeliest_date(counts):
    answer = poisson(counts, runs=99)

    assert sum(answer.chances) == pytest.approx(1)
    assert answer.earliest <= answer.last_before <= answer.latest
    assert 0 < answer.p_value <= 1


@settings(max_examples=20)
@given(st.lists(st.integers(0, 30), min_size=4, max_size=12).filter(any))
def test_time_reversed_finds_the_same_change(counts):
    there, back = poisson(counts, runs=99), poisson(counts[::-1], runs=99)

    assert back.likelihood_ratio == pytest.approx(there.likelihood_ratio)
    assert sorted(back.chances) == pytest.approx(sorted(there.chances))


def test_a_short_week_is_no_change():
    """The count falls to a fifth because the units do."""
    answer = poisson((20,) * 5 + (4,) + (20,) * 5, units=(50,) * 5 + (10,) + (50,) * 5)

    assert not answer.is_change
    assert answer.likelihood_ratio == pytest.approx(0, abs=1e-9)


def test_shuffled_weeks_take_their_units_with_them():
    """Weeks of 100 and of 10 units in turn: counts shuffled away from their units would hide a plain doubling."""
    answer = poisson((10, 1) * 4 + (20, 2) * 4, units=(100, 10) * 8, null="shuffled", runs=999)

    assert answer.last_before in ("w07", "w08")
    assert answer.p_value < 0.01


def test_a_week_without_units_is_a_gap_and_not_a_nought():
    answer = poisson((3, 0, 3, 12, 12), units=(10, 0, 10, 10, 10))

    assert answer.gaps == ("w02",)
    assert answer.labels == ("w01", "w03", "w04", "w05")


def test_the_same_seed_gives_the_same_answer():
    counts = (5, 9, 4, 8, 6, 7, 3, 9)

    assert poisson(counts, null="shuffled") == poisson(counts, null="shuffled")


@pytest.mark.parametrize(("counts", "units"), [((1, 2, 3), None), ((0, 0, 0, 0), None), ((1, 2, 3, 0), (5, 5, 5, 0))])
def test_too_short_or_empty_series_have_no_change_point(counts, units):
    assert isinstance(poisson(counts, units), TooLittle)


def test_the_unit_of_a_mean_does_not_matter():
    y = [1.0, 1.2, 0.9, 1.1, 2.0, 2.2, 1.9, 2.1]
    one, other = (mean_change_point([v * scale + 7 for v in y], weeks(8), 0.95, 199, 1) for scale in (1, 1000))

    assert one.last_before == other.last_before == "w04"
    assert one.likelihood_ratio == pytest.approx(other.likelihood_ratio)
    assert one.chances == pytest.approx(other.chances)


@pytest.mark.parametrize("y", [[1.0, 2.0, 3.0], [5.0] * 9])
def test_three_values_or_a_flat_line_have_no_mean_change(y):
    assert isinstance(mean_change_point(y, weeks(len(y)), 0.95, 99, 1), TooLittle)


def test_a_perfect_step_is_dated_exactly():
    answer = mean_change_point([0.0] * 5 + [1.0] * 5, weeks(10), 0.95, 999, 1)

    assert (answer.earliest, answer.last_before, answer.latest) == ("w05", "w05", "w05")
    assert answer.is_change


@given(st.lists(st.integers(0, 20), min_size=3, max_size=7), st.integers(0, 2))
def test_the_division_is_the_best_of_all_there_are(counts, cuts):
    """Source: brute force over every division."""
    from itertools import combinations, pairwise

    x = np.array(counts, dtype=float)
    costs = mean_costs(x[None], 1)[0]

    def cost(ends):
        return sum(((x[a:b] - x[a:b].mean()) ** 2).sum() for a, b in pairwise((0, *ends, len(x))))

    least = min(cost(ends) for ends in combinations(range(1, len(x)), cuts))
    assert best_costs(costs[None], cuts)[0, cuts] == pytest.approx(least, abs=1e-9)
    assert cost(best_cuts(costs, cuts)) == pytest.approx(least, abs=1e-9)


def test_stretches_cost_minus_twice_their_poisson_likelihood():
    """Reference library: scipy.stats.poisson; the terms that no division changes drop out of the difference."""
    from scipy import stats

    x, t = np.array([[3, 0, 5, 9]]), np.array([[10.0, 5.0, 10.0, 10.0]])
    costs = poisson_costs(x, t, 1)[0]

    def minus_two_log(a, b):
        rate = x[0, a:b].sum() / t[0, a:b].sum()
        return -2 * stats.poisson(rate * t[0, a:b]).logpmf(x[0, a:b]).sum()

    ours = costs[0, 2] + costs[2, 4] - costs[0, 4]
    assert ours == pytest.approx(minus_two_log(0, 2) + minus_two_log(2, 4) - minus_two_log(0, 4))


def test_stretches_keep_their_shortest_length():
    answer = poisson_changes(rates_of((5,) * 6 + (90,) + (5,) * 6, (10,) * 13, weeks(13)), 0.95, 3, 3, 99, 1)

    assert all(stretch.periods >= 3 for stretch in answer.stretches)


def test_the_stretches_cover_every_period_once():
    answer = poisson_changes(rates_of((5,) * 8 + (30,) * 3 + (5,) * 9, (10,) * 20, weeks(20)), 0.95, 4, 2, 199, 1)

    assert [(s.first, s.last) for s in answer.stretches] == [("w01", "w08"), ("w09", "w11"), ("w12", "w20")]
    assert [s.value for s in answer.stretches] == pytest.approx([0.5, 3.0, 0.5])


def test_no_change_is_one_stretch_and_the_p_value_of_the_step_not_taken():
    answer = poisson_changes(rates_of((5, 6, 4, 5, 6, 5, 4, 5), (10,) * 8, weeks(8)), 0.95, 3, 2, 99, 1)

    assert answer.changes == ()
    assert len(answer.stretches) == len(answer.p_values) == 1


def test_two_level_means_are_divided_too():
    y = [1.0, 1.1, 0.9, 1.0, 3.0, 3.1, 2.9, 3.0, 1.0, 1.1, 0.9, 1.0]

    assert [c.last_before for c in mean_changes(y, weeks(12), 0.95, 4, 2, 199, 1).changes] == ["w04", "w08"]


@pytest.mark.parametrize("counts", [(1, 2, 3), (0,) * 9])
def test_too_little_for_several_changes_says_so(counts):
    assert isinstance(
        poisson_changes(rates_of(counts, (10,) * len(counts), weeks(len(counts))), 0.95, 2, 1, 99, 1), TooLittle
    )


def test_impossible_settings_are_refused():
    with pytest.raises(ValueError, match="runs must be a whole number of at least 99, got 10"):
        poisson((1, 2, 3, 4), runs=10)
    with pytest.raises(ValueError, match='null must be "poisson" or "shuffled", got \'normal\''):
        poisson((1, 2, 3, 4), null="normal")
    with pytest.raises(ValueError, match="shortest must be a whole number of at least 1, got 0"):
        poisson_changes(rates_of((1, 2, 3, 4), (1,) * 4, weeks(4)), 0.95, 1, 0, 99, 1)


def test_the_likely_range_is_the_smallest_set_that_holds_the_level():
    assert likely_range(np.array([0.05, 0.4, 0.35, 0.15, 0.05]), 0.7) == (1, 2)
    assert likely_range(np.array([0.05, 0.4, 0.35, 0.15, 0.05]), 0.99) == (0, 4)


def test_exposures_of_very_different_size_leave_some_after_each_period():
    # A thousand million after a thousandth: the exposure left, taken as a difference, came out as 0.
    counts, exposures = [8, 11, 6, 9, 14, 7], [0.01, 1e9, 1e-9, 0.3, 0.99, 1e-9]
    answer = poisson_change_point(rates_of(counts, exposures, list("abcdef")), 0.95, 99, 1, "poisson")

    assert all(math.isfinite(chance) for chance in answer.chances)
    assert sum(answer.chances) == pytest.approx(1)


@given(st.integers(4, 14), st.integers(1, 3), st.integers(0, 3), st.sampled_from([0.3, 5.0, 1e6]), st.integers(0, 99))
@settings(max_examples=30)
def test_the_least_costs_without_the_table_of_all_stretches_are_those_with_it(length, shortest, most, mean, seed):
    source = np.random.default_rng(seed)
    counts, exposures = source.poisson(mean, (3, length)), source.uniform(0.5, 3, (1, length))
    slow = best_costs(poisson_costs(counts, exposures, shortest), most)

    assert poisson_best_costs(counts, exposures, shortest, most) == pytest.approx(slow, rel=1e-9, abs=1e-6)


def test_no_division_costs_less_than_what_spares_the_search():
    """The bound by which simulated series are left out, within 7 periods, within one block and over several."""
    source = np.random.default_rng(1)
    for length in (7, 16, 17, 50, 70):
        units = source.integers(1, 60, size=(1, length)).astype(float)
        counts = source.poisson(source.choice([0.01, 0.2, 3]) * units, size=(40, length))
        counts[:20, length // 3 : length // 2] *= 7
        found, least = poisson_best_costs(counts, units, 1, 3), poisson_least_costs(counts, units, (2, 5), 3)
        assert (least[:, 1:] <= found[:, 1:] + 1e-6).all()
        assert (least[:, 0] >= found[:, 2] - 1e-6).all()


def test_a_series_searched_or_spared_gives_one_answer(monkeypatch):
    monkeypatch.setattr(several_changes, "LONG", 10_000)
    source = np.random.default_rng(2)
    counts = source.poisson([5] * 30 + [12] * 25 + [5] * 30).tolist()
    series = rates_of(counts, (10,) * 85, weeks(85))
    spared = poisson_changes(series, 0.95, 3, 2, 299, 1)

    searched = []
    keep = several_changes.poisson_best_costs
    monkeypatch.setattr(
        several_changes, "poisson_best_costs", lambda x, *rest: searched.append(len(x)) or keep(x, *rest)
    )
    poisson_changes(series, 0.95, 3, 2, 299, 1)
    few = sum(searched)
    monkeypatch.setattr(several_changes, "poisson_least_costs", lambda x, t, cuts, most: np.tile(
        [0.0] + [-np.inf] * most, (len(x), 1)))  # fmt: skip
    assert poisson_changes(series, 0.95, 3, 2, 299, 1) == spared
    assert few < sum(searched) - few


@given(
    st.integers(4, 40),
    st.integers(1, 4),
    st.integers(0, 4),
    st.sampled_from([0.02, 0.5, 5.0, 300.0, 1e6]),
    st.booleans(),
    st.integers(0, 99),
)
@settings(max_examples=25)
def test_the_best_costs_lie_between_their_bounds(length, shortest, most, mean, even, seed):
    """Whatever the exposures, the cuts that are taken as known (here wrong ones), and the shortest stretch."""
    source = np.random.default_rng(seed)
    units = np.full((1, length), 7.0) if even else 10 ** source.uniform(-2, 2, (1, length))
    counts = source.poisson(mean * units / units.mean() * source.choice([0.3, 1, 4], length), (12, length))
    counts[:, 0] += 1
    costs = poisson_best_costs(counts, units, shortest, most)
    low, high = poisson_cost_bounds(counts, units, (1, length - 1) if seed % 2 else (), shortest, most)
    middle = counts.sum(axis=1).mean() / units.sum()
    alone = 2 * (middle * units.sum() - counts.sum(axis=1) * math.log(middle))[:, None]
    costs = np.where(np.isfinite(costs), costs - alone, np.inf)

    slack = 1e-9 * (1 + np.abs(alone))
    assert (low <= costs + slack).all()
    assert (costs <= high + slack).all()


def test_a_long_series_bounded_or_searched_gives_one_answer(monkeypatch):
    source = np.random.default_rng(4)
    long = 170
    counts = source.poisson([8] * 80 + [11] * (long - 80)).tolist()
    series = rates_of(counts, source.uniform(5, 15, long).tolist(), [str(place) for place in range(long)])
    searched = []
    keep = several_changes.poisson_best_costs
    monkeypatch.setattr(
        several_changes, "poisson_best_costs", lambda x, *rest: searched.append(len(x)) or keep(x, *rest)
    )
    bounded = poisson_changes(series, 0.9, 3, 2, 199, 1)
    few = sum(searched)
    monkeypatch.setattr(several_changes, "LONG", 10_000)

    assert poisson_changes(series, 0.9, 3, 2, 199, 1) == bounded
    assert 3 * few < sum(searched) - few


def test_bounds_and_a_plain_search_of_every_stretch_give_one_answer(monkeypatch):
    """200 series of many shapes, some 30,000 simulated ones: not one is told otherwise than by looking everywhere."""
    source = np.random.default_rng(8)
    asked = []
    for shape in range(200):
        length, mean = int(source.integers(6, 34)), float(source.choice([0.05, 0.5, 3, 20, 400, 1e6]))
        units = np.full(length, source.choice([1.0, 54.0])) if shape % 2 else 10 ** source.uniform(-2, 2, length)
        rate = np.linspace(0.5, 1.7, length) if shape % 5 == 0 else np.ones(length)
        for _ in range(source.integers(0, 4)):
            first, size = source.integers(0, length, 2)
            rate[first : first + size] *= source.choice([0, 0.3, 0.8, 1.25, 3])
        counts = source.poisson(mean * rate * units / units.mean())
        series = rates_of(counts.tolist(), units.tolist(), [str(place) for place in range(length)])
        most, shortest, seed = (int(one) for one in source.integers((1, 1, 0), (5, 6, 1000)))
        asked.append((series, 0.95 if shape % 3 else 0.5, most, shortest, 99, seed))

    monkeypatch.setattr(several_changes, "LONG", 0)
    bounded = [poisson_changes(*one) for one in asked]
    monkeypatch.setattr(several_changes, "LONG", 10_000)
    monkeypatch.setattr(several_changes, "poisson_least_costs", lambda x, t, cuts, most: np.tile(
        [0.0] + [-np.inf] * most, (len(x), 1)))  # fmt: skip
    monkeypatch.setattr(several_changes, "poisson_best_costs", lambda x, t, shortest, cuts: best_costs(
        poisson_costs(x, t, shortest), cuts))  # fmt: skip

    assert bounded == [poisson_changes(*one) for one in asked]
    assert sum(isinstance(one, SeveralChanges) and len(one.changes) > 0 for one in bounded) > 50


def test_units_beside_many_more_are_not_lost_from_a_stretch():
    # As a difference of running sums, a thousandth of a millionth after a thousand million came out as 0 units.
    units = np.array([[0.01, 1e9, 1e-9, 0.3, 0.99, 1e-9]])
    counts = np.array([[8, 11, 6, 9, 14, 7]])
    alone = [-2 * (c * math.log(c / t) - c) for c, t in zip(counts[0].tolist(), units[0].tolist(), strict=True)]

    assert np.diagonal(poisson_costs(counts, units, 1)[0], 1) == pytest.approx(alone)
    assert poisson_best_costs(counts, units, 1, 5)[0, 5] == pytest.approx(sum(alone))
    answer = poisson_changes(rates_of(counts[0].tolist(), units[0].tolist(), list("abcdef")), 0.95, 2, 1, 99, 1)
    assert all(math.isfinite(p) for p in answer.p_values)
    assert answer.changes
