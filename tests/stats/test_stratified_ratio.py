"""The common rate ratio: edges, symmetry, coverage by construction. Sources: tests/reference."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from qc.stats.answers import TooLittle
from qc.stats.change.mix_reading import mix_reading
from qc.stats.change.stratified_ratio import exact_rate_ratio, mantel_haenszel_ratio, strata
from qc.stats.series import rates_of

two_counts = st.tuples(st.integers(0, 60), st.integers(0, 60))
two_units = st.tuples(st.integers(1, 300), st.integers(1, 300))
AB = ("a", "b")


@given(two_counts, two_units, two_counts, two_units)
def test_turning_time_round_turns_the_ratio_over(old, old_units, new, new_units):
    there = exact_rate_ratio(strata(rates_of(old, old_units, AB), rates_of(new, new_units, AB)), 0.9)
    back = exact_rate_ratio(strata(rates_of(new, new_units, AB), rates_of(old, old_units, AB)), 0.9)
    if isinstance(there, TooLittle):
        assert isinstance(back, TooLittle)
        return

    assert back.p_value == pytest.approx(there.p_value, rel=1e-6)
    assert back.low == pytest.approx(0 if math.isinf(there.high) else 1 / there.high, rel=1e-6)
    assert back.ratio == pytest.approx(
        0 if math.isinf(there.ratio) else math.inf if not there.ratio else 1 / there.ratio
    )


@given(two_counts, two_units, two_counts, two_units)
def test_the_ratio_lies_in_its_interval_and_a_higher_level_is_wider(old, old_units, new, new_units):
    two = strata(rates_of(old, old_units, AB), rates_of(new, new_units, AB))
    narrow, wide = exact_rate_ratio(two, 0.8), exact_rate_ratio(two, 0.99)
    if isinstance(narrow, TooLittle):
        return

    assert wide.low <= narrow.low <= narrow.ratio <= narrow.high <= wide.high


def test_no_defect_after_has_a_ratio_of_nought_and_an_upper_limit():
    answer = exact_rate_ratio(strata(rates_of((8,), (100,), ("all",)), rates_of((0,), (100,), ("all",))), 0.95)

    # By hand: (1 / (1 + R))^8 = 0.025.
    assert (answer.ratio, answer.low) == (0, 0)
    assert answer.high == pytest.approx(0.025 ** (-1 / 8) - 1)


def test_no_defect_before_has_no_upper_limit():
    answer = exact_rate_ratio(strata(rates_of((0,), (100,), ("all",)), rates_of((8,), (100,), ("all",))), 0.95)

    assert math.isinf(answer.high)
    assert answer.low > 1


def test_no_defect_at_all_says_so():
    assert isinstance(
        exact_rate_ratio(strata(rates_of((0,), (10,), ("all",)), rates_of((0,), (10,), ("all",))), 0.95), TooLittle
    )


def test_a_model_built_in_one_period_only_is_named_and_says_nothing():
    with_it = exact_rate_ratio(strata(rates_of((10, 0), (100, 0), AB), rates_of((5, 70), (100, 90), AB)), 0.95)
    without = exact_rate_ratio(strata(rates_of((10,), (100,), ("a",)), rates_of((5,), (100,), ("a",))), 0.95)

    assert with_it.unshared == ("b",)
    assert with_it.ratio == without.ratio


def test_dispersion_widens_and_never_narrows():
    two = strata(rates_of((40, 60), (100, 100), AB), rates_of((30, 90), (50, 150), AB))
    plain, wide = mantel_haenszel_ratio(two, 0.95, 1.0), mantel_haenszel_ratio(two, 0.95, 4.0)

    assert math.log(wide.high / wide.low) == pytest.approx(2 * math.log(plain.high / plain.low))
    with pytest.raises(ValueError, match=r"dispersion must be .* at least 1 .* got 0.9"):
        mantel_haenszel_ratio(two, 0.95, 0.9)


def test_a_dispersion_measured_on_few_weeks_widens_by_students_t():
    """Reference library: scipy.stats.t and norm."""
    two = strata(rates_of((40, 60), (100, 100), AB), rates_of((30, 90), (50, 150), AB))
    known, measured = (mantel_haenszel_ratio(two, 0.95, 1.6, degrees) for degrees in (math.inf, 16))

    widths = [math.log(answer.high / answer.low) for answer in (known, measured)]
    assert widths[1] / widths[0] == pytest.approx(stats.t(16).ppf(0.975) / stats.norm.ppf(0.975))
    assert measured.p_value > known.p_value
    with pytest.raises(ValueError, match="degrees must be at least 1, got 0"):
        mantel_haenszel_ratio(two, 0.95, 1.6, 0)


def test_a_change_of_mix_is_told_apart_from_a_change_of_work():
    """By construction: each model keeps its rate (0.2 and 0.6), the share of the big one doubles."""
    two = strata(
        rates_of((400, 600), (2000, 1000), ("small", "big")), rates_of((200, 1200), (1000, 2000), ("small", "big"))
    )

    reading = mix_reading(two, lambda two: exact_rate_ratio(two, 0.95))

    assert (reading.plain_claim, reading.adjusted_claim) == ("more", "no difference shown")
    assert reading.disagree
    assert reading.adjusted.ratio == pytest.approx(1)
    assert reading.mix_factor == pytest.approx(1.4)
    assert "They disagree" in reading.sentence


def test_the_same_mix_in_both_periods_agrees():
    two = strata(
        rates_of((400, 600), (2000, 1000), ("small", "big")), rates_of((200, 300), (2000, 1000), ("small", "big"))
    )

    reading = mix_reading(two, lambda two: exact_rate_ratio(two, 0.95))

    assert not reading.disagree
    assert reading.mix_factor == pytest.approx(1)
    assert reading.sentence.endswith("Both say: fewer.")


def test_many_defects_have_the_limits_of_the_binomial_law():
    # One stratum: Clopper-Pearson limits of the after share, turned to odds. Source: scipy.stats.beta.
    answer = exact_rate_ratio(
        strata(rates_of((40_000,), (900,), ("all",)), rates_of((41_000,), (1000,), ("all",))), 0.95
    )
    shares = stats.beta.ppf(0.025, 41_000, 40_001), stats.beta.ppf(0.975, 41_001, 40_000)

    assert (answer.low, answer.high) == pytest.approx([p / (1 - p) * 0.9 for p in shares], rel=1e-9)


def test_more_defects_than_the_exact_law_can_hold_are_refused_with_what_would_do():
    two = strata(rates_of((10**9,), (1.0,), ("all",)), rates_of((10**9,), (1.0,), ("all",)))

    with pytest.raises(ValueError, match=r"at most 100000 .* got 2000000000: take mantel_haenszel_ratio"):
        exact_rate_ratio(two, 0.95)
    assert mantel_haenszel_ratio(two, 0.95, 1.0).ratio == pytest.approx(1)


def test_an_interval_beyond_any_number_has_no_upper_limit():
    # Ten thousand times Poisson's variance, measured on one degree of freedom: nothing is ruled out.
    answer = mantel_haenszel_ratio(
        strata(rates_of((30,), (100,), ("all",)), rates_of((18,), (90,), ("all",))), 0.99, 1e4, 1.0
    )

    assert (answer.low, answer.high) == (pytest.approx(0, abs=1e-200), math.inf)
