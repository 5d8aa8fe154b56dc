"""Units between criticals on rows that a reader can count: five units a working day, invented.

Limits against scipy.stats.betanbinom, the reference library: good units before one find whose chance has a beta law.
"""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon
from scipy.stats import betanbinom

from qc.reports.week.critical_gaps import OPEN, TAIL
from qc.reports.week.review import weekly_review
from qc.stats.answers import TooLittle
from qc.store.counts import Counts

MONDAY = date(2026, 3, 2)
A_DAY = 5


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def lived(record, weeks, criticals):
    """Write five units on each working day, and a critical on the first unit of each day named (day of the record)."""
    record.connection.execute("BEGIN")  # one commit for all rows, not one a row
    for day in range(7 * weeks):
        if day % 7 < 5:
            for n in range(A_DAY):
                record.seen_through(f"U{day}-{n}", on(day))
    for nth, day in enumerate(criticals):
        record.defect(f"c{nth}", f"U{day}-0", on(day), "T01", type_="GAS-01", severity="critical")
    record.connection.execute("COMMIT")


def on(day):
    return (MONDAY + timedelta(days=day)).isoformat()


def gaps_of(record, week, weeks=26):
    day = MONDAY + timedelta(weeks=week)
    review = weekly_review(Counts(record), record.plant, day, noon(on(7 * week + 9)), history_weeks=weeks)
    return review.safety.gaps


EVERY_WEEK = range(0, 70, 7)  # ten Mondays: 25 units between, nine gaps


def test_gaps_stand_against_limits_that_allow_for_how_few_they_are(record):
    lived(record, 12, [*EVERY_WEEK, 70, 71, 72])
    gaps = gaps_of(record, 10)
    points = gaps.chart.points

    assert [int(point.events) for point in points] == [25] * 10 + [5, 5, 10]
    assert points[0].upper == betanbinom.isf(TAIL, 1, 9, 225)
    # five in a row within two days: not one of the gaps is short enough where 25 are usual
    assert points[0].lower is None or points[0].lower <= 1
    assert points[-1].label == OPEN
    assert points[-1].state == "partial"


def test_a_gap_too_short_for_chance_is_called_short(record):
    """With 50 units between criticals, two on one day are rarer than one gap in forty."""
    lived(record, 19, [*range(0, 126, 14), 126, 126])
    gaps = gaps_of(record, 18)
    short = next(point for point in gaps.chart.points if point.label == on(126) + " (2)")

    assert short.lower == betanbinom.ppf(TAIL, 1, 8, 400) == 1
    assert (short.events, short.state) == (0, "signal_low")
    assert gaps.sentence.startswith("The last gap was no unit: shorter than usual")


def test_too_few_gaps_say_how_many_are_needed(record):
    lived(record, 6, [0, 7, 14])
    answer = gaps_of(record, 5)

    assert isinstance(answer, TooLittle)
    assert (answer.have, answer.need) == (2, 8)
    assert "needs 8 gaps before this week, the record has 2" in answer.reason


def test_the_weeks_own_criticals_are_not_in_their_baseline(record):
    lived(record, 12, [*EVERY_WEEK, 70, 71, 72])

    assert gaps_of(record, 10).chart.baseline.labels == tuple(on(day) for day in (*EVERY_WEEK[1:],))


def test_the_baseline_stays_where_the_charts_begin_later(record):
    """26 weeks shown or 4: the first gaps of the record judge both."""
    lived(record, 14, [*EVERY_WEEK, 70, 77, 84])

    assert gaps_of(record, 13).chart.baseline == gaps_of(record, 13, weeks=4).chart.baseline


def test_an_empty_record_says_what_is_missing(record):
    assert gaps_of(record, 3).have == 0


def safety_of(record, week, weeks):
    day = MONDAY + timedelta(weeks=week)
    return weekly_review(Counts(record), record.plant, day, noon(on(7 * week + 9)), history_weeks=weeks).safety


def test_the_first_of_the_weeks_shown_is_not_the_first_on_record(record):
    lived(record, 6, [7, 21])
    (one,) = safety_of(record, 3, weeks=2).week

    assert one.units_since_last == 50  # ten working days of five units
    (first,) = safety_of(record, 1, weeks=1).week
    assert first.units_since_last is None


def test_the_last_critical_is_known_where_the_weeks_shown_have_none(record):
    lived(record, 6, [4])
    safety = safety_of(record, 3, weeks=2)

    assert (safety.week, safety.before) == ((), ())
    assert safety.units_since == 75  # the three weeks after the Friday
    assert safety.sentence == "No critical is recorded in 2026-W13; 75 units presented since the last one."


def test_what_the_record_has_before_the_weeks_shown_is_counted_and_dated(record):
    lived(record, 8, [7, 14, 35, 36, 42])
    few, every, first = safety_of(record, 6, weeks=2), safety_of(record, 6, weeks=26), safety_of(record, 1, weeks=1)

    assert few.before_sentence == (
        "4 criticals before 2026-W16 on record, since 2026-03-09; those of the weeks shown, since 2026-W15, are "
        "listed: 2"
    )
    assert every.before_sentence == (
        "4 criticals before 2026-W16 on record, since 2026-03-09, each listed, latest first"
    )
    assert (len(few.before), len(every.before), first.before_sentence) == (2, 4, "")


def test_two_alike_ring_the_bell_though_one_stands_before_the_weeks_shown(record):
    lived(record, 6, [11, 21])
    shown = safety_of(record, 3, weeks=1)

    assert len(shown.bells) == 1
    assert "2 within 14 days" in shown.bells[0]
    assert shown.before == ()
