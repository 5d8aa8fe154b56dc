"""Properties and edges of the intervals; their published values are in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import (
    agresti_coull_interval,
    clopper_pearson_interval,
    jeffreys_interval,
    poisson_interval,
    rate_upper_bound,
    share_upper_bound,
    wilson_interval,
)

SHARES = [wilson_interval, clopper_pearson_interval, agresti_coull_interval, jeffreys_interval]
counts = st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
levels = st.floats(0.5, 0.999)


@pytest.mark.parametrize("interval", SHARES)
@given(counts=counts, level=levels)
def test_a_share_lies_in_its_interval_and_the_interval_in_0_to_1(interval, counts, level):
    answer = interval(*counts, level)

    assert 0 <= answer.low <= answer.share <= answer.high <= 1


@pytest.mark.parametrize("interval", SHARES)
@given(counts=counts, level=levels)
def test_clean_units_are_the_mirror_of_defective_ones(interval, counts, level):
    defectives, inspected = counts
    answer, mirror = interval(defectives, inspected, level), interval(inspected - defectives, inspected, level)

    assert (1 - mirror.high, 1 - mirror.low) == pytest.approx((answer.low, answer.high), abs=1e-9)


@pytest.mark.parametrize("interval", SHARES)
@given(counts=counts)
def test_a_higher_level_widens_the_interval(interval, counts):
    narrow, wide = interval(*counts, 0.9), interval(*counts, 0.99)

    assert wide.low <= narrow.low + 1e-12
    assert wide.high >= narrow.high - 1e-12


@pytest.mark.parametrize("interval", SHARES)
@given(counts=counts)
def test_ten_times_the_units_narrow_the_interval(interval, counts):
    defectives, inspected = counts
    few, many = interval(defectives, inspected, 0.95), interval(10 * defectives, 10 * inspected, 0.95)

    assert many.high - many.low < few.high - few.low


@pytest.mark.parametrize("interval", SHARES)
def test_the_edges_are_exact_and_never_of_no_width(interval):
    none, one = interval(0, 25, 0.95), interval(25, 25, 0.95)

    assert none.low == 0.0 < none.high
    assert one.low < one.high == 1.0


@pytest.mark.parametrize("interval", [*SHARES, share_upper_bound])
def test_nothing_inspected_is_too_little_to_judge(interval):
    answer = interval(0, 0, 0.95)

    assert isinstance(answer, TooLittle)
    assert (answer.have, answer.need) == (0, 1)


@pytest.mark.parametrize("interval", [*SHARES, share_upper_bound])
@pytest.mark.parametrize(
    ("defectives", "inspected", "level", "told"),
    [
        (12, 10, 0.95, r"inspected must be at least defectives \(12\), got 10"),
        (-1, 10, 0.95, "defectives must be a whole number of at least 0, got -1"),
        (1.5, 10, 0.95, "defectives must be a whole number of at least 0, got 1.5"),
        (1, float("nan"), 0.95, "inspected must be a whole number"),
        (True, 10, 0.95, "defectives must be a whole number of at least 0, got True"),
        (1, 10, 95, "level must be a share between 0 and 1, say 0.95, got 95"),
        (1, 10, 1.0, "level must be"),
        (1, 10, 0.0, "level must be"),
    ],
)
def test_impossible_input_is_refused_by_name_and_value(interval, defectives, inspected, level, told):
    with pytest.raises(ValueError, match=told):
        interval(defectives, inspected, level)


@given(count=st.integers(0, 3000), exposure=st.floats(0.01, 1e5), level=levels)
def test_a_rate_lies_in_its_interval(count, exposure, level):
    answer = poisson_interval(count, exposure, level)

    assert 0 <= answer.low <= answer.rate <= answer.high
    assert (answer.low == 0) == (count == 0)


@given(count=st.integers(0, 3000), factor=st.floats(0.1, 100))
def test_a_rate_interval_scales_with_its_exposure(count, factor):
    one, other = poisson_interval(count, 1.0, 0.95), poisson_interval(count, factor, 0.95)

    assert (other.low * factor, other.high * factor) == pytest.approx((one.low, one.high))


@given(counts=counts)
def test_a_one_sided_bound_is_the_upper_end_of_the_wider_two_sided_interval(counts):
    assert share_upper_bound(*counts, 0.95).bound == pytest.approx(clopper_pearson_interval(*counts, 0.9).high)


def test_a_one_sided_rate_bound_is_the_upper_end_of_the_wider_two_sided_interval():
    assert rate_upper_bound(7, 20, 0.95).bound == pytest.approx(poisson_interval(7, 20, 0.9).high)


@pytest.mark.parametrize("interval", [poisson_interval, rate_upper_bound])
def test_no_exposure_gives_no_rate(interval):
    assert isinstance(interval(0, 0, 0.95), TooLittle)
    with pytest.raises(ValueError, match=r"units must be above 0 where there are defects \(3\)"):
        interval(3, 0, 0.95)
    with pytest.raises(ValueError, match="units must be at least 0, got -2"):
        interval(3, -2, 0.95)
