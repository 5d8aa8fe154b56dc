"""Small drawings: lines written short and drawn the same, words beside marks and not upon others."""

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.charts.drawing.as_svg import drawing
from qc.charts.drawing.scene import Mark, Marks, Scene, Values
from qc.charts.drawing.svg import path

# SVG 2, 9.3 Path data: M moves, L draws to a point, H and V along an axis; figures are absolute.
COMMAND = re.compile(r"([MLHV])(-?\d+(?:\.\d)?)(?: (-?\d+(?:\.\d)?))?")


def drawn(svg):
    """Return the corners that a path names, in tenths."""
    data = re.search(r'd="([^"]*)"', svg)[1]
    assert re.fullmatch(rf"(?:{COMMAND.pattern})+", data)
    corners, x, y = [], 0, 0
    for command, first, second in COMMAND.findall(data):
        value = round(10 * float(first))
        x, y = {"H": (value, y), "V": (x, value)}.get(command, (value, round(10 * float(second or 0))))
        corners.append((x, y))
    return corners


def steps(corners):
    """Return a line as small steps of a tenth along the axes, and as what it is where it goes across."""
    told = []
    for (x, y), (to_x, to_y) in pairwise(corners):
        if x == to_x or y == to_y:
            way = ((to_x > x) - (to_x < x), (to_y > y) - (to_y < y))
            told += [way] * (abs(to_x - x) + abs(to_y - y))
        else:
            told.append((x, y, to_x, to_y))
    return told


tenths = st.integers(-30, 30)


@given(st.lists(st.tuples(tenths, tenths), min_size=2, max_size=12))
def test_a_line_goes_the_same_way_through_fewer_points(points):
    corners = drawn(path([(x / 10, y / 10) for x, y in points], "line"))

    assert (corners[0], corners[-1]) == (points[0], points[-1])
    assert steps(corners) == steps(points)


@pytest.mark.parametrize(
    ("points", "data"),
    [
        ([(46, 128.5), (55, 128.5), (55, 128.5), (64, 128.5)], "M46 128.5H64"),
        ([(46, 1), (55, 1), (55, 2.04), (55, 3), (64, 4)], "M46 1H55V3L64 4"),
        ([(1, 1), (3, 1), (2, 1)], "M1 1H3H2"),
        ([(1, 1), (1, 1)], "M1 1L1 1"),
    ],
)
def test_what_goes_straight_on_is_one_step(points, data):
    assert path(points, "line") == f'<path d="{data}" class="line"/>'


def test_fewer_than_two_points_draw_nothing():
    assert path([(1, 1)], "line") == path([], "line") == ""


def words_beside(*marks):
    """Return how the word of each mark is set, of marks at (x, y) with words, of 100 across and up."""
    placed = tuple(Mark(x=x, y=y, hover="", word=word) for x, y, word in marks)
    scene = Scene(Values("across"), Values("up"), (Marks("point", "", (*placed, Mark(x=100, y=100, hover=""))),))
    root = ElementTree.fromstring(drawing(scene, "id", "Title", "Says."))
    told = {part.text: part.get("class") for part in root.iter() if part.tag.endswith("}text")}
    return [told[word] for _, _, word in marks]


def test_a_marks_word_goes_to_the_left_where_another_mark_stands_on_its_right():
    right, left = "strong", "strong end"

    assert words_beside((50, 50, "FU1"), (58, 50, "S07")) == [left, right]
    assert words_beside((50, 50, "FU1"), (58, 70, "S07")) == [right, right]  # above it
    assert words_beside((50, 50, "FU1"), (90, 50, "S07")) == [right, right]  # far enough
    assert words_beside((42, 50, "S01"), (50, 50, "FU1"), (58, 50, "S07")) == [left, right, right]  # on both sides
    assert words_beside((1, 50, "FU1"), (5, 50, "S07")) == [right, right]  # no room on the left


def test_a_mark_upon_another_keeps_its_word_on_the_right():
    assert words_beside((50, 50, "FU1"), (50, 50, "S07")) == ["strong", "strong"]
