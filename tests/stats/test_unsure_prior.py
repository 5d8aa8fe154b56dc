"""Rates drawn towards the common one, the prior not known: against adaptive integration, pumps, and by counting."""

from math import exp

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad
from scipy.special import gammaln
from scipy.stats import binom

from qc.stats.answers import TooLittle
from qc.stats.series import rates_of
from qc.stats.stations.shrinkage import GammaPrior, fitted_gamma_prior, gamma_poisson_rates
from qc.stats.stations.unsure_prior import hierarchical_rates

PUMPS = ([5, 1, 5, 14, 3, 19, 1, 1, 4, 22], [94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5])


def named(things):
    return [str(place) for place in range(len(things))]


def test_the_means_are_those_of_adaptive_integration():
    """Reference library: scipy.integrate.dblquad over the spread and the logarithm of the mean."""
    defects, exposure = [12, 30, 21, 45, 18, 9, 26, 33], [20.0, 31, 22, 30, 20, 16, 25, 24]

    def weighed(log_mean, spread, own):
        shape = 1 / spread**2
        rate = shape / exp(log_mean)
        x, t = np.array(defects), np.array(exposure)
        inside = gammaln(x + shape) - gammaln(shape) - shape * np.log1p(t / rate) - x * np.log(t + rate)
        return exp(inside.sum() + 60) * own(shape, rate)

    def whole(own):
        return dblquad(weighed, 1e-3, 4, -1.2, 1.2, (own,), epsabs=0, epsrel=1e-4)[0]

    mass = whole(lambda shape, rate: 1.0)
    mean = whole(lambda shape, rate: (45 + shape) / (30 + rate)) / mass
    low = hierarchical_rates(rates_of(defects, exposure, named(defects)), 0.95)

    assert low.values[3] == pytest.approx(mean, rel=2e-3)
    assert low.spread == pytest.approx(whole(lambda shape, rate: shape**-0.5) / mass, rel=0.02)


def test_ten_pumps_come_out_as_in_the_published_hierarchical_model():
    """George, Makov & Smith (1993), Scandinavian J. Statistics 20, 147-156, from memory; other laws of the prior."""
    answer = hierarchical_rates(rates_of(*PUMPS, named(PUMPS[0])), 0.95)
    published = {0: 0.0598, 2: 0.0892, 3: 0.116, 5: 0.610, 9: 1.99}  # pumps seen for long: the prior's law matters less

    assert {place: answer.values[place] for place in published} == pytest.approx(published, rel=0.035)


def test_limits_hold_what_limits_of_a_known_prior_do_not():
    """Counted: plants of twelve stations, true ratios with a spread of a fifth, of which some show it."""
    source, held, known, plants = np.random.default_rng(11), 0, 0, 0
    for _ in range(60):
        truth, exposure = source.gamma(25, 1 / 25, 12), source.uniform(15, 120, 12).tolist()
        defects = source.poisson(truth * exposure).tolist()
        prior = fitted_gamma_prior(rates_of(defects, exposure, named(defects)))
        if isinstance(prior, GammaPrior):
            narrow = gamma_poisson_rates(rates_of(defects, exposure, named(defects)), prior, 0.95)
            wide = hierarchical_rates(rates_of(defects, exposure, named(defects)), 0.95)
            known += int(((truth >= narrow.low) & (truth <= narrow.high)).sum())
            held += int(((truth >= wide.low) & (truth <= wide.high)).sum())
            plants += 1

    assert plants > 45
    assert binom.cdf(held, 12 * plants, 0.95) > 0.001
    assert known < held


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 60), st.floats(0.5, 200)), min_size=3, max_size=12))
def test_each_rate_lies_within_its_limits_and_the_order_of_stations_does_not_matter(groups):
    defects, exposure = map(list, zip(*groups, strict=True))
    answer = hierarchical_rates(rates_of(defects, exposure, named(defects)), 0.9)
    if isinstance(answer, TooLittle):
        assert sum(defects) == 0
        return
    turned = hierarchical_rates(rates_of(defects[::-1], exposure[::-1], named(defects)), 0.9)

    assert all(low < value < high for low, value, high in zip(answer.low, answer.values, answer.high, strict=True))
    assert turned.values[::-1] == pytest.approx(answer.values, rel=1e-9)


def test_a_station_without_units_has_what_the_others_leave_open():
    answer = hierarchical_rates(rates_of([10, 12, 11, 0], [10, 10, 10, 0], named(range(4))), 0.95)

    assert answer.weights[3] == 0
    assert answer.plain[3] == pytest.approx(33 / 30)
    assert answer.high[3] - answer.low[3] > answer.high[0] - answer.low[0]


@pytest.mark.parametrize(("defects", "exposure"), [([1, 2], [3, 4]), ([0, 0, 0], [3, 4, 5]), ([1, 2, 0], [3, 4, 0])])
def test_too_few_groups_or_no_defect_is_too_little(defects, exposure):
    assert isinstance(hierarchical_rates(rates_of(defects, exposure, named(defects)), 0.95), TooLittle)
