"""Counts that scatter beyond chance, taken as causes: outside checks where every cause makes just so many defects.

Then defects over the scatter are the causes themselves, whatever the plant: what is said of doubled counts must be what
is said of the counts, and the laws are numpy's and scipy's. Invented counts.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import nbinom

from qc.domain.counted.counts import CellWeeks
from qc.reports.periods import Period
from qc.reports.watch import watching
from qc.reports.watch.causes import causes_of, in_causes, rate_ratio
from qc.reports.watch.usual import UsualBase, UsualWeeks, usual_on
from qc.reports.watch.watch_rules import alarms
from qc.reports.watch.watched_series import series_of
from qc.reports.watch.work_stretch import work_stretch
from qc.stats.change.stratified_ratio import exact_rate_ratio, strata
from qc.stats.series import rates_of

WEEKS = tuple(f"2026-W{week:02d}" for week in range(10, 36))
GROUPS, BASELINE = {"A-1": "A", "B-1": "B"}, (0, 8)
# What each rule is for, up and down, beside weeks in which nothing changes.
RATES = {
    "S1": np.concatenate([np.full(12, 9.0), np.full(14, 17.0)]),
    "S2": np.concatenate([np.full(12, 20.0), np.full(14, 8.0)]),
    "S3": np.concatenate([np.full(20, 3.0), [11.0], np.full(5, 3.0)]),
    "S4": np.concatenate([np.full(8, 9.0), np.linspace(9.0, 19.0, 18)]),
    "S5": np.concatenate([np.full(20, 30.0), [2.0], np.full(5, 30.0)]),
    "S6": np.full(26, 12.0),
}


def table(seed, each, weeks):
    """Poisson causes of 60 units a week, each of which makes ``each`` defects."""
    source = np.random.default_rng(seed)
    causes = {(station, "A-1"): source.poisson(rates) for station, rates in RATES.items()}
    rows = tuple(tuple((int(each * count),) for count in counts[:weeks]) for counts in causes.values())
    return CellWeeks(WEEKS[:weeks], ("M",), ((60,),) * weeks, tuple(causes), rows, False)


def watched(of, scatter, monkeypatch):
    """Return the watch of a table whose scatter is known, and each alarm of each rule on the way to it."""
    raised = []

    def noted(series, direction, *others):
        found = alarms(series, direction, *others)
        raised.extend((series.station, direction, one) for one in found)
        return found

    monkeypatch.setattr(watching, "scatter_beyond_chance", lambda *_: scatter)
    monkeypatch.setattr(watching, "alarms", noted)
    return watching.watch(of, GROUPS, BASELINE, {}, tuple(RATES)), raised


def told(answer):
    """What a watch says, but for the defects themselves."""
    return [
        (
            *(one.series.station, one.direction, one.rule, one.first, one.last, one.listed, one.since, one.begun),
            *(one.over, *map(pytest.approx, (one.by_chance, one.ratio.ratio, one.ratio.low, one.ratio.high))),
        )
        for lead, others in answer.moved
        for one in (lead, *others)
    ]


def test_causes_of_two_defects_each_are_watched_as_the_causes_are(monkeypatch):
    """Outside check: the watch of the causes themselves, which knows nothing of scatter, says the same of each."""
    rules = set()
    for seed in range(2):
        for weeks in (16, 21, 22, 26):
            plain, alarmed = watched(table(seed, 1, weeks), 0.0, monkeypatch)
            double, alarmed_too = watched(table(seed, 2, weeks), 2.0, monkeypatch)

            assert told(double) == told(plain)
            assert [2 * lead.observed for lead, _ in plain.moved] == [lead.observed for lead, _ in double.moved]
            assert (double.slow, double.designed) == (plain.slow, pytest.approx(plain.designed))
            for (*at, one), (*at_too, other) in zip(alarmed, alarmed_too, strict=True):
                assert at_too == at
                assert other == replace(one, by_chance=pytest.approx(one.by_chance))
            rules |= {(one.rule, direction) for _, direction, one in alarmed}

    assert rules == {("cusum", "up"), ("cusum", "down"), ("limit", "up"), ("limit", "down"), ("drift", "up")}


def test_without_a_scatter_every_number_is_as_it_was():
    (series, *_), _ = series_of(table(1, 1, 26), GROUPS, BASELINE, {}, tuple(RATES))
    two = strata(rates_of([9], [8.0], ["all"]), rates_of([30], [12.5], ["all"]))

    assert in_causes(series, 0.0) is series
    assert causes_of([3, 0, 7], 0.0) == (3, 0, 7)
    assert replace(rate_ratio((9, 8.0), (30, 12.5), 0.95, 0.0), labels=("all",)) == exact_rate_ratio(two, 0.95)


@given(counts=st.lists(st.integers(0, 40), min_size=1, max_size=30), scatter=st.floats(1.01, 9), at=st.integers(0, 30))
def test_no_sum_of_weeks_from_the_first_on_is_off_by_more_than_half_a_cause(counts, scatter, at):
    causes = causes_of(counts, scatter)

    assert all(one >= 0 for one in causes)
    assert all(count or not one for count, one in zip(counts, causes, strict=True))
    assert abs(sum(causes[:at]) - sum(counts[:at]) / scatter) <= 0.5 + 1e-9


def test_what_is_expected_adds_up_to_the_baselines_causes():
    (series, *_), _ = series_of(table(1, 1, 26), GROUPS, BASELINE, {}, tuple(RATES))
    causes = in_causes(series, 1.7)

    assert sum(causes.defects[:8]) == causes.baseline == round(series.baseline / 1.7)
    assert sum(causes.expected[:8]) == pytest.approx(causes.baseline)
    assert in_causes(series, 10_000.0).baseline == 1


def test_a_ratio_is_of_the_defects_and_its_range_of_their_causes():
    """Outside check: of 40 defects where 20 were expected, two a cause, the range is that of 20 where 10 were."""
    ratio = rate_ratio((60, 60.0), (40, 20.0), 0.95, 2.0)
    causes = exact_rate_ratio(strata(rates_of([30], [30.0], ["all"]), rates_of([20], [10.0], ["all"])), 0.95)

    assert (ratio.low, ratio.high) == pytest.approx((causes.low, causes.high))
    assert (ratio.ratio, ratio.dispersion) == (2.0, 2.0)


def test_the_weeks_of_work_are_those_of_the_causes():
    causes = np.random.default_rng(2).poisson([4] * 12 + [10] * 6 + [4] * 8).tolist()
    double = [2 * one for one in causes]
    made = [(week, at) for at, week in enumerate(WEEKS[12:18])]
    plain = work_stretch(WEEKS, causes, [60] * 26, made, 0.0)

    assert plain is not None
    assert work_stretch(WEEKS, double, [60] * 26, made, 2.0) == plain
    assert work_stretch(WEEKS, double, [60] * 26, made, 0.0).may_begin != plain.may_begin


EIGHT = UsualWeeks(
    Period(date(2026, 3, 2), date(2026, 4, 27), "8 weeks", False),
    tuple(date.fromordinal(date(2026, 3, 2).toordinal() + 7 * at) for at in range(8)),
)


def usual(defects, scatter, units=60):
    return usual_on(UsualBase(replace(EIGHT, scatter=scatter), defects, 8 * 60), units)


@pytest.mark.parametrize(("defects", "each"), [(96, 2), (6, 2), (0, 2), (300, 3)])
def test_a_usual_range_of_causes_is_that_of_their_own_counts(defects, each):
    """Outside check: scipy's negative binomial, the law of a week's causes after those of eight weeks (Jeffreys)."""
    law = nbinom(defects / each + 0.5, 8 / 9)
    found = usual(defects, float(each))

    assert (found.low, found.high) == (each * law.ppf(0.025), each * law.ppf(0.975))
    assert found.expected == pytest.approx(each * law.mean())


def test_a_usual_range_holds_as_often_as_it_says_where_counts_scatter():
    """Outside check: numpy's negative binomial counts with twice Poisson's variance, twelve a week."""
    weeks = np.random.default_rng(5).negative_binomial(12, 0.5, (2_000, 9))
    held = {
        scatter: np.mean([usual(int(one[:8].sum()), scatter).holds(int(one[8])) for one in weeks])
        for scatter in (0.0, 2.0)
    }

    assert held[2.0] > 0.935  # 0.95 stated; three standard errors of 2,000 are 0.015
    assert held[0.0] < 0.88
