"""Stations in a funnel against their own past. Invented rows; expected values by hand, exact tails from scipy.

The limits themselves are checked against Spiegelhalter's published funnels in tests/reference; here it is checked that
the report asks for the right thing: the own past by model, criticals and unknown origins out, little exposure said.
"""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon
from scipy.stats import norm, poisson

from qc.charts.pages.funnel import funnel_picture
from qc.reports.asking import Asking
from qc.reports.periods import week_of, weeks_up_to
from qc.reports.stations.funnel import StationFunnel, station_funnel
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from tests.charts.conftest import marks_of

MONDAY = date(2026, 3, 2)
PAST, NOW = range(8), range(8, 12)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def fill(record, weeks, made, models=("T36",) * 20, **more):
    """Write weeks of units; made: defects by station on each week's units, one after the other."""
    for week in weeks:
        day = (MONDAY + timedelta(weeks=week, days=2)).isoformat()
        for n, model in enumerate(models):
            record.seen_through(f"U{week}-{n}", day, model=model)
        for station, count in made.items():
            for n in range(count):
                place = n % len(models)
                unit = f"U{week}-{place}"
                told = {"confirmed": station} if n % 2 else {"suspected": station}
                record.defect(
                    f"{station}-{week}-{n}", unit, day, inspection=f"{unit}-D01", model=models[place], **told, **more
                )


def funnel(record, weeks=4):
    week = week_of(MONDAY + timedelta(weeks=11), MONDAY + timedelta(weeks=12))
    asked = Asking(counts=Counts(record), plant=record.plant, now_ms=noon((MONDAY + timedelta(weeks=12)).isoformat()))
    return station_funnel(asked, weeks_up_to(week, weeks))


STEADY = {"S03": 5, "S04": 8, "S05": 4, "S06": 6, "S07": 10}


def standing(answer):
    return {one.station: one for one in answer.stations}


def test_a_station_that_makes_what_it_always_made_is_usual_however_much_that_is(record):
    fill(record, [*PAST, *NOW], STEADY)
    answer = funnel(record)

    assert isinstance(answer, StationFunnel)
    assert {one.standing for one in answer.stations} == {"usual range"}
    assert standing(answer)["S07"].expected == pytest.approx(40)
    assert standing(answer)["S07"].ratio == pytest.approx(1)
    assert answer.sentence.startswith("No station made more than its own past.")
    assert answer.named == ()


def test_a_station_that_makes_three_times_as_much_stands_out_and_is_named(record):
    fill(record, PAST, STEADY)
    fill(record, NOW, {**STEADY, "S05": 12})
    answer = funnel(record)
    one = standing(answer)["S05"]

    assert (one.confirmed, one.suspected, one.units) == (24, 24, 80)
    assert one.ratio == pytest.approx(3)
    assert one.exact[2] == pytest.approx(poisson.ppf(0.975, 16) / 16, abs=1 / 16)
    assert one.standing in ("high", "very high")
    assert answer.named == ("S05",)
    assert "S05" in answer.sentence
    assert one.furthest > 0.9
    assert sum(each.furthest for each in answer.stations) == pytest.approx(1, abs=1e-6)
    assert 1 < one.shrunken < 3


def test_the_limits_allow_for_a_past_that_is_chance_too(record):
    """By hand: 8 weeks of 5 a week expect 20 in 4, with a variance of 20 · (1 + 4 / 8) for the count on them."""
    fill(record, [*PAST, *NOW], STEADY)
    one = standing(funnel(record))["S03"]

    assert one.expected == pytest.approx(20)
    assert one.wide[2] == pytest.approx(1 + norm.ppf(0.975) * (30**0.5 / 20))


def test_a_station_that_makes_fewer_is_told_as_fewer(record):
    fill(record, PAST, STEADY)
    fill(record, NOW, {**STEADY, "S07": 1})

    assert "Fewer: S07" in funnel(record).sentence


def test_two_defects_where_one_is_usual_are_too_little_for_a_verdict(record):
    fill(record, PAST, STEADY)
    fill(record, PAST[:4], {"S08": 1})
    fill(record, NOW, STEADY)
    fill(record, NOW[:1], {**STEADY, "S08": 12})
    answer = funnel(record)

    assert standing(answer)["S08"].expected == pytest.approx(2)
    assert standing(answer)["S08"].standing == "little exposure"
    assert any("Little exposure, no verdict" in line and "S08" in line for line in answer.notes)


def test_a_change_of_mix_is_expected_and_no_station_is_charged_with_it(record):
    # on a long model S07 always makes one a unit, on a short one none; then only long ones are built
    mixed = ("T36", "H62") * 10
    for weeks, models in ((PAST, mixed), (NOW, ("H62",) * 20)):
        fill(record, weeks, {"S03": 6, "S04": 6}, models)
        for week in weeks:
            day = (MONDAY + timedelta(weeks=week, days=2)).isoformat()
            for n, model in enumerate(models):
                if model == "H62":
                    unit = f"U{week}-{n}"
                    record.defect(f"m{unit}", unit, day, inspection=f"{unit}-D01", model=model, confirmed="S07")
    one = standing(funnel(record))["S07"]

    assert (one.defects, one.expected) == (80, pytest.approx(80))


def test_criticals_and_unknown_origins_are_charged_to_nobody(record):
    fill(record, [*PAST, *NOW], STEADY)
    day = (MONDAY + timedelta(weeks=11, days=2)).isoformat()
    record.defect("c", "U11-1", day, inspection="U11-1-D01", severity="critical", confirmed="S07")
    record.defect("u", "U11-1", day, inspection="U11-1-D01")
    record.defect("d", "U11-1", day, inspection="U11-1-D01", suspected="S07", origin_state="disputed")
    answer = funnel(record)

    assert standing(answer)["S07"].defects == 40
    assert answer.unknown == 2


def test_a_station_without_a_defect_before_has_nothing_to_stand_beside(record):
    fill(record, PAST, STEADY)
    fill(record, NOW, {**STEADY, "S09": 2})
    answer = funnel(record)

    assert ("S09", 8) in answer.no_past
    assert any("S09 (8 now)" in line for line in answer.notes)


def test_a_young_record_says_what_is_missing(record):
    fill(record, range(9, 12), STEADY)
    answer = funnel(record, weeks=2)

    assert isinstance(answer, TooLittle)
    assert "needs 8 weeks" in answer.reason


def test_the_picture_keeps_the_table_order_and_marks_more_and_fewer_apart(record):
    fill(record, PAST, STEADY)
    fill(record, NOW, {**STEADY, "S05": 12, "S07": 1})
    picture = funnel_picture(funnel(record))

    assert [row.head[:3] for row in picture.table.rows] == sorted(STEADY)
    assert {row.head[:3]: row.state for row in picture.table.rows}["S05"] == "signal"
    assert {row.head[:3]: row.state for row in picture.table.rows}["S07"] == "low"
    words = {
        look: [mark.word for mark in marks_of(picture.scene, look)] for look in ("point", "signal", "point-second")
    }
    assert words == {
        "point": [""] * 3,
        "signal": ["S05"],
        "point-second": ["S07"],
    }  # what is beyond a limit has its code
