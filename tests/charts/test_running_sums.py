"""EWMA and cusum charts become pictures that tell their signals.

Data: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.3 (20 group means, target 325, k = 0.3175,
h = 4.1959; the sum upwards is above the interval from group 14 on), from memory of that page. Shares and gaps: made up.
"""

from datetime import date
from xml.etree import ElementTree

import pytest

from qc.charts.kinds.running_sums import cusum_picture, ewma_picture
from qc.stats.by_command.charts.cusum import normal_cusum, poisson_cusum
from qc.stats.by_command.charts.ewma import ewma_of_chart
from qc.stats.charts.baselines import given_standard
from qc.stats.charts.control_charts import p_chart
from qc.stats.series import rates_of, shares_of

MEANS = [324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
         324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350]  # fmt: skip
GROUPS = [str(place) for place in range(1, 21)]


def drawn(picture, class_):
    return [part for part in ElementTree.fromstring(picture.svg).iter() if part.get("class") == class_]


def test_the_handbook_s_cusum_signals_where_it_is_printed(sound):
    chart = normal_cusum(MEANS, GROUPS, 325, 0.3175, 4.1959, "never")
    picture = cusum_picture(chart, "chart", "Group means", "group")
    sound(picture)

    assert chart.signals[0] == "14"
    assert picture.says == ("The sum is above the decision interval at 7 of 20 periods: 14, 15, 16, 17, 18, 19 and 20.")
    assert len(drawn(picture, "signal")) == 7
    rows = {row.head: row.cells for row in picture.table.rows}
    assert rows["14"][0] == "4.94"  # 3.0075 + 2.25 - 0.3175
    assert rows["14"][2] == "above the decision interval: upwards"
    assert rows["14"][3] == "327; 4.94 up, 0 down, climbing since 13"
    assert rows["14"][1] == "up to 4.2"


def test_one_sum_has_its_direction_and_no_second_number(sound):
    chart = poisson_cusum(rates_of([3, 4, 9, 9], [10] * 4, list("abcd")), 0.3, 2.0, 4.0, "never")
    picture = cusum_picture(chart, "chart", "Errors", "week")
    sound(picture)

    assert picture.table.columns[1].head == "Sum of departures up"
    assert "down" not in picture.table.rows[0].cells[3]
    assert picture.says.startswith("The sum is above the decision interval at 2 of 4 periods: c and d")


def test_an_average_with_a_gap_and_a_running_period(sound):
    standard = given_standard("target", date(2024, 1, 8), "share", 0.2, "drawing")
    chart = p_chart(shares_of([10, 0, 30, 28, 40], [50, 0, 50, 50, 50], list("abcde")), standard, partial_last=True)
    picture = ewma_picture(ewma_of_chart(chart, 0.2, 3.0), "chart", "Shares", "week")
    sound(picture)
    rows = {row.head: row.cells for row in picture.table.rows}

    assert picture.says == "The average is outside the limits at 2 of 5 periods: c and d."
    assert rows["b"][0] == "–"
    assert rows["b"][2] == "nothing inspected: the average stays"
    assert rows["e"][2] == "not over: enters nothing"
    assert len(drawn(picture, "hollow")) == 1
    assert [row.state for row in picture.table.rows] == ["partial", "signal", "signal", "", ""]


def test_no_signal_is_told_in_words():
    standard = given_standard("target", date(2024, 1, 8), "share", 0.2, "drawing")
    chart = p_chart(shares_of([10, 11], [50, 50], ["a", "b"]), standard)
    picture = ewma_picture(ewma_of_chart(chart, 0.2, 3.0), "chart", "Shares", "week")

    assert picture.says == "The average is nowhere outside the limits in 2 periods."
    assert "signal" not in [key.mark for key in picture.keys]
    assert picture.table.rows[0].cells[0] == pytest.approx("0.204")
