"""Each report's pictures are sound, say what they show, and draw the numbers of the report."""

from dataclasses import replace

import pytest

from qc.charts.drawing import words
from qc.charts.pages.critical_gaps import gaps_picture
from qc.charts.pages.first_pass import first_pass_pictures
from qc.charts.pages.level import per_unit_picture, units_picture
from qc.charts.pages.origin_table import matrix_picture, passed_picture
from qc.charts.pages.pareto import pareto_picture
from qc.charts.pages.review import review_pictures
from qc.charts.pages.review_tables import first_pass_table, mix_table, orders_table, quality_table
from qc.charts.pages.station import trend_picture, types_table
from tests.charts import made_reports as made
from tests.charts.conftest import lines_of, marks_of, trace_of, values_of


def test_every_picture_of_a_review_is_sound_and_has_its_own_name(sound):
    pictures = review_pictures(made.review()).all
    for picture in pictures:
        sound(picture)

    assert len({picture.id for picture in pictures}) == len(pictures)


def test_the_level_is_drawn_with_the_reports_limits():
    part = made.level().units_with_defect[0]
    picture = units_picture(part)

    assert values_of(lines_of(picture.scene, "limit")[0]) == [point.upper for point in part.chart.points]
    assert picture.table.rows[0].state == "partial"
    signal = next(row for row in picture.table.rows if row.head == "2026-W18")
    assert signal.cells[2] == "above usual"
    assert any("frozen on 2026-06-08" in said for said in picture.method)


def test_a_model_without_a_baseline_is_shown_without_a_verdict(sound):
    picture = units_picture(made.level().units_with_defect[2])
    sound(picture)

    assert picture.cautions == ("No usual range yet: too few whole weeks.",)
    assert {row.cells[2] for row in picture.table.rows} == {"no usual range yet", "not over"}


def test_a_rate_without_an_upper_limit_says_from_where_it_reaches():
    part = made.per_unit()
    week = replace(part.weeks[0], answer=replace(part.weeks[0].answer, low=1.25, high=float("inf")))
    picture = per_unit_picture(replace(part, weeks=(week, *part.weeks[1:])))

    assert "from 1.25" in " ".join(picture.table.rows[-1].cells)
    assert not any("inf" in cell for row in picture.table.rows for cell in row.cells)


def test_plain_and_adjusted_stand_side_by_side():
    part = made.per_unit()
    picture = per_unit_picture(part)
    newest = picture.table.rows[0]

    assert newest.cells[0] == words.rate(part.weeks[-1].defects / part.weeks[-1].units)
    assert newest.cells[4].startswith(f"{words.rate(part.weeks[-1].answer.rate)} (")
    assert newest.cells[3] == "62 on 18"


def test_the_plain_rate_stands_against_its_limits_and_says_why_they_are_of_their_kind(sound):
    part = made.per_unit()
    picture = per_unit_picture(part)
    sound(picture)
    upper = trace_of(picture, "limit")

    assert upper["name"] == "usual range of “plain”"
    assert upper["y"] == [point.upper for point in part.chart.points]
    assert upper["line"]["shape"] == "hvh"
    assert [row.cells[2] for row in picture.table.rows[:2]] == ["not over", "usual"]
    assert picture.method[0] == "Usual range of the plain rate: in each week 5 or more defects are expected."
    assert "3 standard deviations around the pooled baseline" in picture.method[-1]
    assert picture.says.startswith(part.level_sentence)


def test_first_pass_is_never_said_without_its_severity():
    for picture in first_pass_pictures(made.first_pass_both()):
        assert [line.end for look in ("line", "line-second") for line in lines_of(picture.scene, look)] == [
            "no critical or major", "nothing at all"
        ]  # fmt: skip


def test_a_week_with_few_clean_units_is_the_one_marked_for_a_look(sound):
    part = made.first_pass_both().lines[0]
    picture = first_pass_pictures(made.first_pass_both())[0]
    sound(picture)
    rows = {row.head: row for row in picture.table.rows}
    upper, lower = lines_of(picture.scene, "limit")

    assert values_of(lower) == [point.lower for point in part.chart.points]
    assert upper.name.startswith("usual range of “no critical or major”")
    assert rows["2026-W18"].cells[2] == "below usual"
    assert rows["2026-W18"].state == "signal"
    assert rows["2026-W17"].state == ""
    assert picture.method[0] == (
        "Usual range of the share with no critical or major: in each week 5 or more units not first-pass are expected."
    )


@pytest.mark.parametrize(("order", "first"), [("count", "SEA-01"), ("minutes", "PAN-05"), ("severity", "PAN-05")])
def test_the_three_orders_differ_and_keep_the_criticals_apart(order, first):
    picture = pareto_picture(made.pareto_tables("type"), order, "2026-W24", "8 weeks")

    assert picture.scene.y.labels[0].startswith(first)
    assert picture.cautions[0] == "1 critical left out here: the safety list has each by number."


def test_the_weeks_before_are_scaled_to_this_weeks_units():
    picture = pareto_picture(made.pareto_tables("type"), "count", "2026-W24", "8 weeks")

    # 150 defects on 430 units lead one to expect 150 × 54 / 430 on 54 units
    assert trace_of(picture, "tick")["x"][0] == pytest.approx(150 * 54 / 430)


def test_an_origin_that_nobody_named_is_said_in_words():
    picture = pareto_picture(made.pareto_tables("origin"), "count", "2026-W24", "8 weeks")

    assert "not named by anybody" in {row.head for row in picture.table.rows}


def test_confirmed_and_suspected_stand_apart_in_the_matrix():
    picture = matrix_picture(made.origin_table(), "13 weeks")

    assert picture.table.rows[0].cells[:4] == ("3 + 0", "0", "22 + 9", "2 + 0")
    assert picture.figure["data"][0]["z"][0] == [3, 0, 31, 2]
    assert picture.table.rows[-1].head == "Not known or disputed"


def test_a_point_that_nothing_reached_says_so():
    picture = passed_picture(made.origin_table(), "13 weeks")
    row = picture.table.rows[1]

    assert row.cells[-1] == "too little to say"
    assert marks_of(picture.scene, "point")[1].x is None


def test_a_stations_trends_are_sound_and_say_their_basis(sound):
    for basis, said in (("work", "by the day the work was done"), ("found", "by the day the unit was presented")):
        picture = trend_picture("S07", made.trend(basis))
        sound(picture)

        assert said in picture.title
        assert picture.table.rows[0].cells[2] == "not over"
        assert values_of(lines_of(picture.scene, "limit")[0]) == [None, 6.0, 6.0, 6.0, 6.0]


def test_a_type_beyond_its_usual_range_is_marked_and_one_without_a_range_is_not():
    rows = types_table(made.station()).rows

    assert [row.state for row in rows] == ["signal", ""]
    assert rows[1].cells[2] == "too little to say"


def test_fitness_tells_counts_and_what_is_above_the_plants_limit():
    rows = quality_table(made.quality(), "2026-W24").rows

    assert rows[0].cells[0] == "9 of 65"  # what is beyond its limit stands first
    assert rows[0].cells[2] == "beyond the limit (10 %)"
    assert rows[0].state == "signal"
    assert rows[2].cells[:2] == ("2", "–")


def test_a_share_of_what_comes_by_the_phone_has_no_range():
    one = made.quality().lines[1]
    rows = quality_table(replace(made.quality(), lines=(one, replace(one, code="late_synced"))), "2026-W36").rows

    assert [row.cells[1] for row in rows] == ["13.8\xa0% (7.5\xa0% – 24.3\xa0%)", "13.8\xa0%"]


def test_a_question_without_anything_to_judge_is_not_called_as_usual():
    line = replace(made.quality().lines[1], have=0, whole=0, concern=False)
    rows = quality_table(replace(made.quality(), lines=(line,)), "2026-W36").rows

    assert rows[0].cells[2] == "nothing to judge yet"


def test_inspectors_stand_in_code_order_and_are_not_ranked():
    mix = made.quality().inspector_mix[0]

    assert [row.head for row in mix_table(mix, "2026-W24").rows] == ["I1", "I2", "I3"]


def test_first_pass_without_units_gives_the_reason():
    rows = first_pass_table(made.first_pass_both(), "2026-W24", "8 weeks").rows

    assert rows[0].cells[3] == "no unit was first presented"
    assert rows[0].cells[0].startswith("61.1")


def test_three_orders_stand_side_by_side():
    rows = orders_table(made.pareto_tables("type"), "2026-W24").rows

    assert rows[0].cells == ("SEA-01 Roof seam void", "PAN-05 Panel gap", "PAN-05 Panel gap")


def test_units_between_criticals_name_the_critical_and_leave_the_open_gap_hollow(sound):
    picture = gaps_picture(made.gaps())
    sound(picture)
    newest = picture.table.rows[0]

    assert (newest.head, newest.cells[0], newest.cells[2]) == ("so far", "41", "still open")
    assert picture.table.rows[1].cells[3].startswith("PC7130001 GAS-01")
    assert {row.cells[2] for row in picture.table.rows[1:]} == {"usual", "shorter than usual"}
    assert "%" not in picture.svg + str(picture.table)
