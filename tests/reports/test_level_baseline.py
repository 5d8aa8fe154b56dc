"""A baseline that a manager sets, and nine in a row on one side. Rows invented; expected values by hand.

Nine in a row on one side of the centre line: Nelson (1984), Journal of Quality Technology 16, 237-239, test 2.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.charts.pages.level import per_unit_picture, units_picture
from qc.domain.counted.counts import WeekCounts
from qc.domain.plant.calendar import iso_week
from qc.reports.chosen_baseline import ChosenBaseline
from qc.reports.periods import Period
from qc.reports.week.chosen_chart import rate_chart, share_chart
from qc.reports.week.level import UnitsWithDefect
from qc.reports.week.level_runs import fresh_weeks, level_cautions, level_runs
from qc.reports.week.review import weekly_review
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from tests.charts import made_reports as made
from tests.charts.conftest import marks_of

MONDAY = date(2026, 3, 2)
WEEKS = tuple(f"2026-W{n}" for n in range(10, 40))
UNITS = 10


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def monday(week):
    return MONDAY + timedelta(weeks=week)


def lived(record, majors):
    """Write ten units a week, so many of them with one major each; one model in each week."""
    record.connection.execute("BEGIN")
    for week, bad in enumerate(majors):
        day = (monday(week) + timedelta(days=2)).isoformat()
        for n in range(UNITS):
            record.seen_through(f"U{week}-{n}", day, clean=(int(n >= bad), int(n >= bad)))
            if n < bad:
                record.defect(f"{week}-{n}", f"U{week}-{n}", day, inspection=f"U{week}-{n}-D01", severity="major")
    record.connection.execute("COMMIT")


def level(record, week, **asked):
    now = noon((monday(week) + timedelta(days=9)).isoformat())
    return weekly_review(Counts(record), record.plant, monday(week), now, **asked).level


CHOSEN = ChosenBaseline(monday(2), monday(11), ("2026-W14",), "flood in the hall")


def test_the_limits_rest_on_the_weeks_chosen_without_those_left_out(record):
    lived(record, [9, 9, *(5,) * 2, 10, *(5,) * 9])
    usual, chosen = level(record, 13), level(record, 13, chosen=CHOSEN)

    for part in (chosen.units_with_defect[0], chosen.defects_per_unit):
        assert part.chart.baseline.centre == 0.5
        assert part.chart.baseline.labels == WEEKS[2:12]
        assert [point.excluded for point in part.chart.points if point.excluded] == ["flood in the hall"]
        assert part.chart.points[4].label == "2026-W14"
    assert usual.units_with_defect[0].chart.baseline.centre > 0.5
    assert chosen.defects_per_unit.standard == (90, 0, 0)
    assert "flood in the hall" in chosen.units_with_defect[0].chart.baseline.name


def test_a_week_of_its_own_baseline_is_said_to_be_judged_too_kindly():
    chart = chart_of((5,) * 22)

    assert level_cautions(chart, (), "2026-W29")[0].startswith("2026-W29 is one of the baseline's own weeks")
    assert level_cautions(chart, (), "2026-W30") == ()


def test_a_week_left_out_is_crossed_out_on_both_charts_and_its_reason_stands_in_the_table():
    chart = chart_of((5, 9, *(5,) * 20), left_out={"2026-W11": "flood in the hall"})
    counts = WeekCounts("line", WEEKS[:22], (UNITS,) * 22, (5,) * 22, (5,) * 22, False, "units")
    shares = units_picture(
        UnitsWithDefect(
            model="", model_name="All", what="any defect", counts=counts, chart=chart, sentence="Five.", why="Exact."
        )
    )
    rates = per_unit_picture(replace(made.per_unit(), chart=made.u_part(left_out={"2026-W11": "flood in the hall"})))

    for picture in (shares, rates):
        (row,) = (row for row in picture.table.rows if row.head == "2026-W11")
        assert any(cell.endswith("left out of the limits: flood in the hall") for cell in row.cells)
        assert picture.svg.count('class="excluded"') == 1
        assert [mark.x for mark in marks_of(picture.scene, "excluded")] == ["2026-W11"]
        assert "excluded" in {key.mark for key in picture.keys}


def test_a_baseline_of_too_few_weeks_draws_no_limits(record):
    lived(record, (5,) * 12)
    answer = level(record, 11, chosen=ChosenBaseline(monday(0), monday(7), ("2026-W12",), "start of the line"))

    assert isinstance(answer.units_with_defect[0].chart, TooLittle)
    assert (answer.units_with_defect[0].chart.have, answer.units_with_defect[0].chart.need) == (7, 8)


@pytest.mark.parametrize(
    ("first", "last", "left_out", "why", "said"),
    [
        (5, 2, (), "x", "last must be"),
        (0, 104, (), "x", "last must be"),
        (0, 9, ("2026-W40",), "x", "left_out must be weeks of 2026-W10 to 2026-W19"),
        (0, 9, (), "  ", "why must not be empty"),
    ],
)
def test_a_baseline_that_cannot_be_is_refused(first, last, left_out, why, said):
    with pytest.raises(ValueError, match=said):
        ChosenBaseline(monday(first), monday(last), left_out, why)


# Twenty weeks at five in ten, then nine at six: each inside the limits, all on one side.
SHIFT = (*(4, 6) * 10, *(6,) * 9)


def test_no_run_reaches_across_a_change_of_criteria(record):
    """Nine on one side are told; with criteria changed in their midst, what stands on both sides is not one thing."""
    lived(record, SHIFT)
    told, parted = (level(record, 28, criteria=days).units_with_defect[0] for days in ((), (monday(23),)))

    assert told.chart.signals == ()
    assert told.sentence.endswith("Nine weeks in a row above the centre line, 2026-W30 to 2026-W38.")
    assert parted.runs == ()
    assert parted.cautions[0].startswith("Criteria changed in 2026-W33: no run is counted across that")


def test_a_run_that_began_before_the_weeks_shown_is_told(record):
    """Nine on one side of which the chart of four weeks shows the last four: the record has the others."""
    lived(record, SHIFT)
    now = noon((monday(28) + timedelta(days=9)).isoformat())
    few, every = (
        weekly_review(Counts(record), record.plant, monday(28), now, history_weeks=weeks) for weeks in (4, 26)
    )
    told = "Nine weeks in a row {} the centre line, 2026-W30 to 2026-W38."

    assert len(few.level.units_with_defect[0].chart.points) == 4
    for one in (few, every):
        last = [part.runs[-1].label for part in (*one.level.units_with_defect[:2], one.level.defects_per_unit)]
        assert last == ["2026-W38"] * 3
        assert one.level.units_with_defect[0].sentence.endswith(told.format("above"))
        assert one.first_pass.lines[0].sentence.endswith(told.format("below"))
    assert [run.label for run in few.level.units_with_defect[0].runs] == ["2026-W37", "2026-W38"]


def chart_of(found, *, partial=False, left_out=None):
    base = Period(monday(0), monday(20), "first 20 weeks", False)
    counts = WeekCounts("line", WEEKS[: len(found)], (UNITS,) * len(found), found, found, partial, "units")
    before = WeekCounts("line", WEEKS[:20], (UNITS,) * 20, found[:20], found[:20], False, "units")
    return share_chart(base, counts, before, left_out or {}).chart


def test_the_ninth_and_each_later_week_on_one_side_completes_a_run():
    assert [run.label for run in level_runs(chart_of(SHIFT), ())] == ["2026-W37", "2026-W38"]  # W29 has six too


def test_the_running_week_completes_no_run():
    assert level_runs(chart_of(SHIFT[:28], partial=True), ()) == ()


def few_chart(found, units):
    base = Period(monday(0), monday(20), "first 20 weeks", False)
    weeks = tuple(iso_week(monday(week)) for week in range(len(found)))
    with_one = tuple(min(units, count) for count in found)
    counts = WeekCounts("line", weeks, (units,) * len(found), with_one, found, False, "units")
    before = WeekCounts("line", weeks[:20], (units,) * 20, with_one[:20], found[:20], False, "units")
    return share_chart(base, counts, before, {}).chart, rate_chart(base, counts, before, {}).chart


def test_weeks_that_mostly_have_none_make_no_run():
    """One defect in ten weeks on five units: nine weeks of none come twice in five (e to the -.9), and say nothing."""
    for chart in few_chart((*(1, 0, 0, 0, 0, 0, 0, 0, 0, 0) * 2, *(0,) * 12), 5):
        assert [point.z < 0 for point in chart.points[20:]] == [True] * 12
        assert level_runs(chart, ()) == ()


def test_weeks_in_which_nearly_every_unit_has_one_make_no_run():
    """49 of 50 units of the baseline's weeks: a week of five has all five nine times in ten."""
    share, _ = few_chart((*(5, 5, 5, 5, 4, 5, 5, 5, 5, 5) * 2, *(5,) * 12), 5)

    assert [point.z > 0 for point in share.points[20:]] == [True] * 12
    assert level_runs(share, ()) == ()


def test_a_fall_to_none_where_one_a_week_was_usual_still_makes_a_run():
    """.37 to the ninth: once in 8,000."""
    for chart in few_chart((*(1, 1, 0, 2, 1) * 4, *(0,) * 9), 5):
        assert [run.side for run in level_runs(chart, ())] == ["low"]


def test_a_run_is_marked_on_the_chart_and_said_in_the_table():
    chart = chart_of(SHIFT)
    counts = WeekCounts("line", WEEKS[:29], (UNITS,) * 29, SHIFT, SHIFT, False, "units")
    part = UnitsWithDefect(
        model="",
        model_name="All",
        what="any defect",
        counts=counts,
        chart=chart,
        sentence="Six.",
        why="Exact.",
        runs=level_runs(chart, ()),
    )
    picture = units_picture(part)

    assert [row.head for row in picture.table.rows if row.state == "signal"] == ["2026-W38", "2026-W37"]
    assert picture.table.rows[0].cells[2] == "usual; nine or more in a row above the centre"
    assert [mark.x for mark in marks_of(picture.scene, "signal")] == ["2026-W37", "2026-W38"]


def test_criteria_that_change_within_a_week_leave_it_standing_alone():
    assert fresh_weeks((date(2026, 3, 4), date(2026, 3, 16))) == ("2026-W10", "2026-W11", "2026-W12")
