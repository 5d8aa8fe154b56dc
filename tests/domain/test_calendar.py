"""Production days, shifts and ISO weeks.

Week dates are checked against the examples of ISO 8601 (from memory; they agree with RFC 3339's reading of it and
with any almanac): 1 January 2005 is 2004-W53-6, 1 January 2007 is 2007-W01-1, 31 December 2008 is 2009-W01-3.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.assets import folder
from qc.domain.plant.calendar import ProductionCalendar, block_of, iso_week, week_start
from qc.domain.plant.plant import Shift
from qc.domain.tables.plant_tables import read_plant

PLANT = read_plant(folder("demo_data") / "plant")
CALENDAR = ProductionCalendar(PLANT)
WEEK = (1, 2, 3, 4, 5)
THREE_SHIFTS = {
    "early": Shift("early", time(6), time(14), WEEK),
    "late": Shift("late", time(14), time(22), WEEK),
    "night": Shift("night", time(22), time(6), (1, 2, 3, 4, 5, 7)),
}
NIGHTS = ProductionCalendar(replace(PLANT, shifts=THREE_SHIFTS))


def utc(year, month, day, hour=0, minute=0):
    return int(datetime(year, month, day, hour, minute, tzinfo=UTC).timestamp() * 1000)


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (date(2005, 1, 1), "2004-W53"),
        (date(2005, 1, 2), "2004-W53"),
        (date(2005, 12, 31), "2005-W52"),
        (date(2007, 1, 1), "2007-W01"),
        (date(2007, 12, 31), "2008-W01"),
        (date(2008, 12, 28), "2008-W52"),
        (date(2008, 12, 29), "2009-W01"),
        (date(2008, 12, 31), "2009-W01"),
        (date(2009, 12, 31), "2009-W53"),
        (date(2010, 1, 3), "2009-W53"),
    ],
)
def test_iso_weeks_are_those_of_the_standard(day, week):
    assert iso_week(day) == week


def test_a_week_starts_on_its_monday():
    assert week_start("2009-W01") == date(2008, 12, 29)
    assert week_start("2026-W10") == date(2026, 3, 2)


@given(st.dates(date(2026, 1, 1), date(2026, 12, 31)), st.integers(0, 40), st.integers(0, 6))
def test_what_is_older_than_so_many_working_days_lies_before_one_day(today, back, days):
    """Weekends, the holidays of the tables and a fortnight that nobody works (1 to 14 August)."""
    away = {date(2026, 8, day) for day in range(1, 15)}
    calendar = ProductionCalendar(replace(PLANT, holidays=frozenset({*PLANT.holidays, *away})))
    found = today - timedelta(days=back)
    worked = [one for n in range(back) if calendar.is_working(one := today - timedelta(days=n))]

    assert calendar.days_worked_since(found, today) == len(worked)
    assert (found < calendar.more_than(days, today)) == (len(worked) > days)


def test_a_plant_that_never_works_has_nothing_older_than_a_year():
    asleep = ProductionCalendar(replace(PLANT, shifts={"none": Shift("none", time(6), time(14), ())}))

    assert asleep.more_than(3, date(2026, 12, 31)) == date(2025, 12, 29)
    assert asleep.days_worked_since(date(2020, 1, 1), date(2026, 12, 31)) == 0


@pytest.mark.parametrize("week", ["2026-W54", "2025-W53", "2026W10", "soon", "2026-W00"])
def test_a_week_that_is_none_is_refused_by_name(week):
    with pytest.raises(ValueError, match=week):
        week_start(week)


@given(st.dates(date(2001, 1, 1), date(2100, 12, 31)))
def test_week_and_start_agree_and_blocks_have_thirteen_weeks(day):
    start = week_start(iso_week(day))
    block = week_start(block_of(iso_week(day)))

    assert (start.isoweekday(), 0 <= (day - start).days < 7) == (1, True)
    assert 0 <= (start - block).days <= 12 * 7
    assert (block - date(2001, 1, 1)).days % (13 * 7) == 0


@pytest.mark.parametrize(
    ("instant", "day", "shift"),
    [
        (utc(2026, 3, 2, 6, 0), date(2026, 3, 2), "early"),
        (utc(2026, 3, 2, 13, 59), date(2026, 3, 2), "early"),
        (utc(2026, 3, 2, 14, 0), date(2026, 3, 2), "late"),
        (utc(2026, 3, 2, 23, 30), date(2026, 3, 2), "late"),  # stayed on after the late shift
        (utc(2026, 3, 3, 5, 59), date(2026, 3, 2), "late"),  # before the next shift begins
        (utc(2026, 3, 6, 15, 0), date(2026, 3, 6), "early"),  # no late shift on Fridays
        (utc(2026, 3, 8, 12, 0), date(2026, 3, 6), "early"),  # a Sunday
        (utc(2026, 4, 6, 9, 0), date(2026, 4, 2), "late"),  # a holiday Monday after a holiday Friday
        # Clocks go forward on 2026-03-29: the early shift begins at 06:00 local, 05:00 UTC from then on.
        (utc(2026, 3, 27, 5, 30), date(2026, 3, 26), "late"),
        (utc(2026, 3, 30, 5, 30), date(2026, 3, 30), "early"),
        (utc(2026, 3, 30, 13, 0), date(2026, 3, 30), "late"),
    ],
)
def test_an_instant_belongs_to_the_shift_that_began_last(instant, day, shift):
    assert CALENDAR.day_and_shift(instant) == (day, shift)


@pytest.mark.parametrize(
    ("instant", "day", "shift"),
    [
        (utc(2026, 3, 2, 22, 0), date(2026, 3, 2), "night"),
        (utc(2026, 3, 3, 0, 0), date(2026, 3, 2), "night"),  # midnight changes nothing
        (utc(2026, 3, 3, 5, 59), date(2026, 3, 2), "night"),
        (utc(2026, 3, 3, 6, 0), date(2026, 3, 3), "early"),
        (utc(2026, 3, 1, 23, 0), date(2026, 3, 1), "night"),  # Sunday night opens the week before
        # The night of the spring change begins 22:00 GMT on no Saturday shift; Sunday's at 22:00 BST is 21:00 UTC.
        (utc(2026, 3, 29, 0, 30), date(2026, 3, 27), "night"),
        (utc(2026, 3, 29, 21, 0), date(2026, 3, 29), "night"),
        (utc(2026, 3, 30, 4, 59), date(2026, 3, 29), "night"),
        (utc(2026, 3, 30, 5, 0), date(2026, 3, 30), "early"),
    ],
)
def test_a_night_shift_belongs_to_the_day_it_began(instant, day, shift):
    assert NIGHTS.day_and_shift(instant) == (day, shift)


def test_a_night_over_the_spring_change_is_seven_hours_and_over_the_autumn_change_nine():
    saturdays = {"night": Shift("night", time(22), time(6), (6,)), "day": Shift("day", time(6), time(22), (7,))}
    calendar = ProductionCalendar(replace(PLANT, shifts=saturdays))

    spring = calendar.instant(date(2026, 3, 29), "day") - calendar.instant(date(2026, 3, 28), "night")
    autumn = calendar.instant(date(2026, 10, 25), "day") - calendar.instant(date(2026, 10, 24), "night")

    assert (spring, autumn) == (7 * 3_600_000, 9 * 3_600_000)


@pytest.mark.parametrize(
    ("day", "station", "worked"),
    [
        (date(2026, 3, 12), "S12", date(2026, 3, 12)),
        (date(2026, 3, 12), "S07", date(2026, 3, 11)),
        (date(2026, 3, 12), "FU1", date(2026, 3, 6)),  # four working days, over a weekend
        (date(2026, 4, 9), "FU1", date(2026, 4, 1)),  # 8, 7 April, then Easter: 2 and 1 April
        (date(2026, 3, 14), "S12", date(2026, 3, 13)),  # a Saturday counts as the Friday
        (date(2026, 3, 12), "FIELD", date(2026, 3, 12)),
    ],
)
def test_work_was_done_its_lead_of_working_days_before(day, station, worked):
    assert CALENDAR.work_day(day, station) == worked


def test_holidays_and_weekends_are_not_worked():
    worked = [CALENDAR.is_working(date(2026, 4, day)) for day in range(1, 8)]

    assert worked == [True, True, False, False, False, False, True]
