"""The chart that fits a row of weeks, and the reason on the page. Rows made up; limits against scipy's own laws.

scipy.stats is the reference library here: its quantiles give the least count whose upper tail is at most .00135, the
tail beyond three standard deviations of a normal value (any printed table).
"""

from datetime import date
from itertools import pairwise

import pytest
from scipy.stats import binom, poisson

from qc.domain.counts import WeekCounts
from qc.reports.periods import Period
from qc.reports.week.chosen_chart import rate_chart, share_chart
from qc.stats.answers import TooLittle

TAIL = 0.00135
BASE = Period(date(2026, 3, 2), date(2026, 7, 20), "first 20 weeks", False)
WEEKS = tuple(f"2026-W{n}" for n in range(10, 30))
LATER = tuple(f"2026-W{n}" for n in range(30, 34))


def weeks(defectives, inspected, defects=None, labels=WEEKS):
    return WeekCounts("line", labels, inspected, defectives, defects or defectives, False, "units")


def steady(defectives, inspected, labels=WEEKS, defects=None):
    n = len(labels)
    return weeks((defectives,) * n, (inspected,) * n, (defects or defectives,) * n, labels)


def test_enough_of_both_kinds_gives_limits_in_standard_deviations():
    chosen = share_chart(BASE, steady(20, 54, LATER), steady(20, 54), {})

    assert chosen.chart.method.startswith("share of defective units, 3 standard deviations")
    assert "5 or more units with one are expected" in chosen.why


def test_few_good_units_give_exact_limits_and_say_so():
    """Nearly every unit has a defect: 54 units, 51 with one; three good ones are fewer than five."""
    chosen = share_chart(BASE, steady(51, 54, LATER), steady(51, 54), {})
    point = chosen.chart.points[0]

    assert (point.lower * 54, point.upper * 54) == pytest.approx(
        (binom.ppf(TAIL, 54, 51 / 54), binom.isf(TAIL, 54, 51 / 54))
    )
    assert chosen.why.startswith("Exact limits, because in each week fewer than 5 units without one are expected")


def test_one_short_week_is_enough_to_ask_for_exact_limits():
    shown = weeks((20, 4, 20, 20), (54, 12, 54, 54), labels=LATER)
    chosen = share_chart(BASE, shown, steady(20, 54), {})

    assert "exact binomial" in chosen.chart.method
    assert "in 1 week fewer than 5 units with one" in chosen.why


def test_a_short_baseline_widens_the_exact_limits():
    """Eight weeks: the limits allow for the guess, so they are at least as wide as if the share were known."""
    young = Period(BASE.first, date(2026, 4, 27), "first 8 weeks", False)
    chosen = share_chart(young, steady(51, 54, LATER), steady(51, 54, WEEKS[:8]), {})

    assert chosen.chart.points[0].lower * 54 < binom.ppf(TAIL, 54, 51 / 54)
    assert chosen.why.startswith(
        "Exact limits with an allowance for the baseline, because it has 8 weeks with 24 units"
    )
    assert not any("first guess" in said for said in chosen.chart.cautions)


def test_scatter_beyond_chance_comes_before_small_counts():
    wild = weeks((54, 46) * 10, (54,) * 20)
    chosen = share_chart(BASE, steady(50, 54, LATER), wild, {})

    assert chosen.chart.kind == "p′"
    assert chosen.why.startswith("Limits widened (p′), because the scatter between 20 periods is")
    assert "there they are rough" in chosen.why


def test_few_defects_give_exact_poisson_limits():
    chosen = rate_chart(BASE, steady(3, 54, LATER), steady(3, 54), {})

    assert chosen.chart.points[0].upper * 54 == pytest.approx(poisson.isf(TAIL, 3))
    assert "in each week fewer than 5 defects are expected" in chosen.why


def test_a_week_left_out_of_the_baseline_enters_neither_limits_nor_scatter():
    """One week of accidents would widen the limits; left out with its reason, the others judge it."""
    spoilt = weeks((54, *(20,) * 19), (54,) * 20)
    both = share_chart(BASE, spoilt, spoilt, {}), share_chart(BASE, spoilt, spoilt, {"2026-W10": "flood in the hall"})

    assert both[0].chart.kind == "p′"
    assert both[1].chart.kind == "p"
    assert both[1].chart.baseline.centre == pytest.approx(20 / 54)
    assert both[1].chart.points[0].excluded == "flood in the hall"
    assert both[1].chart.signals == ("2026-W10",)


def test_no_baseline_gives_no_chart_and_no_reason():
    chosen = share_chart(TooLittle("baseline", "too few weeks", 3, 8), steady(1, 5, LATER), None, {})

    assert (chosen.chart.have, chosen.why) == (3, "")


def test_a_baseline_without_a_unit_of_it_says_so():
    assert "no unit" in rate_chart(BASE, steady(1, 5, LATER), None, {}).chart.reason


def test_nothing_found_in_the_baseline_still_gives_limits():
    chosen = share_chart(BASE, steady(0, 54, LATER), steady(0, 54), {})

    assert chosen.chart.points[0].upper > 0
    assert "with 0 units with one" in chosen.why


def test_counts_of_defects_are_widened_by_scatter_that_chance_could_explain():
    """Defects gather on units. By hand: the steps between weeks give σz 1.48; by chance in 30 of 100."""
    counts = (180, 200, 170, 195, 185, 205, 190, 165, 200, 180, 210, 190, 175, 200, 160, 185, 195, 215, 180, 195)
    before = weeks((50,) * 20, (54,) * 20, counts)
    chosen = rate_chart(BASE, weeks((50,) * 4, (54,) * 4, (190,) * 4, LATER), before, {})
    mean = sum(counts) / 20
    steps = sum(abs(b - a) for a, b in pairwise(counts)) / 19 / 1.128 / mean**0.5

    assert chosen.chart.kind == "u′"
    assert chosen.chart.points[0].upper * 54 == pytest.approx(mean + 3 * steps * mean**0.5)
    assert "because defects gather on units" in chosen.why


def test_counts_of_defects_that_scatter_no_more_than_chance_keep_plain_limits():
    assert rate_chart(BASE, steady(50, 54, LATER, 190), steady(50, 54, defects=190), {}).chart.kind == "u"
