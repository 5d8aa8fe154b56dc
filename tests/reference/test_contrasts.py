"""Differences, ratios and paired tests agree with printed tables, R's printed answers, statsmodels and scipy."""

import pytest
from statsmodels.stats.contingency_tables import Table2x2, mcnemar
from statsmodels.stats.proportion import confint_proportions_2indep

from qc.stats.by_command.intervals.contrasts import (
    difference_interval,
    odds_ratio_interval,
    paired_test,
    rate_ratio_interval,
)

NEWCOMBE = [
    "ci-newcombe10-0-10-0-20",
    "ci-newcombe10-10-10-0-20",
    "ci-newcombe10-5-56-0-29",
    "ci-newcombe10-56-70-48-80",
]


@pytest.mark.parametrize("name", NEWCOMBE)
def test_the_difference_of_two_shares_is_the_printed_one(case, name):
    facts = case(name)
    given = facts.given
    answer = difference_interval(given["a"], given["m"], given["b"], given["n"], 0.95)

    facts.agrees("ci", [answer.low, answer.high])


@pytest.mark.parametrize(("a", "m", "b", "n"), [(3, 40, 9, 35), (0, 12, 5, 12), (7, 7, 1, 9)])
def test_the_difference_of_two_shares_agrees_with_statsmodels(a, m, b, n):
    answer = difference_interval(a, m, b, n, 0.9)

    theirs = confint_proportions_2indep(a, m, b, n, method="newcomb", compare="diff", alpha=0.1)
    assert (answer.low, answer.high) == pytest.approx(theirs, abs=1e-11)


def test_the_rate_ratio_is_the_one_that_r_prints(case):
    facts = case("ci-rate-ratio-11-21")
    given = facts.given
    answer = rate_ratio_interval(given["c1"], given["t1"], given["c2"], given["t2"], 0.95)

    facts.agrees("ratio", answer.ratio)
    facts.agrees("ci", [answer.low, answer.high])
    facts.agrees("p_value", answer.p_value)


def test_the_odds_ratio_of_two_shifts(case):
    facts = case("ci-odds-ratio-two-shifts")
    a, b, c, d = (facts.given[cell] for cell in "abcd")
    answer = odds_ratio_interval(a, a + b, c, c + d, 0.95)

    facts.agrees("odds_ratio", answer.odds_ratio)
    facts.agrees("ci", [answer.low, answer.high])
    facts.agrees("fisher_p", answer.p_value)


@pytest.mark.parametrize("table", [((5, 20), (3, 40)), ((1, 99), (12, 88))])
def test_the_odds_ratio_agrees_with_statsmodels(table):
    (a, b), (c, d) = table
    answer = odds_ratio_interval(a, a + b, c, c + d, 0.99)

    theirs = Table2x2([[a, b], [c, d]])
    assert answer.odds_ratio == pytest.approx(theirs.oddsratio, rel=1e-12)
    assert (answer.low, answer.high) == pytest.approx(theirs.oddsratio_confint(alpha=0.01), rel=1e-10)


@pytest.mark.parametrize(("one", "two"), [(0, 1), (5, 5), (2, 11), (0, 8), (30, 12)])
def test_the_paired_test_agrees_with_statsmodels(one, two):
    theirs = mcnemar([[50, one], [two, 50]], exact=True)

    assert paired_test(one, two).p_value == pytest.approx(theirs.pvalue, rel=1e-10)


def test_two_surveys_of_the_same_people_have_the_printed_chi_square(case):
    facts = case("pair-approval-mcnemar")

    facts.agrees("chi_square", paired_test(facts.given["only_first"], facts.given["only_second"]).chi_square)
