"""Shares of defects by unit: what must hold whatever the counts, what other libraries say, what simulation shows."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.api import OLS
from statsmodels.stats.proportion import proportion_confint

from qc.domain.counted.by_unit import PartByUnit, part_by_unit
from qc.stats.answers import TooLittle
from qc.stats.intervals.by_unit import design_effects, shares_by_unit
from qc.stats.intervals.one_sample import wilson_interval

UNITS = [(0, 3), (2, 2), (1, 4), (0, 1), (5, 6), (0, 0), (1, 1), (3, 3), (0, 2), (0, 5), (2, 4), (0, 2)]
units = st.lists(st.integers(0, 9).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), min_size=1, max_size=40)
levels = st.floats(0.5, 0.999)


def one(of, level=0.95, beside=()):
    """Return the interval of one share of units given as (part, whole)."""
    return shares_by_unit([part_by_unit(of)], level, beside)[0]


@given(found=st.lists(st.booleans(), min_size=1, max_size=60), level=levels)
def test_units_with_one_defect_each_give_wilsons_own_interval(found, level):
    answer, plain = one([(int(hit), 1) for hit in found], level), wilson_interval(sum(found), len(found), level)

    assert (answer.low, answer.high) == pytest.approx((plain.low, plain.high), abs=1e-12)
    assert (answer.share, answer.defectives, answer.inspected) == (plain.share, plain.defectives, plain.inspected)


@given(found=st.lists(st.booleans(), min_size=1, max_size=60))
def test_two_of_everything_on_each_unit_count_as_half_as_many(found):
    twice, plain = one([(2 * hit, 2) for hit in found]), wilson_interval(sum(found), len(found), 0.95)

    assert (twice.low, twice.high) == pytest.approx((plain.low, plain.high), abs=1e-12)
    assert (twice.defectives, twice.inspected) == (2 * sum(found), 2 * len(found))


@given(of=units, level=levels)
def test_an_interval_by_units_holds_the_one_that_takes_each_defect_by_itself(of, level):
    answer, whole = one(of, level), sum(n for _, n in of)
    if not whole:
        assert isinstance(answer, TooLittle)
        return
    plain = wilson_interval(sum(x for x, _ in of), whole, level)

    assert 0 <= answer.low <= plain.low + 1e-12
    assert plain.high - 1e-12 <= answer.high <= 1


@given(of=units)
def test_the_others_are_the_mirror_and_the_order_of_units_and_those_without_do_not_matter(of):
    answer, mirror = design_effects([part_by_unit(of)]), design_effects([part_by_unit([(n - x, n) for x, n in of])])
    turned = design_effects([part_by_unit([*reversed(of), (0, 0), (0, 0)])])

    assert answer == pytest.approx(mirror, rel=1e-9)
    assert answer == turned


def test_a_unit_alone_counts_as_one_however_many_defects_lie_on_it():
    answer, plain = one([(6, 8)]), wilson_interval(3, 4, 0.95)

    assert design_effects([part_by_unit([(6, 8)])]) == (8.0,)
    assert answer.low < plain.low
    assert answer.high > plain.high


def test_where_none_or_all_are_of_it_the_scatter_of_the_rows_beside_is_taken():
    rows = [part_by_unit((one_ * 4, 4) for one_ in (1, 0, 0, 1, 0, 1, 1, 0, 0, 1)), part_by_unit([(0, 4)] * 10)]
    alone = design_effects(rows[1:])

    assert design_effects(rows) == pytest.approx((4.0, 4.0))
    assert design_effects(rows[1:], beside=rows[:1]) == pytest.approx((4.0,))
    assert alone == (4.0,)  # nobody can see it: all defects of a unit are taken as alike
    assert shares_by_unit(rows, 0.95)[1].low == 0.0
    assert one([(4, 4)] * 10).high == 1.0


def test_a_row_that_scatters_less_than_the_table_has_the_tables_scatter_and_one_that_does_more_its_own():
    """Ten units' worth of rows drawn by hand: one cause makes four of A on a unit, B comes one by one."""
    rows = [part_by_unit([(4, 5)] * 10 + [(0, 1)] * 90), part_by_unit([(1, 5)] * 10 + [(0, 1)] * 90)]
    together = design_effects(rows)

    assert together[0] > together[1] > 1
    assert design_effects(rows[1:])[0] < together[1]


def test_the_variance_is_that_of_statsmodels_robust_to_clusters():
    """OLS of a constant on 0 and 1, one row a defect, errors clustered by unit; without a correction for few."""
    rows = [(hit, unit) for unit, (x, n) in enumerate(UNITS) for hit in [1] * x + [0] * (n - x)]
    hits = np.array([hit for hit, _ in rows], dtype=float)
    groups = np.array([unit for _, unit in rows])
    fit = OLS(hits, np.ones(len(hits))).fit(cov_type="cluster", cov_kwds={"groups": groups, "use_correction": False})
    own = part_by_unit(UNITS)
    theirs = float(fit.bse[0] ** 2) / (hits.mean() * (1 - hits.mean()) / len(hits))
    alike = own.whole_squares / own.whole

    assert own.units == 11
    assert theirs > 1
    assert design_effects([own])[0] == pytest.approx(theirs + (alike - theirs) * 11**-1.5, rel=1e-9)


@pytest.mark.parametrize("level", [0.8, 0.95, 0.999])
def test_the_interval_is_statsmodels_wilson_on_the_effective_number(level):
    own = part_by_unit(UNITS)
    size = own.whole / design_effects([own])[0]
    theirs = proportion_confint(size * own.part / own.whole, size, 1 - level, method="wilson")
    answer = one(UNITS, level)

    assert (answer.low, answer.high) == pytest.approx(theirs, rel=1e-9)


SUMS = {"part": 3, "whole": 7, "part_squares": 5, "products": 9, "whole_squares": 17, "units": 3}


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"part": 8}, r"rows\[0\]\.whole must be at least rows\[0\]\.part \(8\), got 7"),
        ({"part": -1}, r"rows\[0\]\.part must be a whole number of at least 0, got -1"),
        ({"units": 0}, r"rows\[0\]\.units must be from 1 to whole \(7\), 0 where that is 0, got 0"),
        ({"units": 8}, r"rows\[0\]\.units must be from 1 to whole \(7\), 0 where that is 0, got 8"),
        ({"products": 2.5}, r"rows\[0\]\.products must be a whole number of at least 0, got 2.5"),
        ({"products": 4}, "part_squares <= products <= whole_squares"),
        ({"whole_squares": 50}, "must be sums over the same units"),
        ({"whole_squares": 16}, r"whole_squares must be at least whole x whole / units \(16.3333\), got 16"),
        ({"products": 10}, "products must be such as units can have beside the squares, got 10"),
    ],
)
def test_sums_that_no_units_have_are_refused(changed, told):
    assert shares_by_unit([PartByUnit(**SUMS)], 0.95)
    with pytest.raises(ValueError, match=told):
        shares_by_unit([PartByUnit(**{**SUMS, **changed})], 0.95)


# What bursts do to coverage


def burst_units(rng, defects, shares, sizes, law):
    """Return units by rows of a table, drawn: causes fall on units at random, each with so many defects of one row.

    shares: of defects by row; sizes: mean defects a cause by row; law: "geometric", or "poisson" (one and a Poisson
    number more).
    """
    causes = np.array(shares) / sizes
    number = max(2, round(defects / 3))
    kinds = rng.choice(len(shares), rng.poisson(defects * causes.sum()), p=causes / causes.sum())
    means = np.asarray(sizes, dtype=float)[kinds]
    made = rng.geometric(1 / means) if law == "geometric" else 1 + rng.poisson(means - 1)
    table = np.zeros((number, len(shares)), dtype=int)
    np.add.at(table, (rng.integers(0, number, len(kinds)), kinds), made)
    return table


SHARES = (0.5, 0.2, 0.1, 0.08, 0.06, 0.04, 0.02)


def held(seed, runs, defects, sizes, law="geometric", *, plain=False):
    """Return for each row in how many of the runs its interval held the share, and the mean width over Wilson's."""
    rng, hits, widths = np.random.default_rng(seed), np.zeros(len(SHARES)), np.zeros(2)
    for _ in range(runs):
        table = burst_units(rng, defects, SHARES, sizes, law)
        own = [part_by_unit(zip(row.tolist(), table.sum(axis=1).tolist(), strict=True)) for row in table.T]
        ranges = [wilson_interval(one_.part, one_.whole, 0.95) for one_ in own]
        asked = ranges if plain else shares_by_unit(own, 0.95)
        hits += [answer.low <= share <= answer.high for answer, share in zip(asked, SHARES, strict=True)]
        widths += [sum(one_.high - one_.low for one_ in both) for both in (asked, ranges)]
    return hits / runs, widths[0] / widths[1]


SINGLE, TWO, FOUR = [1.0] * 7, [2.0] * 7, [4.0] * 7
ONE_BURSTS = [4.0, *[1.0] * 6]


@pytest.mark.parametrize("sizes", [SINGLE, FOUR, ONE_BURSTS], ids=["one by one", "bursts of four", "one row's alone"])
def test_the_interval_holds_as_stated_whether_defects_come_one_by_one_or_many_of_a_cause(sizes):
    shares, width = held(20261130, 150, 100, sizes)

    assert shares.mean() > 0.93
    assert shares.min() > 0.85
    if sizes is SINGLE:
        assert 1 <= width < 1.08


def test_taking_each_defect_by_itself_is_seen_to_hold_too_seldom():
    assert held(20261130, 150, 100, FOUR, plain=True)[0].mean() < 0.75


@pytest.mark.long
@pytest.mark.parametrize("law", ["geometric", "poisson"])
@pytest.mark.parametrize("sizes", [SINGLE, TWO, FOUR, ONE_BURSTS], ids=["1", "2", "4", "one row"])
@pytest.mark.parametrize(("defects", "least"), [(30, 0.915), (100, 0.935), (400, 0.94)])
def test_the_interval_holds_at_length(defects, least, sizes, law):
    shares, _ = held(7, 1000, defects, sizes, law)

    assert shares.mean() > least
