"""The chart that fits a row of weeks, and the reason on the page. Rows made up; limits against scipy's own laws.

scipy.stats is the reference library here: its quantiles give the least count whose upper tail is at most .00135, the
tail beyond three standard deviations of a normal value (any printed table).
"""

from datetime import date
from statistics import variance

import numpy as np
import pytest
from scipy.stats import binom, nbinom, poisson

from qc.domain.counted.counts import WeekCounts
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
    """By hand: the weeks' variance is 1.10 times their mean; by chance in 35 of 100. The law is scipy's."""
    counts = (180, 200, 170, 195, 185, 205, 190, 165, 200, 180, 210, 190, 175, 200, 160, 185, 195, 215, 180, 195)
    before = weeks((50,) * 20, (54,) * 20, counts)
    chosen = rate_chart(BASE, weeks((50,) * 4, (54,) * 4, (190,) * 4, LATER), before, {})
    held_to(chosen, counts, 54)


def test_few_defects_are_widened_by_scatter_that_chance_could_explain():
    """Two or three weeks of several defects at once, as one cause makes them; far from proof, p = .06."""
    counts = (0, 1, 0, 2, 0, 5, 1, 0, 3, 0, 1, 2, 0, 4, 1, 0, 2, 3, 0, 1)
    chosen = rate_chart(BASE, steady(2, 54, LATER), weeks((1,) * 20, (54,) * 20, counts), {})
    held_to(chosen, counts, 54)


def test_few_defects_that_are_proved_to_scatter_have_the_same_law():
    """A law of standard deviations is rough there."""
    counts = (0, 0, 9, 0, 0, 1, 0, 8, 0, 0) * 2
    chosen = rate_chart(BASE, steady(2, 54, LATER), weeks((1,) * 20, (54,) * 20, counts), {})
    held_to(chosen, counts, 54)


def held_to(chosen, counts, units):
    mean = sum(counts) / len(counts)
    index = variance(counts) / mean
    size = len(counts) * units
    expected, factor = (sum(counts) + 0.5) * units / size, index * (1 + units / size)
    law = nbinom(expected / (factor - 1), 1 / factor)

    assert index > 1
    assert chosen.chart.points[0].upper * units == pytest.approx(law.isf(TAIL))
    assert chosen.why.startswith(f"Exact limits widened: the scatter between 20 periods is {index:.2f} times")
    assert chosen.why.endswith("as where several defects on a unit have one cause.")
    assert f"a scatter of {index:.2f} times Poisson's" in chosen.chart.method


@pytest.mark.parametrize(("units", "per_unit"), [(5, 0.3), (5, 1.0), (20, 0.1), (20, 0.3), (80, 0.02)])
def test_limits_of_counts_whose_variance_is_twice_poissons_are_seldom_left(units, per_unit):
    """Invented plants, drawn: a year of weeks after 20. Limits that waited for proof were left in .011 to .024."""
    source, runs = np.random.default_rng(42), 60
    labels = tuple(f"w{week}" for week in range(72))
    left = 0
    for _ in range(runs):
        counts = tuple(source.negative_binomial(per_unit, 0.5, (72, units)).sum(axis=1).tolist())
        shown, before = (
            weeks((0,) * len(rows), (units,) * len(rows), rows, names)
            for rows, names in ((counts[20:], labels[20:]), (counts[:20], labels[:20]))
        )
        left += sum(point.is_signal for point in rate_chart(BASE, shown, before, {}).chart.points)

    assert left / (runs * 52) < 0.0095


def test_counts_of_defects_that_scatter_no_more_than_chance_keep_plain_limits():
    assert rate_chart(BASE, steady(50, 54, LATER, 190), steady(50, 54, defects=190), {}).chart.kind == "u"
