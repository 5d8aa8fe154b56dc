"""Lines, stacks, bars, dots and matrix: sound, with the table's numbers in the figure, nothing told by hue alone.

The numbers are made up to exercise the drawing; the checks from outside are plotly's schema and an XML parser.
"""

from xml.etree import ElementTree

import pytest

from qc.charts.drawing import words
from qc.charts.kinds.interval_dots import Dot, dots_drawing, dots_figure
from qc.charts.kinds.matrix import matrix_drawing, matrix_figure
from qc.charts.kinds.ordered_bars import Bar, bars_drawing, bars_figure
from qc.charts.kinds.week_lines import Line, LineWords, lines_picture
from qc.charts.kinds.week_stacks import StackWeek, StackWords, stack_picture

WEEKS = ("2026-W10", "2026-W11", "2026-W12")


def texts(svg):
    return ["".join(part.itertext()) for part in ElementTree.fromstring(svg).iter() if part.tag.endswith("}text")]


def two_lines(partial=True):
    return lines_picture(
        "both",
        "First-pass",
        "Says.",
        "Units first presented",
        WEEKS,
        partial,
        (
            Line("no critical or major", (0.4, None, 0.5), "clean of presented", ("20 of 50", "0 of 0", "3 of 6")),
            Line("nothing at all", (0.1, None, 0.0), "clean of presented", ("5 of 50", "0 of 0", "0 of 6")),
        ),
        LineWords("First-pass", words.percent, as_percent=True),
    )


def test_two_lines_are_sound_and_differ_in_more_than_hue(sound):
    picture = two_lines()
    sound(picture)
    first, second = picture.figure["data"][:2]

    assert first["marker"]["symbol"] != second["marker"]["symbol"]
    assert first["line"]["dash"] != second["line"]["dash"]


def test_a_running_week_leaves_the_line_and_is_hollow():
    first, _, hollow, _ = two_lines().figure["data"]

    assert first["y"] == [0.4, None, None]
    assert hollow["x"] == ["2026-W12"]
    assert hollow["y"] == [0.5]
    assert hollow["marker"]["symbol"] == "circle-open"
    assert two_lines().table.rows[0].head == "2026-W12, not over"


def test_a_whole_last_week_stays_on_the_line(sound):
    picture = two_lines(partial=False)
    sound(picture)

    assert len(picture.figure["data"]) == 2
    assert picture.figure["data"][0]["y"] == [0.4, None, 0.5]


def stack():
    weeks = (
        StackWeek(
            label="2026-W10", first=3, second=1, exposed=54, low=1.0, high=6.0, reading="in the usual range", state=""
        ),
        StackWeek(
            label="2026-W11",
            first=9,
            second=0,
            exposed=54,
            low=1.0,
            high=6.0,
            reading="more than usual",
            state="signal",
        ),
        StackWeek(
            label="2026-W12",
            first=0,
            second=2,
            exposed=12,
            low=None,
            high=None,
            reading="not over yet, not judged",
            state="partial",
        ),
    )
    return stack_picture("own", "Own", "Says.", "Units", weeks, StackWords("confirmed", "suspected", "Units"))


def test_confirmed_and_suspected_stand_apart_in_table_figure_and_drawing(sound):
    picture = stack()
    sound(picture)
    confirmed, suspected = picture.figure["data"][:2]

    assert confirmed["y"] == [3, 9, 0]
    assert suspected["y"] == [1, 0, 2]
    assert suspected["marker"]["pattern"]["shape"] == "/"
    assert picture.table.rows[2].cells == ("4 (3 + 1)", "1\u00a0–\u00a06", "in the usual range", "54")
    assert 'class="bar-second"' in picture.svg


def test_the_running_week_of_a_stack_is_outlined_only():
    confirmed = stack().figure["data"][0]

    assert confirmed["marker"]["color"][2] == "#ffffff"
    assert confirmed["marker"]["color"][0] != "#ffffff"


BARS = (Bar("SEA-01 Roof <seam>", 12, 8.5, "told & told"), Bar("PAN-05", 4, None, "told"))


def test_bars_are_valid_plotly_and_their_words_are_escaped():
    import plotly.graph_objects as go

    go.Figure(bars_figure(BARS, "defects", "expected"))
    assert texts(bars_drawing("b", "Bars", "Says.", BARS)) == ["SEA-01 Roof <seam>", "12", "PAN-05", "4"]


def test_the_first_bar_stands_on_top():
    figure = bars_figure(BARS, "defects", "expected")

    assert figure["data"][0]["y"][0].startswith("SEA-01")
    assert figure["layout"]["yaxis"]["autorange"] == "reversed"


def test_a_thing_with_too_little_data_keeps_its_line_and_says_so():
    import plotly.graph_objects as go

    dots = (Dot("T01", 0.1, 0.05, 0.2, "told"), Dot("T02", None, None, None, "told"))
    figure = dots_figure(dots, "share passed", as_percent=True)
    go.Figure(figure)

    assert figure["data"][0]["error_x"]["array"] == pytest.approx([0.1, 0.0])
    assert "T02: too little to say" in texts(dots_drawing("d", "Dots", "Says.", dots, words.percent))


def test_a_matrix_writes_each_count_so_that_shade_is_never_alone():
    import plotly.graph_objects as go

    counts = ((3, 0), (0, 12))
    figure = matrix_figure(("S07", "S08"), ("T01", "D01"), counts, "made at", "found at")
    go.Figure(figure)

    assert figure["data"][0]["text"] == [["3", ""], ["", "12"]]
    assert set(texts(matrix_drawing("m", "M", "Says.", ("S07", "S08"), ("T01", "D01"), counts))) == {
        "S07", "S08", "T01", "D01", "3", "12",
    }  # fmt: skip


def test_nothing_to_draw_is_no_error():
    for svg in (
        bars_drawing("a", "A", "S.", ()),
        dots_drawing("a", "A", "S.", (), words.percent),
        matrix_drawing("a", "A", "S.", (), (), ()),
    ):
        ElementTree.fromstring(svg)
