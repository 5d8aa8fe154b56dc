"""A unit counts once every end point of its build has presented it, and only then.

The plant of these tests tests its units on Friday and walks round them on Monday: over the weekend they rest between
points. Invented rows, counted by hand; the rule itself is common practice, no source (it is said in
qc.domain.counted.counts).
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from record_rows import DEMO_PLANT, RowRecord, noon

from qc.domain.counted.counts import Slice
from qc.store.counts import LINE, Counts
from qc.store.tables.summaries import SummaryKeeper

MONDAY = date(2026, 3, 2)
FRIDAY, NEXT = "2026-03-06", "2026-03-09"
LATER = noon("2026-03-18")
MODELS = ("T36", "M50", "H62")
BEFORE, RESTING = 6, 4  # units of the first week; units that rest over its weekend


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def week(n=0):
    first = MONDAY + timedelta(weeks=n)
    return Slice(first, first + timedelta(weeks=1))


def enter_friday(record):
    """Six units are presented in the week; four more pass the test bays on Friday, with a defect each at T01."""
    for n in range(BEFORE):
        record.seen_through(f"U{n}", "2026-03-04", model=MODELS[n % 3])
        record.defect(f"d{n}", f"U{n}", "2026-03-04", inspection=f"U{n}-D01", model=MODELS[n % 3], suspected="S07")
    for n in range(RESTING):
        unit, model = f"R{n}", MODELS[n % 3]
        record.unit(unit, model)
        record.looked(f"{unit}-T01", unit, FRIDAY, "T01", clean=(0, 0), shift="late")
        record.looked(f"{unit}-T02", unit, FRIDAY, "T02", at=1, shift="late")
        record.passed(unit, "S05", "2026-03-05")
        record.defect(f"r{n}", unit, FRIDAY, "T01", f"{unit}-T01", model=model, severity="major", suspected="S05")


def enter_monday(record):
    for n in range(RESTING):
        record.looked(f"R{n}-D01", f"R{n}", NEXT, "D01", clean=(1, 0))
        record.defect(f"m{n}", f"R{n}", NEXT, inspection=f"R{n}-D01", model=MODELS[n % 3], suspected="S07")


def told(counts, slice_):
    """Return units and defects of the slice as each kind of count tells them: they must all be of the same units."""
    line, by_model = counts.week_counts(slice_, LINE, LATER), counts.week_counts_by_model(slice_, LINE, LATER)
    types, origins = counts.category_counts(slice_, "type"), counts.category_counts(slice_, "origin")
    cells, table = counts.cell_weeks(slice_, LATER), counts.origin_detection(slice_)
    stations = counts.all_station_weeks(slice_, "found", LATER)
    learned = counts.origin_learning(slice_)
    units = {
        "line": sum(line.inspected),
        "by model": sum(sum(one.inspected) for one in by_model.values()),
        "first-pass": sum(counts.first_pass_weeks(slice_, LINE, LATER).presented),
        "seen": sum(counts.seen_units(slice_).values()),
        "types": types.inspected,
        "origins": origins.inspected,
        "station": sum(stations["S07"].exposed),
        "cells": sum(map(sum, cells.units)),
        "learned": learned.units,
        "passed through": counts.passed_through(slice_, "S12").units,
    }
    defects = {
        "line": sum(line.defects),
        "by model": sum(sum(one.defects) for one in by_model.values()),
        "types": sum(types.counts),
        "origins": sum(origins.counts),
        "table": sum(map(sum, table.suspected)),
        "stations": sum(sum(one.suspected) for one in stations.values()),
        "cells": sum(sum(map(sum, rows)) for rows in cells.defects),
        "learned": sum(one.count for one in learned.open),
        "passed through": sum(one.suspected for one in counts.passed_through(slice_, "S12").cells),
        "worked": sum(len(counts.worked_defects(slice_, one, ("EXT-01",))) for one in ("S05", "S07")),
    }
    return units, defects


def test_units_that_rest_over_the_weekend_count_on_monday_and_not_before(record):
    enter_friday(record)
    record.connection.execute("UPDATE defect SET work_day = '2026-03-03'")
    counts = Counts(record)
    units, defects = told(counts, week())
    assert units == dict.fromkeys(units, BEFORE)
    assert defects == dict.fromkeys(defects, BEFORE)

    enter_monday(record)
    record.connection.execute("UPDATE defect SET work_day = '2026-03-03'")
    units, defects = told(counts, week())
    assert units == dict.fromkeys(units, BEFORE)
    assert defects == dict.fromkeys(defects, BEFORE)
    units, defects = told(counts, week(1))
    assert units == dict.fromkeys(units, RESTING)
    assert defects == dict.fromkeys(defects, 2 * RESTING)


def test_by_the_day_of_the_work_they_count_in_the_week_of_the_work_once_presented(record):
    enter_friday(record)
    counts = Counts(record)
    before = counts.station_weeks(week(), "S05", "work", LATER)
    assert (sum(before.exposed), sum(before.suspected)) == (BEFORE, 0)

    enter_monday(record)
    after = counts.station_weeks(week(), "S05", "work", LATER)
    assert (sum(after.exposed), sum(after.suspected)) == (BEFORE + RESTING, RESTING)


def test_each_test_bay_counts_whom_it_has_presented(record):
    enter_friday(record)
    counts = Counts(record)

    assert counts.week_counts(week(), "T01", LATER).inspected == (BEFORE + RESTING,)
    assert counts.week_counts(week(), "D01", LATER).inspected == (BEFORE,)


def test_the_shift_is_that_of_the_last_end_point(record):
    enter_friday(record)
    enter_monday(record)
    early = replace(week(1), shifts=("early",))

    assert Counts(record).week_counts(early, LINE, LATER).inspected == (RESTING,)


def test_units_under_way_are_told_by_number_and_where(record):
    enter_friday(record)
    counts = Counts(record)
    under_way = counts.under_way(date(2026, 3, 8))

    assert [one.shop_number for one in under_way] == [f"S-R{n}" for n in range(RESTING)]
    assert {(one.presented, one.awaited, one.defects, one.since) for one in under_way} == {
        (("T01", "T02"), ("D01",), 1, date(2026, 3, 6))
    }
    assert [one.unit for one in counts.under_way(date(2026, 3, 8), ("M50",))] == ["R1"]
    assert counts.under_way(date(2026, 3, 5)) == ()


def test_who_was_under_way_at_a_weeks_end_stays_told_after_the_unit_counts(record):
    enter_friday(record)
    counts = Counts(record)
    sunday = counts.under_way(date(2026, 3, 8))
    enter_monday(record)

    assert counts.under_way(date(2026, 3, 8)) == sunday
    assert counts.under_way(date(2026, 3, 9)) == ()


def test_a_unit_that_no_end_point_of_its_build_lacks_counts(record):
    """An end point that only one model has, and one that began later, are asked of nobody else."""
    stations = {
        **DEMO_PLANT.stations,
        "T02": replace(DEMO_PLANT.stations["T02"], models=("M50",)),
        "T01": replace(DEMO_PLANT.stations["T01"], first_day=date(2026, 3, 4)),
    }
    record.plant = replace(DEMO_PLANT, stations=stations, revision="another")
    for unit, model, planned in (("A", "T36", "2026-03-03"), ("B", "T36", "2026-03-04"), ("C", "M50", "2026-03-03")):
        record.unit(unit, model, planned)
        record.looked(f"{unit}-D01", unit, "2026-03-05", "D01")
    counts = Counts(record)

    assert counts.week_counts(week(), LINE, LATER).inspected == (1,)
    assert {one.unit: one.awaited for one in counts.under_way(date(2026, 3, 8))} == {"B": ("T01",), "C": ("T02",)}


def test_a_unit_whose_only_presentation_is_taken_back_is_no_longer_under_way(record):
    record.unit("U")
    record.looked("U-T01", "U", FRIDAY, "T01")
    counts = Counts(record)
    assert len(counts.under_way(date(2026, 3, 8))) == 1
    record.looked("U-T01", "U", FRIDAY, "T01", ended=False)  # the journal, derived anew, no longer ends it
    assert counts.under_way(date(2026, 3, 8)) == ()

    record.write(SummaryKeeper(record.plant).rebuild)
    assert record.connection.execute("SELECT count(*) FROM presented_unit").fetchone() == (0,)
