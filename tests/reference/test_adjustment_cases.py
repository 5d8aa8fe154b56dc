"""Standardised rates and stratified ratios against published tables."""

import pytest

from qc.stats.change.adjustment import fay_feuer_rate, indirect_ratio
from qc.stats.change.stratified_ratio import exact_rate_ratio, mantel_haenszel_ratio, strata
from qc.stats.intervals.one_sample import poisson_interval
from qc.stats.series import rates_of


def names(things):
    return tuple(f"stratum {i}" for i, _ in enumerate(things))


def test_the_direct_rate_and_its_gamma_interval_match_the_published_ones(case):
    facts = case("adjust-birth-order-direct")
    given = facts.given

    answer = fay_feuer_rate(
        rates_of(given["counts"], given["exposures"], names(given["counts"])), given["standard"], 0.95
    )

    for key in facts.answer:
        facts.agrees(key, getattr(answer, key))


def test_the_indirect_ratio_matches_the_published_one(case):
    facts = case("adjust-cancer-indirect")

    answer = indirect_ratio(
        rates_of(facts.given["counts"], facts.given["exposures"], names(facts.given["counts"])),
        rates_of(facts.given["baseline_counts"], facts.given["baseline_exposures"], names(facts.given["counts"])),
        0.95,
    )

    for key in facts.answer:
        facts.agrees(key, getattr(answer, key))


def test_exact_limits_over_the_count_match_the_tabulated_factors(case):
    facts = case("adjust-exact-factors")

    answers = [poisson_interval(count, count, 0.95) for count in facts.given["counts"]]

    facts.agrees("low", [answer.low for answer in answers])
    facts.agrees("high", [answer.high for answer in answers])


def test_one_stratum_gives_the_published_exact_ratio(case):
    facts = case("ci-rate-ratio-11-21")
    after, units_after, before, units_before = (facts.given[key] for key in ("c1", "t1", "c2", "t2"))

    answer = exact_rate_ratio(
        strata(rates_of((before,), (units_before,), ("all",)), rates_of((after,), (units_after,), ("all",))), 0.95
    )

    facts.agrees("ratio", answer.ratio)
    facts.agrees("ci", [answer.low, answer.high])
    facts.agrees("p_value", answer.p_value)


def test_the_mantel_haenszel_ratio_matches_the_textbook(case):
    facts = case("adjust-clozapine")

    ages, given = ("10-54", "55-94"), facts.given
    two = strata(
        rates_of(given["before"], given["before_exposures"], ages),
        rates_of(given["after"], given["after_exposures"], ages),
    )
    answer = mantel_haenszel_ratio(two, 0.95, 1.0)

    facts.agrees("ratio", answer.ratio)


def test_the_stratified_estimate_and_its_error_are_those_of_a_poisson_regression():
    """Reference library: statsmodels GLM, Poisson family, one intercept a stratum and the exposure as offset."""
    import numpy as np
    import statsmodels.api as sm

    two = strata(
        rates_of((900, 800, 50), (400, 300, 20), ("a", "b", "c")),
        rates_of((500, 600, 90), (200, 250, 50), ("a", "b", "c")),
    )
    y = np.array(two.before.defects + two.after.defects)
    columns = np.column_stack([np.tile(np.eye(3), (2, 1)), np.repeat([0.0, 1.0], 3)])
    fit = sm.GLM(y, columns, family=sm.families.Poisson(), exposure=two.before.units + two.after.units).fit()

    exact = exact_rate_ratio(two, 0.95)

    assert exact.ratio == pytest.approx(np.exp(fit.params[-1]), rel=1e-8)
    assert (exact.low, exact.high) == pytest.approx(tuple(np.exp(fit.conf_int()[-1])), rel=2e-3)
    pooled = mantel_haenszel_ratio(two, 0.95, 1.0)
    assert (pooled.low, pooled.high) == pytest.approx(tuple(np.exp(fit.conf_int()[-1])), rel=2e-3)
