"""What is usual, by which weeks, and which of them a signal takes out. Invented rows; expected values by hand."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.reports.asking import Asking
from qc.reports.periods import week_of
from qc.reports.signal_weeks import SignalWeeks
from qc.reports.stations.station_trend import station_trend
from qc.reports.watch.signals import signals_report
from qc.reports.watch.usual import usual_categories, usual_on, usual_weeks
from qc.reports.week.review import weekly_review
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from qc.store.reading.reads import Reads

MONDAY = date(2026, 3, 2)
WEEK = timedelta(weeks=1)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def fill(record, weeks, defects, units=10):
    """Write weeks of units; the first of them with one PAN-06 of S07 each."""

    def work(_):
        for week in range(weeks):
            day = (MONDAY + week * WEEK + timedelta(days=2)).isoformat()
            for n in range(units):
                unit = f"U{week}-{n}"
                record.seen_through(unit, day)
                if n < defects(week):
                    record.defect(f"{unit}-d", unit, day, inspection=f"{unit}-D01", confirmed="S07", type_="PAN-06")

    record.write(work)


def asking(record, weeks, *signals):
    now = noon((MONDAY + weeks * WEEK + timedelta(days=1)).isoformat())
    return Asking(counts=Counts(record), plant=record.plant, now_ms=now, signals=signals), week_of(
        MONDAY + (weeks - 1) * WEEK, date.max
    )


def signal(first, last, station="S07", types=("PAN-06",)):
    return SignalWeeks(station, types, MONDAY + first * WEEK, MONDAY + last * WEEK)


def test_station_and_pareto_give_one_answer_by_the_same_weeks(record):
    fill(record, 10, lambda week: 3)
    ask, week = asking(record, 10)
    (of_station,) = {dot.usual for dot in station_trend(ask, "S07", "found", week, week).dots}
    of_origin = usual_on(usual_categories(ask, "origin", week).base(["S07"]), 10)
    of_type = usual_on(usual_categories(ask, "type", week).base(["PAN-06"]), 10)

    assert of_station == of_origin == of_type
    assert (of_type.units, of_type.rests_on) == (80, "the 8 weeks 2026-W10 to 2026-W17")


def test_the_week_judged_is_none_of_the_weeks_before_it(record):
    """Eight weeks are seven before the last: "needs 8, the record has 8" said nothing to anybody."""
    fill(record, 9, lambda week: 3)
    ask, week = asking(record, 8)

    answer = usual_weeks(ask, week, ())
    assert isinstance(answer, TooLittle)
    assert answer.reason.endswith("needs 8 whole weeks before the week judged, the record has 7")
    assert usual_weeks(*asking(record, 9), ()).words == "the 8 weeks 2026-W10 to 2026-W17"


def test_the_weeks_before_are_none_from_before_the_record(record):
    """A record that begins in week 10 has one week before its second, not eight."""
    fill(record, 4, lambda week: 3)
    named = [
        weekly_review(ask.counts, record.plant, week.first, ask.now_ms).window.name
        for ask, week in (asking(record, weeks) for weeks in (2, 4))
    ]

    assert named == ["week 2026-W10", "3 weeks 2026-W10 to 2026-W12"]


def test_weeks_of_a_signal_are_left_out_for_its_station_and_its_types(record):
    fill(record, 10, lambda week: 9 if week in (2, 3) else 1)
    ask, week = asking(record, 10, signal(2, 3))
    origins, types = usual_categories(ask, "origin", week), usual_categories(ask, "type", week)

    for base in (origins.base(["S07"]), types.base(["PAN-06"])):
        assert (base.defects, base.units) == (6, 60)
        assert base.weeks.words == "6 of the 8 weeks 2026-W10 to 2026-W17 (2 with a signal left out)"
    assert origins.base(["S08"]).units == types.base(["SEA-01"]).units == 80
    assert origins.base(["S07", "S08"]).units == 60  # together: what is out for one is out for both


def test_by_the_day_of_the_work_a_signals_weeks_lie_earlier(record):
    # RP1 works 9 working days ahead: what came to daylight on Monday 2026-04-13 was made on Friday 2026-03-27, as
    # 2026-04-03 and 2026-04-06 are holidays. So weeks 3 to 6 of the first eight are out by work, week 6 by seen day.
    fill(record, 10, lambda week: 1)
    ask, week = asking(record, 10, signal(6, 6, station="RP1"))

    assert station_trend(ask, "RP1", "work", week, week).dots[-1].usual.weeks == 4
    assert station_trend(ask, "RP1", "found", week, week).dots[-1].usual.weeks == 7


@pytest.mark.parametrize(
    ("weeks_on", "days_on", "told"),
    [
        (-1, 0, ""),  # before the baseline: all of it is by the new criteria
        (0, 0, ""),  # from its first day on
        (3, 2, "2026-03-25"),  # within it
        (8, 0, "2026-04-27"),  # between it and the week
        (9, 6, "2026-05-10"),  # on the last day of the week
        (10, 0, ""),  # after the week
    ],
)
def test_a_range_that_rests_on_other_criteria_says_so(record, weeks_on, days_on, told):
    fill(record, 10, lambda week: 3)
    ask, week = asking(record, 10)
    ask = replace(ask, criteria=(MONDAY + weeks_on * WEEK + timedelta(days=days_on),))
    words = f", and criteria changed since ({told})" if told else ""
    of_type = usual_on(usual_categories(ask, "type", week).base(["PAN-06"]), 10)
    of_origin = usual_on(usual_categories(ask, "origin", week).base(["S07"]), 10)
    (of_station,) = {dot.usual for dot in station_trend(ask, "S07", "found", week, week).dots}

    assert [one.rests_on.removeprefix("the 8 weeks 2026-W10 to 2026-W17") for one in (of_type, of_origin)] == [
        words
    ] * 2
    assert of_station == of_origin
    assert usual_categories(ask, "type", week).words.endswith(words or "2026-W17")


def test_too_few_weeks_left_are_no_measure_of_what_is_usual(record):
    fill(record, 10, lambda week: 1)
    ask, week = asking(record, 10)
    left = usual_weeks(ask, week, [signal(3, 9)])

    assert isinstance(left, TooLittle)
    assert left.reason.startswith("a signal stood in 5 of the 8 weeks 2026-W10 to 2026-W17")
    assert len(usual_weeks(ask, week, [signal(4, 9)]).mondays) == 4


def test_a_batch_that_came_and_went_is_out_of_the_renewed_weeks(record):
    fill(record, 36, lambda week: 18 if week in (27, 28, 29) else 5, units=20)
    reads = Reads(record.folder, record.plant)
    now = noon((MONDAY + 36 * WEEK + timedelta(days=1)).isoformat())
    signals = signals_report(Counts(record), reads, record.plant, MONDAY + 35 * WEEK, now)
    reads.close()
    ask, week = asking(record, 36, *signals.weeks)
    base = usual_categories(ask, "type", week).base(["PAN-06"])

    assert signals.baseline.name == "13 weeks 2026-W31 to 2026-W43"
    assert (len(base.weeks.mondays), base.defects) == (10, 50)
