"""What mix adjustment must do whatever the numbers: properties, edges and refusals. Sources: tests/reference."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.change.adjustment import fay_feuer_rate, indirect_ratio
from qc.stats.intervals.one_sample import poisson_interval
from qc.stats.series import rates_of

MODELS = ("short", "middle", "long")
counts = st.tuples(*[st.integers(0, 200)] * 3)
units = st.tuples(*[st.integers(1, 500)] * 3)


@given(counts, units)
def test_in_its_own_mix_the_adjusted_rate_is_the_plain_rate(count, unit):
    answer = fay_feuer_rate(rates_of(count, unit, MODELS), unit, 0.9)

    assert answer.rate == pytest.approx(answer.plain)
    assert (answer.low, answer.high) == pytest.approx((answer.plain_low, answer.plain_high), abs=1e-9)


@given(counts, units, units)
def test_the_adjusted_rate_lies_between_the_strata_and_inside_its_interval(count, unit, standard):
    answer = fay_feuer_rate(rates_of(count, unit, MODELS), standard, 0.95)
    rates = [c / u for c, u in zip(count, unit, strict=True)]

    assert min(rates) - 1e-9 <= answer.rate <= max(rates) + 1e-9
    assert answer.low <= answer.rate <= answer.high


@given(counts, units, units, st.permutations(range(3)))
def test_the_order_of_the_models_does_not_matter(count, unit, standard, order):
    def turned(values):
        return tuple(values[i] for i in order)

    one = fay_feuer_rate(rates_of(count, unit, MODELS), standard, 0.95)
    other = fay_feuer_rate(rates_of(turned(count), turned(unit), turned(MODELS)), turned(standard), 0.95)

    assert (other.rate, other.low, other.high) == pytest.approx((one.rate, one.low, one.high))


def test_a_change_of_mix_alone_moves_the_plain_rate_and_not_the_adjusted_one():
    """By construction: every model keeps its own rate, only the shares change."""
    before = fay_feuer_rate(rates_of((20, 60), (100, 100), ("small", "big")), (1, 1), 0.95)
    after = fay_feuer_rate(rates_of((10, 90), (50, 150), ("small", "big")), (1, 1), 0.95)

    assert after.plain > before.plain
    assert after.rate == pytest.approx(before.rate)


def test_no_defect_reaches_down_to_exactly_nought_and_not_up_to_nought():
    answer = fay_feuer_rate(rates_of((0, 0), (10, 20), ("a", "b")), (1, 2), 0.95)

    assert (answer.rate, answer.low) == (0, 0)
    assert answer.high == pytest.approx(poisson_interval(0, 30, 0.95).high)


def test_a_model_that_was_not_built_has_no_adjusted_rate():
    answer = fay_feuer_rate(rates_of((3, 0), (10, 0), ("T36", "H62")), (1, 1), 0.95)

    assert isinstance(answer, TooLittle)
    assert "H62" in answer.reason


def test_a_model_that_the_standard_does_not_weigh_is_named_and_left_out():
    answer = fay_feuer_rate(rates_of((3, 50), (10, 10), ("T36", "H62")), (1, 0), 0.95)

    assert answer.absent == ("H62",)
    assert answer.rate == pytest.approx(0.3)


@given(counts, units, counts, units)
def test_observed_over_expected_agrees_with_its_own_counts(count, unit, base, base_units):
    assume(sum(base) > 0)
    answer = indirect_ratio(rates_of(count, unit, MODELS), rates_of(base, base_units, MODELS), 0.95)
    expected = sum(u * b / n for u, b, n in zip(unit, base, base_units, strict=True))

    assert answer.ratio == pytest.approx(sum(count) / expected)
    assert answer.low <= answer.ratio <= answer.high


@pytest.mark.parametrize(
    ("here", "base", "base_units", "word"),
    [
        ((5, 5), (1, 1), (10, 0), "defects on no unit"),
        ((10, 10), (0, 0), (10, 10), "no defect"),
        ((0, 0), (1, 1), (9, 9), "no unit"),
    ],
)
def test_what_has_no_expected_count_is_told(here, base, base_units, word):
    if word == "defects on no unit":
        with pytest.raises(ValueError, match="units must be above 0 where there are defects"):
            indirect_ratio(rates_of((0, 0), here, ("a", "b")), rates_of(base, base_units, ("a", "b")), 0.95)
        return
    answer = indirect_ratio(rates_of((0, 0), here, ("a", "b")), rates_of(base, base_units, ("a", "b")), 0.95)

    assert isinstance(answer, TooLittle)
    assert word in answer.reason


def test_a_model_new_since_the_baseline_is_told():
    answer = indirect_ratio(rates_of((1, 1), (5, 5), ("old", "new")), rates_of((1, 0), (10, 0), ("old", "new")), 0.95)

    assert isinstance(answer, TooLittle)
    assert "new" in answer.reason


def test_a_standard_without_weight_is_refused():
    with pytest.raises(ValueError, match=r"standard must weigh at least one stratum, got \(0.0,\)"):
        fay_feuer_rate(rates_of((1,), (1,), ("a",)), (0,), 0.95)


def test_defects_that_gather_on_units_need_the_wider_interval():
    """Simulation with known truth, seeded: a gamma of shape 6 a unit makes the variance of 54 units' sum 1.5 times."""
    source, held = np.random.default_rng(4), {1.0: 0, 1.5: 0}
    for _ in range(1000):
        count = int(source.poisson(3 * source.gamma(6, 1 / 6, 54)).sum())
        for dispersion in held:
            answer = fay_feuer_rate(rates_of((count,), (54,), ("T36",)), (1,), 0.95, dispersion)
            held[dispersion] += answer.low <= 3 <= answer.high

    assert held[1.0] / 1000 < 0.92
    assert held[1.5] / 1000 >= 0.94


def test_a_scatter_known_from_few_weeks_widens_more_than_one_that_is_known():
    known, measured = (
        fay_feuer_rate(rates_of((160,), (54,), ("T36",)), (1,), 0.95, 1.5, degrees) for degrees in (math.inf, 7)
    )

    assert measured.low < known.low < known.rate < known.high < measured.high
    assert (known.plain_low, known.plain_high) == pytest.approx((known.low, known.high))


@pytest.mark.parametrize(("dispersion", "degrees", "word"), [(0.5, 7, "dispersion"), (1.5, 0, "degrees")])
def test_limits_are_never_narrowed(dispersion, degrees, word):
    with pytest.raises(ValueError, match=word):
        fay_feuer_rate(rates_of((3,), (10,), ("a",)), (1,), 0.95, dispersion, degrees)
