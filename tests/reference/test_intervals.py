"""Intervals for shares and rates agree with printed tables, statsmodels and scipy."""

import pytest
from scipy.stats import binomtest
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from qc.stats.intervals.one_sample import (
    agresti_coull_interval,
    clopper_pearson_interval,
    jeffreys_interval,
    poisson_interval,
    rate_upper_bound,
    share_upper_bound,
    wilson_interval,
)

COUNTS = [(0, 1), (1, 1), (0, 20), (1, 20), (10, 20), (20, 20), (15, 148), (682, 925), (3, 100_000)]


@pytest.mark.parametrize("name", ["ci-newcombe-0-20", "ci-newcombe-15-148", "ci-newcombe-81-263", "ci-binom-682-925"])
def test_share_intervals_are_the_printed_ones(case, name):
    facts = case(name)
    x, n = facts.given["x"], facts.given["n"]
    wilson, exact = wilson_interval(x, n, 0.95), clopper_pearson_interval(x, n, 0.95)

    facts.agrees("clopper_pearson", [exact.low, exact.high])
    if "wilson" in facts.answer:
        facts.agrees("wilson", [wilson.low, wilson.high])
    if "one_sided_upper" in facts.answer:
        facts.agrees("one_sided_upper", share_upper_bound(x, n, 0.95).bound)


def test_poisson_intervals_are_garwoods(case):
    facts = case("ci-poisson-garwood")
    intervals = [poisson_interval(count, 1, 0.95) for count in facts.given["counts"]]

    facts.agrees("lower", [interval.low for interval in intervals])
    facts.agrees("upper", [interval.high for interval in intervals])
    facts.agrees("one_sided_upper_zero", rate_upper_bound(0, 1, 0.95).bound)


@pytest.mark.parametrize("level", [0.8, 0.95, 0.999])
@pytest.mark.parametrize(("x", "n"), COUNTS)
@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (wilson_interval, "wilson"),
        (clopper_pearson_interval, "beta"),
        (agresti_coull_interval, "agresti_coull"),
    ],
)
def test_share_intervals_agree_with_statsmodels(ours, theirs, x, n, level):
    interval = ours(x, n, level)

    low, high = proportion_confint(x, n, 1 - level, method=theirs)
    assert (interval.low, interval.high) == pytest.approx((low, high), abs=1e-11)


@pytest.mark.parametrize(("x", "n"), [(1, 20), (10, 20), (19, 20), (682, 925)])
def test_jeffreys_agrees_with_statsmodels_inside_the_edges(x, n):
    interval = jeffreys_interval(x, n, 0.95)

    assert (interval.low, interval.high) == pytest.approx(proportion_confint(x, n, 0.05, method="jeffreys"), abs=1e-11)


@pytest.mark.parametrize(("x", "n"), COUNTS)
def test_the_exact_share_interval_agrees_with_scipy(x, n):
    interval = clopper_pearson_interval(x, n, 0.9)

    theirs = binomtest(x, n).proportion_ci(0.9, method="exact")
    assert (interval.low, interval.high) == pytest.approx((theirs.low, theirs.high), abs=1e-11)


@pytest.mark.parametrize(("count", "exposure"), [(0, 3.5), (1, 10), (7, 2.5), (400, 1000)])
def test_poisson_intervals_agree_with_statsmodels(count, exposure):
    interval = poisson_interval(count, exposure, 0.9)

    theirs = confint_poisson(count, exposure, method="exact-c", alpha=0.1)
    # statsmodels leaves the lower limit undefined at a count of 0; it is 0.
    assert interval.low == pytest.approx(0.0 if count == 0 else theirs[0], rel=1e-11)
    assert interval.high == pytest.approx(theirs[1], rel=1e-11)
