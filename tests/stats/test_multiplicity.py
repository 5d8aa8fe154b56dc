"""Tests looked at together: boundaries, orders, refusals. Sources: tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.watch.multiplicity import benjamini_hochberg, bonferroni, holm, watch_budget

METHODS = [benjamini_hochberg, holm, bonferroni]
p_values = st.lists(st.floats(0, 1), min_size=1, max_size=30)


def numbered(things):
    return tuple(map(str, range(len(things))))


@given(p_values)
def test_holm_rejects_what_bonferroni_does_and_benjamini_hochberg_what_holm_does(p):
    strict, middle, wide = (method(p, numbered(p), 0.05).rejected for method in (bonferroni, holm, benjamini_hochberg))

    assert all(m >= s for s, m in zip(strict, middle, strict=True))
    assert all(w >= m for m, w in zip(middle, wide, strict=True))


@pytest.mark.parametrize("method", METHODS)
@given(p_values, st.randoms())
def test_the_order_of_looking_does_not_matter(method, p, random):
    order = random.sample(range(len(p)), len(p))
    one = method(p, numbered(p), 0.05)
    other = method([p[i] for i in order], [str(i) for i in order], 0.05)

    assert dict(zip(other.labels, other.adjusted, strict=True)) == dict(zip(one.labels, one.adjusted, strict=True))


@pytest.mark.parametrize("method", METHODS)
def test_one_test_alone_is_not_adjusted(method):
    answer = method((0.03,), ("S07",), 0.05)

    assert answer.adjusted == (0.03,)
    assert answer.rejected == (True,)


@pytest.mark.parametrize("method", METHODS)
def test_a_p_value_on_the_boundary_up_to_rounding_is_rejected(method):
    """Convention: p = .05 and ties are compared with a relative slack of 1e-7."""
    assert method((0.05 * (1 + 1e-9),), ("S07",), 0.05).rejected == (True,)
    assert method((0.05 * (1 + 1e-6),), ("S07",), 0.05).rejected == (False,)


def test_nought_and_one_stay_themselves():
    answer = holm((0.0, 1.0), ("a", "b"), 0.05)

    assert answer.adjusted == (0.0, 1.0)


@pytest.mark.parametrize("method", METHODS)
def test_nothing_tested_is_too_little(method):
    assert isinstance(method((), (), 0.05), TooLittle)


@pytest.mark.parametrize("wrong", [-0.1, 1.01, float("nan")])
def test_a_p_value_outside_0_and_1_is_refused(wrong):
    with pytest.raises(ValueError, match=r"p_values\[1\] must be between 0 and 1, got"):
        holm((0.5, wrong), ("a", "b"), 0.05)


def test_the_watch_budget_spreads_the_allowed_alarms():
    budget = watch_budget(24 * 4, 0.5)

    assert budget.chance * budget.watched == pytest.approx(0.5)
    with pytest.raises(ValueError, match=r"alarms must be fewer than are watched \(3\), got 3"):
        watch_budget(3, 3)
