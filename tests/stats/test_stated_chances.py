"""No probability of what can happen is stated as 0, however far the counts lie apart."""

import pytest

from qc.stats.by_command.causes.rank_certainty import rank_certainty
from qc.stats.by_command.change.trend import cochran_armitage, mann_kendall_normal
from qc.stats.by_command.intervals.contrasts import paired_test, rate_ratio_interval
from qc.stats.by_command.sampling.operating_characteristic import (
    binomial_acceptance,
    hypergeometric_acceptance,
    poisson_acceptance,
)
from qc.stats.change.change_points import mean_change_point, poisson_change_point
from qc.stats.change.comparison import fisher_exact, rates_compared
from qc.stats.change.stratified_ratio import exact_rate_ratio, mantel_haenszel_ratio, strata
from qc.stats.charts.point_tails import at_least, at_most
from qc.stats.series import counts_of, rates_of, shares_of
from qc.stats.stations.ranking import chance_of_being_worst
from qc.stats.stations.shrinkage import GammaPrior, gamma_poisson_rates

FAR = [3, 40_000]
WEEKS = list("abcdefgh")
TWO = strata(rates_of([10], [1000.0], ["all"]), rates_of([90_000], [1000.0], ["all"]))


@pytest.mark.parametrize(
    "chances",
    [
        lambda: [rates_compared(rates_of(FAR, [1, 1], ["a", "b"])).p_value],
        lambda: [fisher_exact(0, 9000, 9000, 0).p_value],
        lambda: [paired_test(0, 9000).p_value],
        lambda: [rate_ratio_interval(3, 1.0, 40_000, 1.0, 0.95).p_value],
        lambda: [at_least(10**6, 3, 1.0), at_most(0, 10**6, 1.0)],
        lambda: [exact_rate_ratio(TWO, 0.95).p_value, mantel_haenszel_ratio(TWO, 0.95, 1.0).p_value],
        lambda: [binomial_acceptance(10_000, 1, 0.9).chance, poisson_acceptance(10_000, 1, 0.9).chance,
                 hypergeometric_acceptance(10**6, 9000, 1, 800_000).chance],
        lambda: [one.chance_of_rank for one in
                 rank_certainty(counts_of([900, 3, 1], "abc"), [1.0] * 3, 0.5, 0.95, 1000, 1).ranked],
        lambda: chance_of_being_worst(
            gamma_poisson_rates(rates_of([9000, 10, 10, 12], [100.0] * 4, "abcd"), GammaPrior(1.0, 1.0), 0.95), 0.9
        ).chances,
        lambda: poisson_change_point(rates_of([3] * 4 + [4000] * 4, [1.0] * 8, WEEKS), 0.95, 99, 1, "poisson").chances,
        lambda: mean_change_point([1.0] * 4 + [5.0] * 4, WEEKS, 0.95, 99, 1).chances,
        lambda: [cochran_armitage(shares_of([0, 4500, 9000], [9000] * 3, list("abc")), [0.0, 1.0, 2.0]).p_value],
        lambda: [mann_kendall_normal([float(i) for i in range(1000)]).p_value],
    ],
)  # fmt: skip
def test_a_chance_is_never_none(chances):
    assert all(0 < one <= 1 for one in chances())


def test_what_cannot_be_keeps_its_nought():
    """Of ten units nine are nonconforming: every two hold one at least."""
    assert hypergeometric_acceptance(10, 2, 0, 9).chance == 0
    assert binomial_acceptance(5, 1, 1.0).chance == 0


def test_two_means_that_leave_no_scatter_have_no_finite_statistic():
    found = mean_change_point([1.0, 1.0, 5.0, 5.0], list("abcd"), 0.95, 999, 1)

    assert found.likelihood_ratio == float("inf")
    assert (found.last_before, found.earliest, found.latest) == ("b", "b", "b")
    assert found.p_value == pytest.approx(1 / 3, abs=0.05)
