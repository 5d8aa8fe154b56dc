"""The small drawings beside the week's few lines: one slot a week, the newest at the right, heights as the values."""

import re
from types import SimpleNamespace

import pytest

from qc.charts.drawing.sparkline import HEIGHT, PAD, SLOT, WIDTH, SparkWeek, spark_bars, spark_line
from qc.charts.pages.glance import glance_sparks
from qc.reports.week.week_parts import WeekParts
from tests.charts import made_reports as made

BOX = re.compile(r"M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h")


def boxes(drawing, class_):
    (path,) = re.findall(rf'class="{class_}" d="([^"]+)"', drawing) or [""]
    return [tuple(map(float, found)) for found in BOX.findall(path)]


def test_a_bar_is_as_high_as_its_value_and_its_part_is_solid():
    drawing = spark_bars([SparkWeek(4, part=1), SparkWeek(0), SparkWeek(8, part=8)])
    light, solid = boxes(drawing, "bar-light"), boxes(drawing, "bar")

    assert [box[3] for box in light] == [(HEIGHT - 2 * PAD) / 2, HEIGHT - 2 * PAD]
    assert [box[3] for box in solid] == [(HEIGHT - 2 * PAD) / 8, HEIGHT - 2 * PAD]
    assert [box[0] for box in light] == [WIDTH - 3 * SLOT + 1, WIDTH - SLOT + 1]


def test_a_week_that_is_not_over_is_hollow_and_a_signal_is_a_diamond():
    bars = spark_bars([SparkWeek(4, part=4), SparkWeek(2, part=2, partial=True)])
    line = spark_line([SparkWeek(1.0), SparkWeek(9.0, 1.0, 5.0, signal=True), SparkWeek(2.0, partial=True)])

    assert len(boxes(bars, "bar-hollow")) == 2
    assert 'class="signal"' in line
    assert 'class="hollow"' in line
    assert 'class="point"' not in line


def test_a_line_uses_its_whole_height_and_breaks_where_there_is_nothing():
    line = spark_line([SparkWeek(2.0), SparkWeek(3.0), SparkWeek(None), SparkWeek(4.0), SparkWeek(2.5)])
    heights = [float(y) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", line)]

    assert line.count('class="line"') == 2
    assert (min(heights), max(heights)) == (PAD, HEIGHT - PAD)


def test_only_the_latest_26_weeks_are_drawn_and_a_reader_is_not_told_of_them():
    drawing = spark_bars([SparkWeek(place + 1) for place in range(60)])

    assert len(boxes(drawing, "bar-light")) == 26
    assert 'aria-hidden="true"' in drawing


@pytest.mark.parametrize("weeks", [[], [SparkWeek(None)], [SparkWeek(0)]])
def test_nothing_found_is_an_empty_drawing(weeks):
    assert spark_line(weeks).startswith("<svg")
    assert spark_bars(weeks).startswith("<svg")


def test_each_line_of_the_week_has_its_drawing():
    weeks = len(made.review().level.defects_per_unit.weeks)
    parts = WeekParts(weeks=("W",) * weeks, wholes=(9,) * weeks, types=(3,) * weeks, origins=(4,) * weeks,
                      unknown=(1,) * weeks)  # fmt: skip
    drawn = glance_sparks(made.review((made.critical(),)), SimpleNamespace(weeks=()), made.follow_up(), parts)

    assert len(drawn) == 8
    assert len(boxes(drawn["safety"], "bar")) == 1
    assert len(boxes(drawn["origin"], "bar-hollow")) == 2  # the week that still grows
