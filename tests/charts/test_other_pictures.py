"""Lines, stacks, bars, dots and matrix: sound, with the table's numbers in the figure, nothing told by hue alone.

The numbers are made up to exercise the drawing; the checks from outside are plotly's schema and an XML parser.
"""

from xml.etree import ElementTree

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Table
from qc.charts.kinds.interval_dots import Dot, dots_scene
from qc.charts.kinds.matrix import matrix_scene
from qc.charts.kinds.ordered_bars import Amount, bars_scene
from qc.charts.kinds.week_lines import Line, LineWords, lines_picture
from qc.charts.kinds.week_stacks import StackWeek, StackWords, stack_picture
from tests.charts.conftest import lines_of, marks_of, trace_of, values_of

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

    for one, other in (("point", "point-second"), ("hollow", "hollow-second")):
        assert trace_of(picture, one)["marker"]["symbol"] != trace_of(picture, other)["marker"]["symbol"]
    assert trace_of(picture, "line")["line"]["dash"] != trace_of(picture, "line-second")["line"]["dash"]


def test_a_running_week_leaves_the_line_and_is_hollow():
    (line,) = lines_of(two_lines().scene, "line")
    (hollow,) = marks_of(two_lines().scene, "hollow")

    assert values_of(line) == [0.4, None, None]
    assert (hollow.x, hollow.y) == ("2026-W12", 0.5)
    assert trace_of(two_lines(), "hollow")["marker"]["symbol"] == "circle-open"
    assert two_lines().table.rows[0].head == "2026-W12, not over"


def test_a_whole_last_week_stays_on_the_line(sound):
    picture = two_lines(partial=False)
    sound(picture)

    assert marks_of(picture.scene, "hollow") == []
    assert values_of(lines_of(picture.scene, "line")[0]) == [0.4, None, 0.5]


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
    confirmed, suspected = trace_of(picture, "bar"), trace_of(picture, "bar-second")

    assert confirmed["y"] == [3, 9, 0]
    assert (suspected["base"], suspected["y"]) == ([3, 9, 0], [1, 0, 2])
    assert suspected["marker"]["pattern"]["shape"] == "/"
    assert picture.table.rows[2].cells == ("4 (3 + 1)", "1\u00a0–\u00a06", "in the usual range", "54")
    assert 'class="bar-second"' in picture.svg


def test_the_running_week_of_a_stack_is_outlined_only():
    confirmed = trace_of(stack(), "bar")

    assert confirmed["marker"]["color"][2] == "#ffffff"
    assert confirmed["marker"]["color"][0] != "#ffffff"


BARS = (Amount("SEA-01 Roof <seam>", 12, 8.5, "told & told"), Amount("PAN-05", 4, None, "told"))


def pictured(scene):
    table = Table("Basis", (Column("Thing"),), ())
    return Picture(id="one", title="One", says="Says.", basis="Basis.", table=table, scene=scene)


def test_bars_are_sound_and_their_words_are_escaped(sound):
    picture = pictured(bars_scene(BARS, "defects", "expected"))
    sound(picture)

    assert texts(picture.svg) == ["SEA-01 Roof <seam>", "PAN-05", "12", "4"]
    assert [key.mark for key in picture.keys] == ["bar", "tick"]


def test_the_first_bar_stands_on_top():
    figure = pictured(bars_scene(BARS, "defects", "expected")).figure

    assert figure["layout"]["yaxis"]["categoryarray"][0].startswith("SEA-01")
    assert figure["layout"]["yaxis"]["autorange"] == "reversed"


def test_a_thing_with_too_little_data_keeps_its_line_and_says_so(sound):
    dots = (Dot("T01", 0.1, 0.05, 0.2, "told"), Dot("T02", None, None, None, "never told"))
    picture = pictured(dots_scene(dots, "share passed", words.percent))
    sound(picture)

    assert lines_of(picture.scene, "line")[0].points[:2] == ((0.05, "T01"), (0.2, "T01"))
    assert texts(picture.svg)[-2:] == ["T02", "too little to say"]


def test_a_matrix_names_its_columns_within_their_room():
    """A letter of 13 px is taken to be 8 wide, as on every axis: four columns beside their rows' names have 9 each."""
    columns = ("T01", "T02", "D01", "nach dem Versand")

    drawn = pictured(matrix_scene(("S07",), columns, ((3, 0, 1, 2),), "a", "b")).svg
    low = pictured(matrix_scene(("S07",), columns[:3], ((3, 0, 1),), "a", "b")).svg

    assert texts(drawn)[:6] == ["T01", "T02", "D01", "nach dem", "Versand", "S07"]
    assert max(map(len, texts(drawn))) * 8 <= (360 - 64) / 4
    heights = [float(ElementTree.fromstring(svg).attrib["viewBox"].split()[3]) for svg in (drawn, low)]
    assert heights[0] - heights[1] == 13  # one line more


def test_a_matrix_writes_each_count_so_that_shade_is_never_alone(sound):
    picture = pictured(matrix_scene(("S07", "S08"), ("T01", "D01"), ((3, 0), (0, 12)), "made at", "found at"))
    sound(picture)

    assert trace_of(picture, "cell")["text"] == [["3", ""], ["", "12"]]
    assert set(texts(picture.svg)) == {"S07", "S08", "T01", "D01", "3", "12"}


def test_a_thing_without_a_value_says_so_below_its_name():
    name = "D01 Tageslichthalle (Endinspektion)"
    dots = (Dot(name, None, None, None, "none"), Dot("T01", 0.25, 0.1, 0.4, "some"))

    drawn = pictured(dots_scene(dots, "share passed", words.percent)).svg

    assert texts(drawn) == [name, f"T01: {words.percent(0.25)}", "too little to say"]


def test_nothing_to_draw_is_no_error(sound):
    for scene in (bars_scene((), "a", "b"), dots_scene((), "a", words.percent)):
        sound(pictured(scene))
    ElementTree.fromstring(pictured(matrix_scene((), (), (), "a", "b")).svg)
