"""Any control chart becomes a picture whose table, figure, drawing and sentence tell its numbers.

Data and limits: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.3.2, proportions control charts (30
samples of 50), printed centre .2313, limits .0524 and .4102, points 15 and 23 out; typed from memory of that page.
The gaps and the demerits are made up here.
"""

import re
from datetime import date
from xml.etree import ElementTree

import pytest

from qc.assets import folder
from qc.charts.drawing import palette, words
from qc.charts.drawing.standalone import drawing_file, page_file
from qc.charts.kinds.control_chart import control_chart_picture, sentence
from qc.cli.stat.picture import STYLES
from qc.stats.by_command.charts.demerit_chart import demerit_chart
from qc.stats.charts.baselines import gap_baseline, given_standard, rate_baseline, share_baseline, weighted_baseline
from qc.stats.charts.control_charts import c_chart, np_chart, p_chart, u_chart
from qc.stats.charts.exact_limits import exact_p_chart, exact_u_chart, predictive_p_chart, predictive_u_chart
from qc.stats.charts.overdispersed_charts import p_prime_chart, u_prime_chart
from qc.stats.charts.rare_events import exact_g_chart, exact_t_chart, g_chart, t_chart
from qc.stats.charts.run_rules import WESTERN_ELECTRIC_1956, run_rules
from qc.stats.series import counts_of, rates_of, shares_of
from tests.charts.conftest import lines_of, marks_of, values_of

DAY = date(2024, 1, 8)
COUNTS = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
LABELS = [str(place) for place in range(1, 31)]
SIZES = [50] * 30
SHARES = share_baseline("handbook", DAY, shares_of(COUNTS, SIZES, LABELS), {})
RATES = rate_baseline("handbook", DAY, rates_of(COUNTS, SIZES, LABELS), {})
ONES = rate_baseline("handbook", DAY, rates_of(COUNTS, [1] * 30, LABELS), {})
GAPS = gap_baseline("handbook", DAY, COUNTS, LABELS, {})
STYLE = "".join((folder("static") / "css" / name).read_text(encoding="utf-8") for name in STYLES)
SVG = "{http://www.w3.org/2000/svg}"

EVERY_KIND = {
    "p": lambda: p_chart(shares_of(COUNTS, SIZES, LABELS), SHARES),
    "np": lambda: np_chart(shares_of(COUNTS, SIZES, LABELS), SHARES),
    "u": lambda: u_chart(rates_of(COUNTS, SIZES, LABELS), RATES),
    "c": lambda: c_chart(counts_of(COUNTS, LABELS), ONES),
    "p′": lambda: p_prime_chart(shares_of(COUNTS, SIZES, LABELS), SHARES),
    "u′": lambda: u_prime_chart(rates_of(COUNTS, SIZES, LABELS), RATES),
    "exact p": lambda: exact_p_chart(shares_of(COUNTS, SIZES, LABELS), SHARES, 0.00135),
    "exact u": lambda: exact_u_chart(rates_of(COUNTS, SIZES, LABELS), RATES, 0.00135),
    "predictive p": lambda: predictive_p_chart(shares_of(COUNTS, SIZES, LABELS), SHARES, 0.00135),
    "predictive u": lambda: predictive_u_chart(rates_of(COUNTS, SIZES, LABELS), RATES, 0.00135),
    "demerit": lambda: demerit_chart(
        {"major": rates_of(COUNTS, SIZES, LABELS)}, weighted_baseline("handbook", DAY, {"major": RATES}, {"major": 10})
    ),
    "g": lambda: g_chart(COUNTS, LABELS, GAPS, "good units between"),
    "exact g": lambda: exact_g_chart(COUNTS, LABELS, GAPS, "good units between", 0.00135),
    "t": lambda: t_chart(COUNTS, LABELS, GAPS),
    "exact t": lambda: exact_t_chart(COUNTS, LABELS, GAPS, 0.00135),
    "standard given": lambda: p_chart(
        shares_of(COUNTS, SIZES, LABELS), given_standard("target", DAY, "share", 0.2, "drawing")
    ),
}


def picture_of(chart, reading=None):
    return control_chart_picture(chart, "chart", "Misregistered", "wafer", reading)


def drawn(picture, class_):
    return [part for part in ElementTree.fromstring(picture.svg).iter() if part.get("class") == class_]


def left_out(*labels, sizes=SIZES):
    baseline = share_baseline("handbook", DAY, shares_of(COUNTS, sizes, LABELS), dict.fromkeys(labels, "torn bag"))
    return p_chart(shares_of(COUNTS, sizes, LABELS), baseline)


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_every_kind_of_chart_is_a_sound_picture_with_its_signals(kind, sound):
    chart = EVERY_KIND[kind]()
    picture = picture_of(chart)
    sound(picture)

    assert [row.head for row in picture.table.rows] == LABELS[::-1]
    assert len(drawn(picture, "signal")) == len(chart.signals)
    assert len(drawn(picture, "point")) == 30 - len(chart.signals)
    heads = {row.head for row in picture.table.rows if "limit" in row.cells[2] and row.cells[2] != "inside the limits"}
    assert heads == set(chart.signals)


def test_the_handbook_s_sentence_and_limits():
    picture = picture_of(left_out())

    assert picture.says == "2 of 30 periods are outside the limits: 15 and 23 above."
    assert picture.table.rows[-15].cells[:3] == (
        "44.0\u00a0%", "5.2\u00a0%\u00a0–\u00a041.0\u00a0%", "above the upper limit",
    )  # fmt: skip


def test_a_period_left_out_is_crossed_out_and_still_a_signal(sound):
    picture = picture_of(left_out("15", "3"))
    sound(picture)
    rows = {row.head: row for row in picture.table.rows}

    assert [(mark.x, mark.y) for mark in marks_of(picture.scene, "excluded")] == [("3", 0.16), ("15", 0.44)]
    assert len(drawn(picture, "excluded")) == 2
    assert rows["15"].cells[2] == "above the upper limit; left out of the limits: torn bag"
    assert rows["15"].state == "signal"
    assert rows["3"].cells[2] == "inside the limits; left out of the limits: torn bag"
    assert "excluded" in [key.mark for key in picture.keys]
    assert "Left out of the limits, still judged: 3 (torn bag) and 15 (torn bag)." in picture.says


def test_a_cross_lies_on_its_own_point():
    picture = picture_of(left_out("15"))
    (cross,) = drawn(picture, "excluded")
    diamond = next(mark for mark in drawn(picture, "signal") if mark[0].text.startswith("15:"))
    ends = [tuple(map(float, end.split())) for end in re.findall(r"[ML]([\d.]+ [\d.]+)", cross.get("d"))]
    corners = [tuple(map(float, corner.split(","))) for corner in diamond.get("points").split()]

    assert [sum(axis) / 4 for axis in zip(*ends, strict=True)] == pytest.approx(
        [sum(axis) / 4 for axis in zip(*corners, strict=True)], abs=0.06
    )


def test_nothing_left_out_means_no_cross_and_no_key():
    picture = picture_of(left_out())

    assert drawn(picture, "excluded") == []
    assert "excluded" not in [key.mark for key in picture.keys]


def test_a_gap_at_the_begin_stays_on_the_chart(sound):
    sizes = [0, *SIZES[1:]]
    counts = [0, *COUNTS[1:]]
    baseline = share_baseline("handbook", DAY, shares_of(counts, sizes, LABELS), {})
    picture = picture_of(p_chart(shares_of(counts, sizes, LABELS), baseline))
    sound(picture)

    assert picture.table.rows[-1].cells == ("–", "–", "nothing inspected", "0 of 0")
    assert "In 1 period nothing was inspected." in picture.says


def test_a_short_gap_is_the_bad_news_and_a_long_one_is_not():
    """The rows of a chart of gaps are marked the other way round."""
    gaps = [400, *[60, 40, 70, 30, 55] * 4, 0]
    labels = [str(place) for place in range(len(gaps))]
    baseline = gap_baseline("made up", DAY, gaps[1:21], labels[1:21], {})
    picture = picture_of(exact_g_chart(gaps, labels, baseline, "good units between", 0.02))

    assert {row.head: row.state for row in picture.table.rows if row.state} == {"0": "low", "21": "signal"}


def test_patterns_of_run_rules_are_told():
    chart = left_out()
    reading = run_rules(chart.standardised, LABELS, WESTERN_ELECTRIC_1956, across_gaps=False)

    told = sentence(chart, reading)

    assert f"find {len(reading.findings)} patterns, completed at 15, " in told
    quiet = run_rules([0.1, -0.1] * 3, list("abcdef"), WESTERN_ELECTRIC_1956, across_gaps=False)
    assert "find no pattern." in sentence(chart, quiet)


def test_one_period_and_no_signal_have_their_own_words():
    one = p_chart(shares_of([10], [50], ["1"]), given_standard("target", DAY, "share", 0.2, "drawing"))

    assert sentence(one) == "The one period is inside its limits."
    assert sentence(p_chart(shares_of([10], [50], ["1"]), one.baseline, partial_last=True)).startswith(
        "No period is judged."
    )


def test_a_drawing_stands_alone_in_resolved_colours():
    """Programs other than browsers know no variables of style sheets."""
    text = drawing_file(picture_of(left_out("15")), STYLE)
    root = ElementTree.fromstring(text)
    style = root.find(f"{SVG}style").text

    assert root.get("width") == "1080"
    assert "var(" not in text
    assert palette.INK in style
    assert "url(" not in text
    assert "<script" not in text
    for used in {part.get("class") for part in root.iter() if part.get("class")} - {"figure"}:
        assert re.search(rf"\.{used}\b", style), used


def test_a_page_stands_alone_with_table_key_and_escaped_words():
    labels = [*LABELS[:-1], "<b>&"]
    baseline = share_baseline("handbook", DAY, shares_of(COUNTS, SIZES, labels), {"15": "torn <bag>"})
    text = page_file(picture_of(p_chart(shares_of(COUNTS, SIZES, labels), baseline)), STYLE)

    assert "<b>&" not in text
    assert "torn <bag>" not in text
    assert "torn &lt;bag&gt;" in text
    assert text.count("<tr") == 31
    assert text.count("<li>") == 5
    assert "<script" not in text
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
    ElementTree.fromstring(text.partition("\n")[2].replace('<meta charset="utf-8">', "").replace(
        '<meta name="viewport" content="width=device-width">', ""))  # fmt: skip


@pytest.mark.parametrize(
    ("value", "written"),
    [(0.0, "0"), (12, "12"), (1540.0, "1\u00a0540"), (0.002137, "0.00214"), (3.25, "3.25"), (123.4, "123"),
     (2e-6, "2.0e-06"), (99.96, "100")],
)  # fmt: skip
def test_figures_carry_three_digits_and_whole_numbers_in_full(value, written):
    assert words.figures(value) == written


@pytest.mark.parametrize(
    ("label", "short"),
    [("2026-W10", "W10"), ("2026-03-02", "03-02"), ("A-12", "A-12"), ("1999", "1999"), ("L-Thick-A1.5", "L-Thick…")],
)
def test_an_axis_shortens_weeks_and_days_only(label, short):
    assert words.week(label) == short


@pytest.mark.parametrize("make", [g_chart, lambda *given: exact_g_chart(*given, 0.025)])
def test_a_chart_of_gaps_has_the_line_that_half_of_them_lie_below(sound, make):
    chart = make(COUNTS, LABELS, GAPS, "good units between")
    picture = picture_of(chart)
    sound(picture)

    median, *_, mean = lines_of(picture.scene, "centre")
    assert set(values_of(median)) == {chart.median}
    assert chart.median < values_of(mean)[0]
    assert {"median", "centre"} <= set(picture.scene.ends)
