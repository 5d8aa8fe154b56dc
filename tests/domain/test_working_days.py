"""Each station's own days: shifts by station and weekday, shutdowns as ranges, nights that belong to the day they end.

Counts of working days are held against numpy's business days (`numpy.busday_count`, `numpy.busday_offset` with a
weekmask and holidays), which share nothing with the code. To which day a night shift belongs is the plant's own rule.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.plant.plant import Shift, Shutdown
from qc.domain.tables.plant_tables import read_plant

OTHER = read_plant(Path(__file__).parents[1] / "plants" / "other")
WEEK = (1, 2, 3, 4, 5)
DAY = Shift("day", time(6), time(14), WEEK)
WEEKDAYS = st.sets(st.integers(1, 7), min_size=1)
DAYS = st.dates(date(2026, 1, 1), date(2027, 12, 31))
RANGES = st.lists(st.tuples(DAYS, st.integers(0, 40), st.booleans()), max_size=6)


def plant(shifts=(DAY,), own=(), holidays=(), shutdowns=(), lead=0):
    """The second plant with B10 working in its own shifts, all of them where none is named."""
    station = replace(OTHER.stations["B10"], shifts=tuple(own), lead_days=lead)
    return replace(
        OTHER,
        shifts={one.id: one for one in shifts},
        stations={**OTHER.stations, "B10": station},
        holidays=frozenset(holidays),
        shutdowns=tuple(shutdowns),
    )


def at(*when):
    """Milliseconds of a local time of the second plant, whose clocks are UTC+1 in winter."""
    return int(datetime(*when, tzinfo=UTC).timestamp() * 1000) - 3_600_000


def mask(weekdays):
    """numpy's weekmask, Monday first, of ISO weekdays."""
    return [day in weekdays for day in range(1, 8)]


def counted(found, today, weekdays, closed):
    """How many days of found < day <= today numpy counts as worked."""
    first, end = found + timedelta(1), today + timedelta(1)
    return int(np.busday_count(first, end, weekmask=mask(weekdays), holidays=sorted(closed)))


@given(WEEKDAYS, WEEKDAYS, st.sets(DAYS, max_size=20), RANGES, DAYS, st.integers(0, 500), st.integers(0, 12))
def test_days_worked_are_those_that_numpy_counts(of_plant, own, holidays, ranges, today, back, lead):
    shifts = (replace(DAY, days=tuple(sorted(of_plant))), Shift("own", time(7), time(12), tuple(sorted(own))))
    closing = [Shutdown(str(n), a, a + timedelta(b), ("B10",) if c else ()) for n, (a, b, c) in enumerate(ranges)]
    calendar = ProductionCalendar(plant(shifts, ["own"], holidays, closing, lead))
    everybody = {*holidays, *(day for one in closing if not one.stations for day in one.days())}
    here = {*everybody, *(day for one in closing for day in one.days())}
    found = today - timedelta(back)

    told = [calendar.days_worked_since(found, today, station) for station in ("", "VSD", "B10")]
    plants = counted(found, today, of_plant | own, everybody)
    assert told == [plants, plants, counted(found, today, own, here)]

    done = np.busday_offset(today, -lead, roll="backward", weekmask=mask(own), holidays=sorted(here))
    assert calendar.work_day(today, "B10") == done.astype(object)
    if back < 300 and counted(today - timedelta(300), today, own, here) > 12:
        long = [found < calendar.more_than(days, today, "B10") for days in range(12)]
        assert long == [told[2] > days for days in range(12)]


def test_from_friday_to_monday_a_weekend_and_a_stations_shutdown_age_nothing():
    """A defect of Friday 2 January, on Monday 19: 11 days of the plant, 6 of B10, which is shut the week before."""
    shut = [Shutdown("Umbau", date(2026, 1, 12), date(2026, 1, 16), ("B10",))]
    calendar = ProductionCalendar(plant(shutdowns=shut))
    friday, monday = date(2026, 1, 2), date(2026, 1, 19)

    assert calendar.days_worked_since(friday, date(2026, 1, 5)) == 1
    assert [calendar.days_worked_since(friday, monday, station) for station in ("", "B10")] == [11, 6]
    assert calendar.work_day(date(2026, 1, 15), "B10") == date(2026, 1, 9)


NIGHT = Shift("night", time(22), time(6), (7, 1, 2, 3, 4))


@pytest.mark.parametrize(
    ("belongs_to", "sunday", "friday"),
    [("begin", date(2026, 1, 11), date(2026, 1, 15)), ("end", date(2026, 1, 12), date(2026, 1, 16))],
)
def test_a_sunday_night_belongs_to_the_day_that_the_plant_says(belongs_to, sunday, friday):
    calendar = ProductionCalendar(plant((DAY, replace(NIGHT, belongs_to=belongs_to))))
    nights = [at(2026, 1, 11, 22), at(2026, 1, 12, 0), at(2026, 1, 12, 5, 59)]

    assert [calendar.day_and_shift(ms) for ms in nights] == [(sunday, "night")] * 3
    assert calendar.day_and_shift(at(2026, 1, 12, 6)) == (date(2026, 1, 12), "day")
    assert calendar.day_and_shift(at(2026, 1, 16, 3)) == (friday, "night")
    assert calendar.instant(sunday, "night") == nights[0]
    assert calendar.is_working(date(2026, 1, 11)) == (belongs_to == "begin")


def test_a_night_that_ends_on_a_holiday_and_belongs_to_it_does_not_work():
    nights = (DAY, replace(NIGHT, belongs_to="end"))
    calendar = ProductionCalendar(plant(nights, holidays=[date(2026, 1, 12)]))

    assert calendar.day_and_shift(at(2026, 1, 11, 23)) == (date(2026, 1, 9), "day")
    assert calendar.day_and_shift(at(2026, 1, 12, 22)) == (date(2026, 1, 13), "night")


def test_a_shift_has_other_hours_on_a_weekday():
    friday = replace(DAY, other_hours=((5, time(5), time(10)),))
    late = Shift("late", time(10), time(18), WEEK)
    calendar = ProductionCalendar(plant((friday, late)))

    assert calendar.day_and_shift(at(2026, 1, 15, 5, 30)) == (date(2026, 1, 14), "late")
    assert calendar.day_and_shift(at(2026, 1, 16, 5, 30)) == (date(2026, 1, 16), "day")
    assert calendar.instant(date(2026, 1, 16), "day") == at(2026, 1, 16, 5)


@pytest.mark.parametrize(
    ("when", "everywhere", "at_b10"),
    [
        ((2026, 1, 15, 7, 30), (date(2026, 1, 15), "early"), (date(2026, 1, 15), "early")),  # its own has not begun
        ((2026, 1, 15, 15), (date(2026, 1, 15), "late"), (date(2026, 1, 15), "frame")),  # runs over the change
        ((2026, 1, 15, 17), (date(2026, 1, 15), "late"), (date(2026, 1, 15), "frame")),  # stayed on
        ((2026, 1, 16, 9), (date(2026, 1, 16), "early"), (date(2026, 1, 16), "early")),  # came in on its free Friday
        ((2026, 1, 12, 9), (date(2026, 1, 12), "frame"), (date(2026, 1, 12), "frame")),  # its shutdown: as the plant's
    ],
)
def test_an_instant_at_a_station_belongs_to_its_own_shift_on_the_plants_day(when, everywhere, at_b10):
    shifts = (
        Shift("early", time(6), time(14), WEEK),
        Shift("late", time(14), time(22), WEEK),
        Shift("frame", time(8), time(16), (1, 2, 3, 4)),
    )
    shut = [Shutdown("Umbau", date(2026, 1, 12), date(2026, 1, 12), ("B10",))]
    calendar = ProductionCalendar(plant(shifts, ["frame"], shutdowns=shut))

    assert [calendar.day_and_shift(at(*when), station) for station in ("", "VSD", "B10")] == [
        everywhere,
        everywhere,
        at_b10,
    ]
