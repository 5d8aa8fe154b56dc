"""Lines of small drawings: written short, drawn the same."""

import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

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
