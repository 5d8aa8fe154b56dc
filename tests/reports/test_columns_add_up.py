"""Every column of a table sums to its whole, whatever was found in one of its two periods and not in the other.

A property over invented counts; the whole is the sum of what was given.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from record_rows import DEMO_PLANT

from qc.domain.counted.counts import CategoryCounts, StationWeeks
from qc.domain.plant.plant import UNKNOWN
from qc.reports.asking import Asking
from qc.reports.periods import week_of, weeks_before
from qc.reports.week.pareto_tables import ORDERS, OTHERS, pareto_tables

WEEK = week_of(date(2026, 6, 1), date(2026, 7, 1))
WINDOW = weeks_before(WEEK, 8)
LABELS = {"type": tuple(DEMO_PLANT.types)[:24], "origin": (*tuple(DEMO_PLANT.stations)[:23], UNKNOWN)}


class Given:
    """Answers category_counts with what a test drew: (critical, major, minor) by label, for the week and before."""

    def __init__(self, week, before):
        self.week, self.before = week, before

    def first_week(self):
        """Return the Monday from which the record's first eight weeks are the weeks before: those are usual."""
        return WINDOW.first

    def all_station_weeks(self, slice_, basis, now_ms):
        """Return nothing of any station: what is usual of an origin is not asked here."""
        return {}

    def category_counts(self, slice_, what):
        drawn = self.week if slice_.first == WEEK.first else self.before
        kept = [[n if one in slice_.severities else 0 for one, n in zip(SEVERITIES, row, strict=True)] for row in drawn]
        counts = tuple(map(sum, kept))
        minutes = tuple(7 * place * count for place, count in enumerate(counts, 1))
        return CategoryCounts(what, LABELS[what], counts, minutes, tuple(map(tuple, kept)), 60, "units")


SEVERITIES = ("critical", "major", "minor")
few = st.lists(st.tuples(st.integers(0, 1), st.integers(0, 3), st.integers(0, 9)), min_size=24, max_size=24)
gaps = st.lists(st.booleans(), min_size=24, max_size=24)


def thinned(rows, kept):
    return [row if keep else (0, 0, 0) for row, keep in zip(rows, kept, strict=True)]


@pytest.mark.parametrize("what", ["type", "origin"])
@given(week=few, in_week=gaps, before=few, in_before=gaps)
def test_each_column_of_a_pareto_sums_to_its_whole(what, week, in_week, before, in_before):
    week, before = thinned(week, in_week), thinned(before, in_before)
    tables = pareto_tables(Asking(counts=Given(week, before), plant=DEMO_PLANT, now_ms=0), what, WEEK, WINDOW)

    for order in ORDERS:
        rows = tables.by(order).rows
        if not rows:  # nothing of this weight was found in the week: there is no order to show
            continue
        assert sum(row.count for row in rows) == tables.total == sum(major + minor for _, major, minor in week)
        assert sum(row.major for row in rows) == sum(major for _, major, _ in week)
        assert sum(row.minor for row in rows) == sum(minor for _, _, minor in week)
        assert sum(row.critical for row in rows) == tables.criticals == sum(critical for critical, _, _ in week)
        assert sum(row.window_count for row in rows) == sum(major + minor for _, major, minor in before)
        assert sum(row.share for row in rows) == pytest.approx(1)
        assert rows[-1].cumulative == pytest.approx(1)
        weighed = sum(major if order == "severity" else major + minor for _, major, minor in before)
        assert sum(row.window_share for row in rows) == pytest.approx(1 if weighed else 0)


def test_the_others_hold_what_was_found_before_and_not_this_week():
    """Twenty types found before, each ten times; this week one of them: the others' usual range is that of nineteen."""
    week = [(0, 0, 5)] + [(0, 0, 0)] * 23
    before = [(0, 0, 10)] * 20 + [(0, 0, 0)] * 4
    first, others = (
        pareto_tables(Asking(counts=Given(week, before), plant=DEMO_PLANT, now_ms=0), "type", WEEK, WINDOW)
        .by("count")
        .rows
    )

    assert (first.window_count, others.window_count) == (10, 190)
    assert (others.code, others.count, others.name) == (OTHERS, 0, "19 others")
    assert others.usual_low > 0
    assert others.beyond_usual


def test_the_vital_few_make_the_share_that_the_plant_says():
    week = [(0, 0, 50), (0, 0, 30), (0, 0, 20)] + [(0, 0, 0)] * 21
    few = [
        pareto_tables(
            Asking(counts=Given(week, week), plant=replace(DEMO_PLANT, vital_few=share), now_ms=0), "type", WEEK, WINDOW
        )
        .by("count")
        .vital.labels
        for share in (0.5, 0.8, 0.9)
    ]

    assert [len(labels) for labels in few] == [1, 2, 3]


class OnTwoLines(Given):
    """The first origin has 60 units of its own in a week; of its defects of the week, some are on units of no build."""

    def __init__(self, week, before, elsewhere):
        super().__init__(week, before)
        self.elsewhere = elsewhere

    def all_station_weeks(self, slice_, basis, now_ms):
        """Return five defects a week of own units before; of the week only the units and what is of others."""
        mondays = [slice_.first + timedelta(days=n) for n in range(0, (slice_.end - slice_.first).days, 7)]
        names = tuple(week_of(monday, slice_.end).code for monday in mondays)
        each = {"exposed": 60, "confirmed": 5, "suspected": 0, "defectives": 5, "elsewhere": self.elsewhere}
        columns = {name: (count,) * len(names) for name, count in each.items()}
        station = LABELS["origin"][0]
        told = {"station": station, "basis": basis, "weeks": names, "partial": False, "denominator": "units"}
        return {station: StationWeeks(**told, **columns)}


@pytest.mark.parametrize(("elsewhere", "beyond"), [(0, True), (35, False)])
def test_what_is_usual_of_a_station_is_held_against_its_own_units_defects_alone(elsewhere, beyond):
    week = [(0, 0, 40), *[(0, 0, 0)] * 23]
    counts = OnTwoLines(week, [(0, 0, 40), *[(0, 0, 0)] * 23], elsewhere)
    (row,) = pareto_tables(Asking(counts=counts, plant=DEMO_PLANT, now_ms=0), "origin", WEEK, WINDOW).by("count").rows

    assert (row.count, row.usual_high < 40) == (40, True)
    assert row.beyond_usual is beyond
