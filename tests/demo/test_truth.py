"""What the demo draws agrees with what its story expects.

The expected counts of ``demo_data/story/expected.csv`` were worked out apart from this package, for the invented plant.
"""

from functools import cache

import numpy as np
import pytest
from scipy import stats

from qc.assets import folder
from qc.demo.making import Making, planted_units
from qc.demo.multipliers import multiplier
from qc.demo.schedule import schedule
from qc.demo.story import read_story, rows
from qc.demo.truth import expected
from qc.domain.tables.plant_tables import read_plant

PLANT = read_plant(folder("demo_data") / "plant")
STORY = read_story(folder("demo_data") / "story")
TABLE = {(int(r["week"]), r["origin"]): r for r in rows(folder("demo_data") / "story" / "expected.csv")}


@cache
def expected_counts():
    return expected(STORY, PLANT)


def found_counts(seed, weeks=26):
    """Defects found at the end points by (week, origin), planted ones left out."""
    making = Making(STORY, PLANT, seed)
    counts = dict.fromkeys(expected_counts(), 0)
    for unit in schedule(STORY, PLANT, seed, weeks):
        for made in making.of(unit):
            counts[unit.week, made.origin] += made.found != ""
    return counts


def test_expected_counts_agree_with_the_table_worked_out_apart():
    # The table was rounded and drew the models' order in a week once, so a batch's edge may shift by a few units.
    assert set(TABLE) == set(expected_counts())
    for key, row in TABLE.items():
        assert expected_counts()[key].found == pytest.approx(float(row["found"]), rel=0.04, abs=0.02), key


def test_expected_totals_agree_with_the_table_worked_out_apart():
    total = sum(float(row["found"]) for row in TABLE.values())

    assert sum(one.found for one in expected_counts().values()) == pytest.approx(total, rel=0.002)
    assert sum(unit.units for unit in STORY.weeks) == 1320


def test_counts_over_ten_seeds_fit_what_is_expected_by_week_and_origin():
    """Chi-square over 572 cells with the unit effect in the variance; a new set of seeds fails 1 in 1000 times."""
    seeds = range(100, 110)
    sums = dict.fromkeys(expected_counts(), 0)
    for seed in seeds:
        for key, count in found_counts(seed).items():
            sums[key] += count
    # Cells of few are pooled by origin, as the chi-square wants means of 5 and more.
    terms = [
        (sums[key] - len(seeds) * one.found) ** 2 / (len(seeds) * (one.found + one.spread))
        for key, one in expected_counts().items()
        if len(seeds) * one.found >= 5
    ]

    assert len(terms) > 500
    # The inspector drawn for a unit adds a little scatter of its own, so only the upper tail is tested.
    assert sum(terms) < stats.chi2.ppf(0.999, len(terms)) * 1.05


def test_the_plant_total_would_show_detection_three_percent_off():
    """The total over ten seeds has a standard error under 0.75 %; a new set of seeds fails 1 in 15 000 times."""
    seeds = range(200, 210)
    total = sum(sum(found_counts(seed).values()) for seed in seeds) / len(seeds)
    mean = sum(one.found for one in expected_counts().values())
    variance = sum(one.found for one in expected_counts().values()) + 1320 * (mean / 1320) ** 2 / STORY.unit_shape
    standard_error = (variance / len(seeds)) ** 0.5

    assert abs(total - mean) < 4 * standard_error
    assert 4 * standard_error < 0.03 * mean


def test_plant_totals_scatter_more_than_poisson_and_a_station_hardly():
    """Over 60 seeds of 4 weeks: variance over mean of the plant total is near 1.6, of one station near 1.1."""
    totals, ones = [], []
    for seed in range(300, 360):
        counts = found_counts(seed, weeks=4)
        totals.append(sum(counts.values()))
        ones.append(sum(count for (_, origin), count in counts.items() if origin == "S06"))

    # 99.9 % limits of a sample variance with 59 degrees of freedom, by chi-square.
    low, high = stats.chi2.ppf([0.0005, 0.9995], 59) / 59
    assert low < np.var(totals, ddof=1) / np.mean(totals) / 1.6 < high
    assert low < np.var(ones, ddof=1) / np.mean(ones) / 1.02 < high


def test_the_same_seed_draws_the_same_and_another_another():
    assert found_counts(7, weeks=2) == found_counts(7, weeks=2)
    assert found_counts(7, weeks=2) != found_counts(8, weeks=2)


def test_all_fourteen_criticals_are_planted_in_their_week_and_model():
    units = schedule(STORY, PLANT, 5, 26)
    planted = planted_units(STORY, units, 5)

    assert len(planted) == len(STORY.criticals) == 14
    by_sequence = {unit.sequence: unit for unit in units}
    assert all((by_sequence[s].week, by_sequence[s].model) == (c.week, c.model) for s, c in planted.items())
    escape = next(s for s, c in planted.items() if c.found == "FIELD")
    assert by_sequence[escape].inspector == "I4"
    assert [c.type for c in planted.values()].count("GAS-01") == 5


def test_no_critical_is_drawn_by_chance():
    assert all(PLANT.types[rate.type].default_severity != "critical" for rate in STORY.rates)


def test_the_pump_drifts_in_a_straight_line_and_the_batch_is_a_step():
    def on(week, type_, origin):
        return multiplier(STORY, type_, origin, STORY.monday(week))

    assert [on(week, "FUR-01", "FU1") for week in (8, 9, 11, 12)] == [1, 5, 5, 1]
    assert on(10, "FUR-01", "S04") == 1
    assert [round(on(week, "SEA-01", "S08"), 3) for week in (5, 6, 11, 21, 26)] == [1, 1, 1.533, 2.6, 2.6]


def test_a_week_has_its_units_in_sequence_and_its_models():
    units = schedule(STORY, PLANT, 1, 26, following=24)

    assert [unit.sequence for unit in units] == list(range(30001, 30001 + 1320 + 24))
    for week in STORY.weeks:
        models = [unit.model for unit in units if unit.week == week.number]
        assert {model: models.count(model) for model in week.by_model} == dict(week.by_model)
    assert {unit.day.isoformat() for unit in units if unit.week == 22} == {"2026-07-27", "2026-07-28"}
