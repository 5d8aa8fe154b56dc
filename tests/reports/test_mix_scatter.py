"""The scatter that widens the comparison with the baseline: within models, on its own degrees. Constructed weeks."""

from qc.domain.counted.counts import WeekCounts
from qc.reports.week.defects_per_unit import scatter_within_models
from qc.stats.charts.dispersion import rate_dispersion
from qc.stats.series import rates_of

WEEKS = tuple(f"2026-W{week}" for week in range(10, 18))


def weeks(inspected, defects):
    return WeekCounts("line", WEEKS, inspected, tuple(map(min, inspected, defects)), defects, False, "units")


def test_a_swinging_mix_is_not_counted_as_scatter():
    # every small unit has half a defect and every large one two, in every week; only the mix swings
    small, large = (10, 2) * 4, (2, 10) * 4
    before = {"T36": weeks(small, tuple(n // 2 for n in small)), "H62": weeks(large, tuple(2 * n for n in large))}
    totals = [a + b for a, b in zip(before["T36"].defects, before["H62"].defects, strict=True)]

    within = scatter_within_models(before)
    assert within.index == 0
    assert within.factor == 1
    assert within.degrees == 7
    assert rate_dispersion(rates_of(totals, [12] * 8, WEEKS)).index > 2.7  # 8 times 6 squared over 15, over 7


def test_weeks_that_are_worse_for_every_model_are_scatter():
    units = (10,) * 8
    before = {"T36": weeks(units, (2, 8) * 4), "H62": weeks(units, (2, 8) * 4)}

    # each week expects 10 of 20 units; 8 times 6 squared over 10, over 7 degrees
    assert abs(scatter_within_models(before).factor - 8 * 36 / 10 / 7) < 1e-12
