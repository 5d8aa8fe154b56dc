"""What a p, np, u or c chart does at its edges; its published examples are in tests/reference."""

from datetime import date
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.charts.baselines import given_standard, rate_baseline, revised_baseline, share_baseline
from qc.stats.charts.control_charts import c_chart, np_chart, p_chart, u_chart
from qc.stats.series import counts_of, rates_of, shares_of

DAY = date(2024, 1, 8)
WEEKS = [f"2024-W{week:02}" for week in range(1, 31)]


def standard(share, kind="share"):
    return given_standard("agreed", DAY, kind, share, "the plant's agreement")


def weeks(counts):
    return WEEKS[: len(counts)]


periods = st.lists(
    st.integers(0, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), min_size=1, max_size=30
)


@given(periods=periods, share=st.floats(0.01, 0.99))
def test_every_period_has_a_point_within_its_bounds(periods, share):
    defectives, inspected = zip(*periods, strict=True)
    chart = p_chart(shares_of(defectives, inspected, weeks(periods)), standard(share))

    assert [point.label for point in chart.points] == weeks(periods)
    for point in chart.points:
        assert (point.state == "gap") == (point.size == 0) == (point.value is None)
        if point.value is not None:
            assert point.lower is None or 0 < point.lower < share
            assert share < point.upper <= 1
            assert point.is_signal == (
                point.value > point.upper + 1e-12 or (point.lower is not None and point.value < point.lower - 1e-12)
            )


def test_a_baseline_of_nothing_but_defectives_signals_a_drop():
    # The limits close in on 1: 49 of 50 is strictly below them. Source: pbar - 3 sqrt(pbar (1 - pbar) / n) at pbar 1.
    chart = p_chart(shares_of([50, 49], [50, 50], ["all", "one less"]), standard(1.0))

    assert (chart.points[0].lower, chart.points[0].state) == (1.0, "in")
    assert chart.points[1].state == "signal_low"


@given(periods=periods, more=periods, share=st.floats(0.01, 0.99))
def test_later_data_never_move_earlier_points(periods, more, share):
    defectives, inspected = zip(*periods, strict=True)
    long = [*periods, *more][:30]
    all_defectives, all_inspected = zip(*long, strict=True)
    before = p_chart(shares_of(defectives, inspected, weeks(periods)), standard(share))
    after = p_chart(shares_of(all_defectives, all_inspected, weeks(long)), standard(share))

    assert after.points[: len(periods)] == before.points[: len(after.points)]


@given(size=st.integers(1, 500), share=st.floats(0.01, 0.99))
def test_more_units_bring_the_limits_closer(size, share):
    small, large = p_chart(shares_of([0, 0], [size, 4 * size], ["small", "large"]), standard(share)).points

    assert large.upper <= small.upper
    assert large.sigma == pytest.approx(small.sigma / 2)


def test_a_period_without_inspection_is_a_gap_and_not_a_zero():
    chart = p_chart(shares_of([2, 0, 0], [20, 0, 20], weeks("abc")), standard(0.1))

    assert [point.state for point in chart.points] == ["in", "gap", "in"]
    assert [point.value for point in chart.points] == [0.1, None, 0.0]
    assert chart.standardised[1] is None


def test_zero_defectives_never_signal_without_a_lower_limit():
    chart = p_chart(shares_of([0, 0], [20, 1000], weeks("ab")), standard(0.1))

    assert [point.lower is None for point in chart.points] == [True, False]
    assert [point.state for point in chart.points] == ["in", "signal_low"]
    assert [point.lower_drawn > 0 for point in chart.points] == [False, True]


def test_a_point_on_a_limit_does_not_signal():
    # .1 +- 3 sqrt(.09/100) = .19 and .01, which floating point reaches from either side.
    chart = p_chart(shares_of([19, 20, 1, 0], [100] * 4, weeks("abcd")), standard(0.1))

    assert [point.state for point in chart.points] == ["in", "signal_high", "in", "signal_low"]


@given(root=st.integers(1, 300))
def test_rounding_never_makes_a_signal_of_a_count_on_a_limit(root):
    # cbar = root^2 has the whole limits root^2 +- 3 root.
    on = [root * root + 3 * root, max(0, root * root - 3 * root)]

    assert c_chart(counts_of(on, weeks(on)), standard(root * root, "rate")).signals == ()


@pytest.mark.parametrize(("percent", "root"), [(2, 14), (10, 30), (20, 40), (50, 50), (90, 30)])
def test_rounding_never_makes_a_signal_of_a_share_on_a_limit(percent, root):
    # sqrt(p (1 - p)) is root/100 here, so of k^2 units the limits are (k^2 percent +- 3 root k)/100 units.
    on = [
        (numerator // 100, k * k)
        for k in range(1, 400)
        for numerator in (k * k * percent + 3 * root * k, k * k * percent - 3 * root * k)
        if numerator % 100 == 0 and 0 <= numerator // 100 <= k * k
    ]
    defectives, inspected = zip(*on, strict=True)
    chart = p_chart(shares_of(defectives, inspected, [str(place) for place in range(len(on))]), standard(percent / 100))

    assert len(on) > 10
    assert chart.signals == ()


def test_the_period_still_running_is_shown_and_not_judged():
    chart = p_chart(shares_of([2, 9], [20, 10], weeks("ab")), standard(0.1), partial_last=True)

    assert [point.state for point in chart.points] == ["in", "partial"]
    assert chart.points[1].value > chart.points[1].upper
    assert chart.signals == ()
    assert chart.standardised[1] is None


def test_a_period_still_running_does_not_belong_in_the_baseline():
    baseline = share_baseline("early", DAY, shares_of([2, 1], [20, 10], weeks("ab")), {})

    with pytest.raises(ValueError, match="baseline 'early' must hold whole periods only, got '2024-W02'"):
        p_chart(shares_of([2, 1], [20, 10], weeks("ab")), baseline, partial_last=True)


def test_a_baseline_without_a_find_makes_any_find_a_signal_and_says_so():
    baseline = share_baseline("clean", DAY, shares_of([0, 0], [50, 50], weeks("ab")), {})
    chart = p_chart(shares_of([0, 0, 1], [50, 50, 50], weeks("abc")), baseline)

    assert chart.signals == (WEEKS[2],)
    assert [point.z for point in chart.points] == [0.0, 0.0, inf]
    assert any("any find signals" in caution for caution in chart.cautions)


def test_a_short_baseline_is_told():
    baseline = share_baseline("short", DAY, shares_of([30] * 5, [100] * 5, WEEKS[:5]), {})
    chart = p_chart(shares_of([30], [100], ["2024-W31"]), baseline)

    assert chart.cautions[0].startswith("The baseline has 5 periods; 20 to 25 are usual")
    long = share_baseline("long", DAY, shares_of([30] * 20, [100] * 20, WEEKS[:20]), {})
    assert p_chart(shares_of([30], [100], ["2024-W31"]), long).cautions == ()


def test_small_expected_counts_are_told():
    baseline = share_baseline("b", DAY, shares_of([1] * 20, [20] * 20, WEEKS[:20]), {})
    chart = p_chart(shares_of([1, 1], [20, 20], weeks("ab")), baseline)

    assert any("exact limits judge them" in caution for caution in chart.cautions)


def test_counts_that_came_late_are_told_and_the_limits_stay_frozen():
    baseline = share_baseline("spring", DAY, shares_of([5, 5], [50, 50], weeks("ab")), {})
    before = p_chart(shares_of([5, 5], [50, 50], weeks("ab")), baseline)
    after = p_chart(shares_of([5, 9], [50, 51], weeks("ab")), baseline)

    assert before.changed_since_frozen == ()
    assert after.changed_since_frozen == (WEEKS[1],)
    assert after.points[0] == before.points[0]
    assert "1 baseline periods have other counts today" in after.cautions[-1]


def test_the_centre_is_the_pooled_ratio_and_gaps_are_not_counted():
    baseline = share_baseline("mixed", DAY, shares_of([1, 0, 30], [10, 0, 100], weeks("abc")), {})

    assert baseline.centre == 31 / 110
    assert baseline.periods == 2


def test_a_revision_leaves_the_old_baseline_as_it_was():
    old = share_baseline("trial", DAY, shares_of([5, 40, 5], [50, 50, 50], weeks("abc")), {})
    new = revised_baseline(old, "revised", DAY, {WEEKS[1]: "wrong glue, batch blocked"})

    assert (old.centre, new.centre) == (50 / 150, 0.1)
    assert [(one.label, one.reason) for one in new.excluded] == [(WEEKS[1], "wrong glue, batch blocked")]
    assert (old.excluded, new.events) == ((), old.events)


def test_an_exclusion_needs_a_reason_and_a_period():
    with pytest.raises(ValueError, match="excluded needs a reason for '2024-W01'"):
        share_baseline("b", DAY, shares_of([1], [10], weeks("a")), {WEEKS[0]: "  "})
    with pytest.raises(ValueError, match="excluded names '2024-W09'"):
        share_baseline("b", DAY, shares_of([1], [10], weeks("a")), {"2024-W09": "cause"})


def test_a_baseline_of_nothing_is_too_little():
    nothing = share_baseline("b", DAY, shares_of([0], [0], weeks("a")), {})
    all_out = rate_baseline("b", DAY, rates_of([4], [10], weeks("a")), {WEEKS[0]: "cause"})

    assert isinstance(nothing, TooLittle)
    assert isinstance(all_out, TooLittle)


def test_one_unit_with_three_defects_is_one_in_p_and_three_in_u():
    p = p_chart(shares_of([1], [10], weeks("a")), standard(0.2))
    u = u_chart(rates_of([3], [10], weeks("a")), standard(0.2, "rate"))

    assert (p.points[0].value, u.points[0].value) == (0.1, 0.3)


@given(periods=periods, share=st.floats(0.01, 0.99))
def test_z_is_the_distance_in_standard_deviations(periods, share):
    defectives, inspected = zip(*periods, strict=True)
    chart = u_chart(rates_of(defectives, inspected, weeks(periods)), standard(share, "rate"))

    for point in chart.points:
        if point.value is not None:
            assert point.centre + point.z * point.sigma == pytest.approx(point.value, abs=1e-9)


@given(counts=st.lists(st.integers(0, 40), min_size=1, max_size=30))
def test_an_np_chart_is_the_p_chart_times_its_size(counts):
    sizes = [40] * len(counts)
    p = p_chart(shares_of(counts, sizes, weeks(counts)), standard(0.3))
    np = np_chart(shares_of(counts, sizes, weeks(counts)), standard(0.3))

    assert [point.z for point in np.points] == pytest.approx([point.z for point in p.points])
    assert [point.upper for point in np.points] == pytest.approx([40 * point.upper for point in p.points])
    assert np.signals == p.signals


def test_an_np_chart_refuses_periods_of_different_size():
    with pytest.raises(ValueError, match="inspected must be the same in every period of an np chart, got 40 to 50"):
        np_chart(shares_of([1, 1], [40, 50], weeks("ab")), standard(0.1))

    assert np_chart(shares_of([1, 0, 1], [40, 0, 5], weeks("abc")), standard(0.1), partial_last=True).signals == ()


@pytest.mark.parametrize(
    ("defectives", "inspected", "labels", "told"),
    [
        ([12], [10], ["Mon night"], r"inspected must be at least defectives \(12\), got 10 for 'Mon night'"),
        ([-1], [10], ["Mon"], "defectives for 'Mon' must be a whole number of at least 0, got -1"),
        ([1, 2], [10], ["Mon"], r"inspected must be as many as defectives \(2\), got 1"),
        ([1, 2], [10, 10], ["Mon", "Mon"], "labels must differ, got 'Mon' twice"),
    ],
)
def test_impossible_periods_are_refused_by_name(defectives, inspected, labels, told):
    with pytest.raises(ValueError, match=told):
        p_chart(shares_of(defectives, inspected, labels), standard(0.1))


def test_defects_without_exposure_are_refused():
    with pytest.raises(ValueError, match=r"where there are defects \(2\), got 0 for 'Mon'"):
        u_chart(rates_of([2], [0], ["Mon"]), standard(0.1, "rate"))


def test_a_baseline_of_another_kind_is_refused():
    with pytest.raises(ValueError, match="baseline 'agreed' must hold shares for this chart, got rates"):
        p_chart(shares_of([1], [10], ["Mon"]), standard(0.1, "rate"))
    with pytest.raises(ValueError, match=r"centre must be a share between 0 and 1, got 1\.2"):
        standard(1.2)


def test_a_chart_without_periods_has_no_points():
    assert p_chart(shares_of([], [], []), standard(0.1)).points == ()
