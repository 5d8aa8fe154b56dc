"""Shrinkage and chances of being the worst against published examples and reference libraries."""

import numpy as np
import pytest
from scipy import integrate, stats

from qc.stats.series import rates_of, shares_of
from qc.stats.stations.ranking import chance_of_being_worst, rank_ranges
from qc.stats.stations.shrinkage import (
    BetaPrior,
    GammaPrior,
    beta_binomial_shares,
    fitted_beta_prior,
    fitted_gamma_prior,
    gamma_poisson_rates,
    james_stein,
    moment_beta_prior,
)


def numbered(things):
    return tuple(map(str, range(len(things))))


def test_the_pumps_posterior_is_the_conjugate_closed_form(case):
    facts = case("eb-pumps-known-prior")
    g = facts.given

    answer = gamma_poisson_rates(rates_of(g["x"], g["t"], numbered(g["x"])), GammaPrior(g["alpha"], g["beta"]), 0.95)

    facts.agrees("mean", list(answer.values))
    facts.agrees("lower", list(answer.low))
    facts.agrees("upper", list(answer.high))


def test_the_fitted_gamma_prior_is_the_negative_binomial_fit_of_statsmodels(case):
    """Reference library: statsmodels NegativeBinomial (NB2), intercept only, exposure given; size is 1/alpha."""
    import statsmodels.api as sm

    g = case("eb-pumps-known-prior").given
    model = sm.NegativeBinomial(np.array(g["x"]), np.ones((10, 1)), exposure=np.array(g["t"]))
    fit = model.fit(start_params=[0.0, 1.0], method="bfgs", gtol=1e-8, disp=0)

    answer = fitted_gamma_prior(rates_of(g["x"], g["t"], numbered(g["x"])))

    assert answer.shape == pytest.approx(1 / fit.params[1], rel=1e-3)
    assert answer.shape / answer.rate == pytest.approx(np.exp(fit.params[0]), rel=1e-3)


def test_the_fitted_beta_prior_has_no_likelier_neighbour():
    """Reference library: scipy.stats.betabinom gives the likelihood; a grid round the answer holds none higher."""
    x, n = np.array([1, 9, 4, 0, 12, 3, 7, 2]), np.array([40, 60, 50, 30, 55, 45, 50, 35])
    answer = fitted_beta_prior(shares_of(x.tolist(), n.tolist(), numbered(x)))

    def likelihood(a, b):
        return stats.betabinom(n, a, b).logpmf(x).sum()

    best = likelihood(answer.a, answer.b)
    for da, db in [(1.01, 1), (0.99, 1), (1, 1.01), (1, 0.99), (1.01, 1.01), (0.99, 0.99)]:
        assert likelihood(answer.a * da, answer.b * db) < best


def test_eighteen_batters_are_drawn_towards_their_mean_as_published(case):
    facts = case("eb-baseball-js")
    n = facts.given["n"]
    y = [hits / n for hits in facts.given["hits"]]
    mean = sum(y) / len(y)

    answer = james_stein(y, mean * (1 - mean) / n, numbered(y))

    facts.agrees("grand_mean", answer.mean)
    facts.agrees("shrink", answer.factor)
    facts.agrees("js", list(answer.values))


def test_the_chance_of_being_worst_is_the_integral(case):
    facts = case("eb-rank-worst")
    g = facts.given
    rates = gamma_poisson_rates(rates_of(g["x"], g["t"], tuple("abcd")), GammaPrior(g["alpha"], g["beta"]), 0.95)

    facts.agrees("p_worst", list(chance_of_being_worst(rates, 0.9).chances))


def test_shares_too_agree_with_adaptive_quadrature():
    """Reference library: scipy.integrate.quad over scipy.stats.beta."""
    shares = beta_binomial_shares(shares_of((9, 6, 2), (100, 80, 15), ("a", "b", "c")), BetaPrior(1, 9), 0.95)
    posteriors = [stats.beta(x + 1, n - x + 9) for x, n in ((9, 100), (6, 80), (2, 15))]

    def chance(i):
        others = [posterior for j, posterior in enumerate(posteriors) if j != i]
        return integrate.quad(lambda p: posteriors[i].pdf(p) * np.prod([o.cdf(p) for o in others]), 0, 1)[0]

    assert chance_of_being_worst(shares, 0.9).chances == pytest.approx([chance(i) for i in range(3)], abs=1e-6)


def test_drawn_ranks_agree_with_the_integral():
    rates = gamma_poisson_rates(rates_of((9, 6, 12, 2), (100, 80, 150, 20), tuple("abcd")), GammaPrior(1, 20), 0.95)

    ranges = rank_ranges(rates, 0.95, 20_000, 4)

    # Pairwise: the mean rank is 1 plus the chances that each other one is above.
    posteriors = [stats.gamma(x + 1, scale=1 / (t + 20)) for x, t in ((9, 100), (6, 80), (12, 150), (2, 20))]
    above = [
        sum(
            integrate.quad(lambda r, i=i, j=j: posteriors[i].pdf(r) * posteriors[j].sf(r), 0, 1)[0]
            for j in range(4)
            if j != i
        )
        for i in range(4)
    ]
    assert ranges.mean_rank == pytest.approx([1 + a for a in above], abs=0.03)


def test_boys_of_twelve_children_have_the_printed_moments_and_likelihood(case):
    facts = case("eb-twelve-children")
    boys = [count for count, families in enumerate(facts.given["families"]) for _ in range(families)]
    given = shares_of(boys, [facts.given["children"]] * len(boys), [str(place) for place in range(len(boys))])
    moments, likelihood = moment_beta_prior(given), fitted_beta_prior(given)

    facts.agrees("moments", [moments.a, moments.b])
    facts.agrees("likelihood", [likelihood.a, likelihood.b])
