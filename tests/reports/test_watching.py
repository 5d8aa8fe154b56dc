"""The watch on tables that can be counted by hand: what moved, since when, and what is not watched."""

from dataclasses import replace
from statistics import variance

import numpy as np
import pytest

from qc.domain.counted.counts import CellWeeks
from qc.domain.words.speaking import spoken
from qc.reports.watch.signal_words import signal_sentence
from qc.reports.watch.watch_rules import drifting
from qc.reports.watch.watched_scatter import scatter_words
from qc.reports.watch.watched_series import series_of
from qc.reports.watch.watching import FALSE_ALARMS_A_WEEK, watch
from qc.web.languages import tongue_of

GROUPS = {"A-1": "A", "A-2": "A", "B-1": "B"}
ORIGINS = ("S1", "S2")
WEEKS = tuple(f"2026-W{week:02d}" for week in range(10, 30))
BASELINE = (0, 8)


def table(cells, units=None, partial=False):
    """A table of 20 weeks; cells: (station, type) -> counts by week of one model, or of two as pairs."""
    units = units or [(50,)] * len(WEEKS)
    rows = {cell: [one if isinstance(one, tuple) else (one,) for one in counts] for cell, counts in cells.items()}
    models = ("M", "L")[: len(units[0])]
    cells = tuple(sorted(rows))
    return CellWeeks(WEEKS, models, tuple(units), cells, tuple(tuple(rows[cell]) for cell in cells), partial)


def steady(mean=8, weeks=20):
    return [mean + (-1) ** week * (week % 3) for week in range(weeks)]


def asked(of, criteria=None):
    return watch(of, GROUPS, BASELINE, criteria or {}, ORIGINS)


def test_steady_counts_raise_nothing():
    assert asked(table({("S1", "A-1"): steady(), ("S2", "B-1"): steady(12)})).moved == ()


def test_a_doubled_rate_is_named_at_its_station_with_a_range_of_weeks_and_an_interval():
    counts = [*steady()[:14], 18, 17, 20, 16, 19, 18]
    ((lead, _),) = asked(table({("S1", "A-1"): counts, ("S2", "B-1"): steady(12)})).moved

    assert (lead.series.station, lead.series.types, lead.direction) == ("S1", ("A-1",), "up")
    assert lead.since[0] <= 14 <= lead.since[1]
    assert lead.begun == 14
    assert lead.over is None
    assert lead.observed == 108
    assert not isinstance(lead.ratio, str)
    assert lead.ratio.low < 108 / 48 * 1.1 < lead.ratio.high
    tried = len(counts) - lead.series.end  # weeks that it could have begun in: the range is for all of them
    assert lead.ratio.level == pytest.approx(1 - 0.05 / tried)
    assert tried > 1
    assert lead.by_chance < 0.02


def test_a_rate_that_halves_is_named_as_down_once_the_next_week_is_over():
    counts = [20] * 12 + [8] * 8
    ((lead, _),) = asked(table({("S1", "A-1"): counts})).moved

    assert lead.direction == "down"
    assert lead.begun == 12


def test_a_fall_is_new_in_the_list_of_the_week_that_first_has_it():
    counts = [20] * 18 + [3, 20]
    ((lead, _),) = (answer := asked(table({("S1", "A-1"): counts}))).moved

    assert (lead.direction, lead.first) == ("down", 18)
    assert lead.listed == answer.judged == 19


def test_a_slow_rise_that_no_single_week_shows_is_named_as_a_drift():
    """From 8 a week to 14 in eleven weeks; the sums and limits of steps alone stay quiet."""
    counts = [8, 7, 9, 8, 8, 9, 7, 8, 8, 9, 8, 10, 9, 10, 11, 11, 12, 12, 13, 14]
    others = {("S2", "B-1"): steady(12), ("S3", "B-1"): steady(12), ("S4", "B-1"): steady(12)}
    of = table({("S1", "A-1"): counts, **others})
    ((lead, _),) = watch(of, GROUPS, BASELINE, {}, ("S1", "S2", "S3", "S4")).moved

    assert (lead.series.station, lead.direction, lead.rule) == ("S1", "up", "drift")
    assert "rose little by little" in signal_sentence(lead, WEEKS, "Trim", "Type A-1")


def test_a_slow_rise_of_large_units_only_is_no_drift():
    units = [(40, 10 + week) for week in range(20)]
    counts = [(4, (10 + week) * 4 // 10) for week in range(20)]

    assert asked(table({("S1", "A-1"): counts}, units=units)).moved == ()


def test_a_drift_is_looked_for_where_it_would_show_and_in_no_sum_twice():
    cells = {("S1", "A-1"): steady(), ("S1", "A-2"): steady(5), ("S2", "B-1"): [3] * 20}
    series, _ = series_of(table(cells), GROUPS, BASELINE, {}, ORIGINS)

    assert {(one.station, one.label) for one in drifting(series)} == {("S1", "A")}


def test_a_fall_that_lasts_is_surer_week_by_week_though_its_sum_starts_again():
    counts = [20] * 12 + [9] * 8
    sure = []
    for weeks in (16, 17, 18):
        of = table({("S1", "A-1"): counts})
        short = replace(of, weeks=of.weeks[:weeks], units=of.units[:weeks], defects=(of.defects[0][:weeks],))
        ((lead, _),) = asked(short).moved
        sure.append(lead.by_chance)

    assert sure == sorted(sure, reverse=True)
    assert sure[0] > sure[1] > sure[2]


def test_a_batch_that_came_and_went_has_an_end():
    counts = [*steady()[:14], 30, 33, 28, *steady()[:3]]
    ((lead, _),) = asked(table({("S1", "A-1"): counts})).moved

    assert (lead.begun, lead.over) == (14, 16)


def test_a_type_and_its_group_at_one_station_are_one_cause():
    up = [*steady()[:14], 24, 25, 23, 26, 24, 25]
    ((lead, others),) = asked(table({("S1", "A-1"): up, ("S1", "A-2"): steady()})).moved

    assert lead.series.types == ("A-1",)
    assert [other.series.label for other in others] == ["A"]


def test_the_current_week_is_left_out_until_it_is_over():
    counts = [*steady()[:19], 60]

    assert asked(table({("S1", "A-1"): counts}, partial=True)).moved == ()
    assert len(asked(table({("S1", "A-1"): counts})).moved) == 1


def test_a_mix_of_more_large_units_is_no_signal():
    """Large units hold 0.4 defects, small ones 0.1: from week 10 on large ones are three of four, not one."""
    units = [(40, 10)] * 10 + [(10, 40)] * 10
    counts = [(m // 10, large * 4 // 10) for m, large in units]

    assert asked(table({("S1", "A-1"): counts}, units=units)).moved == ()
    plain = [sum(row) for row in counts]
    assert len(asked(table({("S1", "A-1"): plain})).moved) == 1


def test_no_rule_runs_across_a_change_of_criteria():
    counts = [*steady()[:14], 18, 17, 20, 16, 19, 18]
    answer = asked(table({("S1", "A-1"): counts, ("S2", "B-1"): steady(12)}), {"A-1": 14})

    assert answer.moved == ()
    assert [(one.station, one.types) for one in answer.left_out] == [("S1", ("A-1",))]
    assert "2026-W24" in answer.left_out[0].reason


def test_a_watch_that_is_kept_says_what_it_leaves_out_in_each_readers_language():
    of = table({("S1", "A-1"): steady(), ("S2", "B-1"): steady(12)})
    with spoken(tongue_of("de")):
        kept = asked(of, {"A-1": 14})
        assert kept.left_out[0].reason == "Kriterien in KW\u00a024/2026 geändert: nach 8 ganzen Wochen wieder überwacht"

    assert asked(of, {"A-1": 14}) is kept
    assert kept.left_out[0].reason == "criteria changed in 2026-W24: watched again after 8 whole weeks"


def test_a_rule_starts_again_eight_weeks_after_a_change_of_criteria():
    counts = [8] * 4 + [16] * 16
    assert asked(table({("S1", "A-1"): counts}), {"A-1": 4}).moved == ()


def test_rare_types_are_pooled_and_nothing_is_lost():
    cells = {("S1", "A-1"): steady(), ("S1", "A-2"): [1] * 20, ("S1", "B-1"): [0, 1] * 10}
    series, left = series_of(table(cells), GROUPS, BASELINE, {}, ORIGINS)

    assert {type_ for one in (*series, *left) for type_ in one.types} == {"A-1", "A-2", "B-1"}


def test_a_group_is_summed_over_the_types_that_are_mostly_the_stations_own():
    cells = {("S1", "A-1"): [3] * 20, ("S1", "A-2"): [1] * 20, ("S2", "A-2"): [5] * 20, ("S1", "A-3"): [1] * 20}
    series, _ = series_of(table(cells), {**GROUPS, "A-3": "A"}, BASELINE, {}, ORIGINS)

    assert {(one.label, one.types) for one in series if one.station == "S1"} == {
        ("A", ("A-1", "A-3")),
        ("rest", ("A-2",)),
    }


def test_a_group_of_which_too_little_is_its_own_is_summed_whole():
    cells = {("S1", "A-1"): [1] * 20, ("S1", "A-2"): [2] * 20, ("S2", "A-2"): [5] * 20}
    series, _ = series_of(table(cells), GROUPS, BASELINE, {}, ORIGINS)

    assert {(one.label, one.types) for one in series if one.station == "S1"} == {("A", ("A-1", "A-2"))}


def scattered(per_week, kinds, seed=3):
    """Counts of 12 cells whose variance is so many times their mean; invented, drawn."""
    source, cells = np.random.default_rng(seed), [(station, type_) for station in ORIGINS for type_ in GROUPS]
    law = (lambda: source.poisson(per_week, 20)) if kinds == 1 else None
    drawn_ = law or (lambda: source.negative_binomial(per_week / (kinds - 1), 1 / kinds, 20))
    return table({cell: drawn_().tolist() for cell in cells})


def test_counts_that_scatter_more_than_the_limits_take_for_granted_are_told():
    """By hand: two sums a station (both types of A, B-1), each over eight weeks, chi-squares and degrees added up."""
    of = scattered(9, 3)
    counts = {cell: [week[0] for week in rows[:8]] for cell, rows in zip(of.cells, of.defects, strict=True)}
    sums = [
        [sum(week) for week in zip(*(counts[station, one] for one in types), strict=True)]
        for station in ORIGINS
        for types in (("A-1", "A-2"), ("B-1",))
    ]
    by_hand = sum(variance(one) / (sum(one) / 8) for one in sums) / len(sums)

    assert asked(of).scatter == pytest.approx(by_hand)
    assert by_hand > 2
    assert f"these counts scatter {by_hand:.1f} times what chance gives" in scatter_words(by_hand)


def test_counts_that_scatter_as_chance_has_it_are_not_told():
    told = [asked(scattered(9, 1, seed)).scatter for seed in range(100)]

    assert sum(one > 0 for one in told) <= 5  # of 100 at .01: six or more by chance once in 2,000
    assert scatter_words(0.0) == ""


def test_a_change_of_the_mix_is_no_scatter():
    units = [(50, 10) if week % 2 else (10, 50) for week in range(20)]
    rows = [(small // 10, large) for small, large in units]

    assert asked(table({("S1", "A-1"): rows, ("S2", "A-1"): rows}, units)).scatter == 0


def test_expected_counts_add_up_to_the_baselines_own():
    (one,) = series_of(table({("S1", "A-1"): steady()}), GROUPS, BASELINE, {}, ORIGINS)[0]

    assert sum(one.expected[:8]) == pytest.approx(one.baseline)


def test_the_designed_rate_is_no_more_than_the_stated_one():
    answer = asked(table({("S1", "A-1"): steady(), ("S2", "B-1"): steady(12)}))

    assert 0.3 * FALSE_ALARMS_A_WEEK < answer.designed <= FALSE_ALARMS_A_WEEK


def test_a_week_without_units_moves_nothing():
    units = [(50,)] * 15 + [(0,)] + [(50,)] * 4
    counts = [*steady()[:15], 0, *steady()[:4]]

    assert asked(replace(table({("S1", "A-1"): counts}), units=tuple(units))).moved == ()
