"""A run chart's table, figure and drawing tell the same numbers, those that the handbook prints.

Data and limits: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.3.2, proportions control charts (30
samples of 50); typed from memory of that page. Printed: centre .2313, limits .0524 and .4102, points 15 and 23 out.
"""

from dataclasses import replace
from datetime import date
from xml.etree import ElementTree

import pytest

from qc.charts.drawing import words
from qc.charts.kinds.run_chart import RunPoint, RunWords, run_picture
from qc.charts.pages.level import chart_points
from qc.stats.charts.baselines import share_baseline
from qc.stats.charts.control_charts import p_chart
from qc.stats.series import shares_of
from tests.charts.conftest import marks_of, trace_of

COUNTS = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
SIZES = [50] * 30
LABELS = [str(place) for place in range(1, 31)]
SHARES = RunWords("Share", "Defective of inspected", words.percent, as_percent=True)
SVG = "{http://www.w3.org/2000/svg}"


def handbook_chart(counts=COUNTS, sizes=SIZES, *, partial_last=False):
    whole = len(LABELS) - partial_last  # a period that is still running is in no baseline
    baseline = share_baseline(
        "handbook", date(2024, 1, 8), shares_of(COUNTS[:whole], SIZES[:whole], LABELS[:whole]), {}
    )
    return p_chart(shares_of(counts, sizes, LABELS), baseline, partial_last=partial_last)


def picture_of(points):
    return run_picture("handbook", "Misregistered", "Two points are out.", "30 samples of 50", points, SHARES)


def marks(picture, class_):
    return [part for part in ElementTree.fromstring(picture.svg).iter() if part.get("class") == class_]


def test_a_run_chart_is_sound(sound):
    sound(picture_of(chart_points(handbook_chart())))


def test_the_printed_signals_and_limits_are_drawn():
    picture = picture_of(chart_points(handbook_chart()))
    upper = trace_of(picture, "limit")

    assert trace_of(picture, "signal")["x"] == ["15", "23"]
    assert trace_of(picture, "signal")["marker"]["symbol"] == "diamond"
    assert upper["y"] == pytest.approx([0.4102] * 30, abs=1e-4)
    assert upper["line"]["shape"] == "hvh"
    assert len(marks(picture, "signal")) == 2


def test_the_table_holds_the_numbers_of_the_figure():
    picture = picture_of(chart_points(handbook_chart()))
    rows = {row.head: row for row in picture.table.rows}

    assert [row.head for row in picture.table.rows] == LABELS[::-1]
    for label, row in rows.items():
        (mark,) = (
            mark for look in ("point", "signal") for mark in marks_of(picture.scene, look) if mark.key == row.mark
        )
        assert row.cells[0] == words.percent(mark.y)
        assert mark.x == label
    assert rows["15"].cells == (
        "44.0\u00a0%",
        "5.2\u00a0%\u00a0–\u00a041.0\u00a0%",
        "above usual",
        "22 of 50",
    )
    assert rows["15"].state == "signal"


def test_the_running_week_is_hollow_and_judged_by_no_rule():
    """A last week far beyond the limit, not over yet: shown, never a signal, not joined to the line."""
    counts = [*COUNTS[:-1], 45]
    picture = picture_of(chart_points(handbook_chart(counts, partial_last=True)))

    assert trace_of(picture, "signal")["x"] == ["15", "23"]
    assert trace_of(picture, "hollow")["x"] == ["30"]
    assert trace_of(picture, "hollow")["marker"]["symbol"] == "circle-open"
    assert trace_of(picture, "line")["y"][-1] is None
    assert len(marks(picture, "hollow")) == 1
    (line,) = marks(picture, "line")
    assert line.get("d").count("L") == 28  # 29 whole periods are joined, the running one is not
    assert picture.table.rows[0].cells[2] == "not over"


def test_limits_are_steps_where_the_number_of_units_varies():
    sizes = [50] * 15 + [200] * 15
    picture = picture_of(chart_points(handbook_chart(COUNTS, sizes)))
    upper = trace_of(picture, "limit")["y"]

    assert upper[0] > upper[-1]
    steps = ["".join(filter(str.isalpha, part.get("d"))) for part in marks(picture, "limit")]
    assert steps[0] == "MHVH"  # level for fifteen periods, a step between two, level again


def test_a_week_with_nothing_inspected_is_a_gap_and_not_a_zero(sound):
    points = list(chart_points(handbook_chart()))
    points[4] = RunPoint(label="5", events=0, size=0, value=None, centre=0.23, lower=None, upper=None, state="gap")
    picture = picture_of(points)
    sound(picture)

    row = next(row for row in picture.table.rows if row.head == "5")
    assert row.cells[0] == "no units"
    assert row.cells[2] == "nothing inspected"
    assert row.mark == ""
    assert len(marks(picture, "line")) == 2


def test_without_limits_no_week_is_called_usual():
    points = [
        replace(point, lower=None, upper=None, centre=None, state="in") for point in chart_points(handbook_chart())
    ]

    assert {row.cells[2] for row in picture_of(points).table.rows} == {"no usual range yet"}


def test_no_weeks_at_all_is_still_a_picture(sound):
    sound(picture_of([]))
