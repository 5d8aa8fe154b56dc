"""p, np, u and c charts give the centre lines, limits and signals that the textbooks and handbooks print."""

from datetime import date

import pytest

from qc.stats.charts.baselines import given_standard, rate_baseline, revised_baseline, share_baseline
from qc.stats.charts.control_charts import c_chart, np_chart, p_chart, u_chart
from qc.stats.series import counts_of, rates_of, shares_of

DAY = date(2024, 1, 8)


def numbered(counts):
    return [str(place) for place in range(1, len(counts) + 1)]


def positions(chart):
    return [int(label) for label in chart.signals]


def sizes_of(given):
    sizes = given["sizes"]
    return [sizes] * len(given["counts"]) if isinstance(sizes, int) else sizes


def exclusions(given):
    return {str(place): "assignable cause" for place in given.get("excluded", [])}


def p_of(facts):
    counts, sizes = facts.given["counts"], sizes_of(facts.given)
    labels = numbered(counts)
    if "center" in facts.given:
        baseline = given_standard("as printed", DAY, "share", facts.given["center"], facts.source)
    else:
        baseline = share_baseline("trial", DAY, shares_of(counts, sizes, labels), exclusions(facts.given))
    return p_chart(shares_of(counts, sizes, labels), baseline)


@pytest.mark.parametrize("name", ["p-oj-trial", "p-oj-revised", "p-oj-phase2", "p-oj-rebaseline"])
def test_a_p_chart_has_the_printed_limits_and_signals(case, name):
    facts = case(name)
    chart = p_of(facts)

    for key, value in {
        "center": chart.baseline.centre,
        "ucl_const": chart.points[0].upper,
        "lcl_const": chart.points[0].lower_drawn,
        "signals": positions(chart),
        "total": sum(point.events for point in chart.points),
    }.items():
        if key in facts.answer:
            facts.agrees(key, value)


def test_a_point_just_below_the_lower_limit_is_a_low_signal(case):
    chart = p_of(case("p-oj-phase2"))

    assert [point.state for point in chart.points if point.is_signal] == ["signal_low"]


def test_limits_of_tiny_periods_stay_between_0_and_1_and_0_is_no_lower_limit(case):
    facts = case("p-ucl-above-one")
    chart = p_of(facts)

    facts.agrees("center", chart.baseline.centre)
    facts.agrees("ucl", [point.upper for point in chart.points])
    facts.agrees("lcl", [point.lower_drawn for point in chart.points])
    assert [point.lower for point in chart.points] == [None] * 5
    assert chart.signals == ()


def test_excluded_points_stay_on_the_chart_with_their_reason_and_still_signal(case):
    facts = case("p-oj-trial")
    counts, sizes = facts.given["counts"], sizes_of(facts.given)
    labels = numbered(counts)
    trial = share_baseline("trial", DAY, shares_of(counts, sizes, labels), {})
    revised = revised_baseline(trial, "revised", DAY, {"15": "new resin", "23": "new operator"})
    chart = p_chart(shares_of(counts, sizes, labels), revised)

    # Montgomery, ch. 7, Example 7.1 continued: 301 of 1400, and sample 21 now signals too.
    assert (revised.total_events, revised.total_size) == (301, 1400)
    assert positions(chart) == [15, 21, 23]
    assert [(point.excluded, point.in_baseline) for point in chart.points[13:16]] == [
        ("", True),
        ("new resin", False),
        ("", True),
    ]
    assert trial.total_events == facts.answer["total"]


def test_an_np_chart_has_the_printed_limits_and_signals(case):
    facts = case("np-oj")
    counts, sizes = facts.given["counts"], [facts.given["n"]] * 30
    baseline = share_baseline("trial", DAY, shares_of(counts, sizes, numbered(counts)), {})
    chart = np_chart(shares_of(counts, sizes, numbered(counts)), baseline)

    facts.agrees("center", chart.points[0].centre)
    facts.agrees("ucl", chart.points[0].upper)
    facts.agrees("lcl", chart.points[0].lower)
    facts.agrees("signals", positions(chart))


@pytest.mark.parametrize("name", ["u-computers", "u-shipping"])
def test_a_u_chart_has_the_printed_limits_and_signals(case, name):
    facts = case(name)
    counts, sizes = facts.given["counts"], sizes_of(facts.given)
    baseline = rate_baseline("trial", DAY, rates_of(counts, sizes, numbered(counts)), {})
    chart = u_chart(rates_of(counts, sizes, numbered(counts)), baseline)
    first = chart.points[0]

    facts.agrees("center", chart.baseline.centre)
    facts.agrees("ucl_const", first.upper)
    facts.agrees("lcl_const", first.lower_drawn)
    facts.agrees("signals", positions(chart))
    if "lcl_raw_const" in facts.answer:
        facts.agrees("lcl_raw_const", first.centre - 3 * first.sigma)
        assert first.lower is None


@pytest.mark.parametrize("name", ["c-nist-wafer", "c-pcb-trial", "c-pcb-revised"])
def test_a_c_chart_has_the_printed_limits_and_signals(case, name):
    facts = case(name)
    counts = facts.given["counts"]
    baseline = rate_baseline(
        "trial", DAY, rates_of(counts, [1] * len(counts), numbered(counts)), exclusions(facts.given)
    )
    chart = c_chart(counts_of(counts, numbered(counts)), baseline)

    facts.agrees("center", chart.baseline.centre)
    facts.agrees("ucl", chart.points[0].upper)
    facts.agrees("lcl", chart.points[0].lower)
    facts.agrees("signals", positions(chart))
