"""The usual range, checked against scipy's negative binomial and by its own promise in simulation-free sums."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.charts.usual_range import UsualRange, usual_range


@given(
    count=st.integers(0, 400),
    exposure=st.floats(1, 2000),
    units=st.floats(0.5, 300),
    level=st.sampled_from([0.8, 0.95, 0.99]),
)
def test_it_is_the_tightest_range_of_scipys_negative_binomial(count, exposure, units, level):
    from scipy.stats import nbinom

    usual = usual_range(count, exposure, units, level)
    law = nbinom(count + 0.5, exposure / (exposure + units))
    tail = (1 - level) / 2

    assert law.cdf(usual.low - 1) <= tail + 1e-9
    assert law.cdf(usual.low) > tail - 1e-9
    assert law.sf(usual.high) <= tail + 1e-9
    assert usual.high == 0 or law.sf(usual.high - 1) > tail - 1e-9
    assert usual.expected == pytest.approx(law.mean())


def test_with_a_rate_known_well_it_is_the_poisson_range():
    # Poisson mean 16: P(X < 9) = .0220, P(X < 10) = .0433, P(X > 24) = .0223, P(X > 23) = .0367 (direct sums).
    usual = usual_range(16_000_000, 1_000_000, 1, 0.95)

    assert (usual.low, usual.high) == (9, 24)


def test_few_units_before_widen_it():
    few, many = usual_range(4, 10, 10, 0.95), usual_range(400, 1000, 10, 0.95)

    assert (few.high - few.low) > (many.high - many.low)


def test_no_units_this_week_expects_none():
    assert usual_range(4, 10, 0, 0.95).holds(0)


def test_no_units_before_is_too_little():
    answer = usual_range(0, 0, 10, 0.95)

    assert isinstance(answer, TooLittle)
    assert answer.need == 1


@pytest.mark.parametrize(("argument", "value"), [("now_units", -1), ("level", 1.0), ("defects", -1)])
def test_what_cannot_be_is_refused_by_name(argument, value):
    arguments = {"defects": 3, "units": 10, "now_units": 10, "level": 0.95, argument: value}

    with pytest.raises(ValueError, match=argument):
        usual_range(**arguments)


def test_it_carries_its_evidence():
    usual = usual_range(30, 100, 10, 0.95)

    assert isinstance(usual, UsualRange)
    assert (usual.defects, usual.units, usual.now_units, usual.level) == (30, 100, 10, 0.95)
