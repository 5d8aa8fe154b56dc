"""The geometry of the page that draws zones, held against shapely (GEOS) on drawn polygons, and against small cases."""

import json
import math
import subprocess
from itertools import combinations
from pathlib import Path

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from qc.domain.tables.outlines import outline_fault, overlap
from tests.js.test_js import tool

pytestmark = pytest.mark.node
ASKED = Path(__file__).parent / "zone_geometry_asked.js"
SQUARE = [[0, 0], [1000, 0], [1000, 1000], [0, 1000]]


class Asked:
    """One process of node that answers line by line."""

    def __init__(self):
        words = [tool("node", "DAYBAY_NODE"), "--no-warnings", str(ASKED)]
        self.node = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def __call__(self, ask, *given):
        self.node.stdin.write(json.dumps({"ask": ask, "given": given}) + "\n")
        self.node.stdin.flush()
        return json.loads(self.node.stdout.readline())

    def close(self):
        self.node.stdin.close()
        self.node.wait(10)
        self.node.stdout.close()


@pytest.fixture(scope="module")
def asked():
    one = Asked()
    yield one
    one.close()


def moved(points, dx, dy):
    return [[x + dx, y + dy] for x, y in points]


places = st.tuples(st.integers(-400, 400), st.integers(-400, 400)).map(list)


@st.composite
def polygons(draw):
    """A plain polygon in whole millimetres: corners in the order of their angle about a middle, so it may be hollow."""
    corners = draw(st.lists(places, min_size=3, max_size=7, unique_by=tuple))
    x, y = (sum(side) / len(corners) for side in zip(*corners, strict=True))
    corners.sort(key=lambda corner: math.atan2(corner[1] - y, corner[0] - x))
    assume(outline_fault(tuple(map(tuple, corners))) is None)
    return corners


@st.composite
def boxes(draw):
    """An upright rectangle on a coarse grid, so that edges often lie along each other."""
    (left, right), (low, high) = (
        sorted(draw(st.lists(st.integers(-8, 8), min_size=2, max_size=2, unique=True))) for _ in "xy"
    )
    return [[50 * x, 50 * y] for x, y in ((left, low), (right, low), (right, high), (left, high))]


shapes_drawn = st.one_of(polygons(), boxes())


@given(st.lists(shapes_drawn, min_size=2, max_size=4))
@settings(max_examples=200, deadline=None)
def test_overlaps_are_those_of_shapely(asked, drawn):
    shapes = [shapely.Polygon(points) for points in drawn]
    wanted = {pair: shapes[pair[0]].intersection(shapes[pair[1]]).area for pair in combinations(range(len(drawn)), 2)}

    found = {tuple(one["pair"]): one["area"] for one in asked("overlaps", drawn)}

    for pair, area in wanted.items():
        assert found.get(pair, 0) == pytest.approx(area, rel=1e-6, abs=1)


@given(st.lists(shapes_drawn, min_size=1, max_size=4))
@settings(max_examples=200, deadline=None)
def test_gaps_are_what_shapely_leaves_of_the_frame(asked, drawn):
    frame = [[-300, -300], [300, -300], [300, 300], [-300, 300]]
    left = shapely.Polygon(frame).difference(shapely.unary_union([shapely.Polygon(points) for points in drawn]))

    found = asked("gaps", [frame], drawn)

    assert sum(gap["area"] for gap in found) == pytest.approx(left.area, rel=1e-6, abs=1)
    # What hangs together by a point alone is two gaps to one and may be one to the other: compared where it does not.
    parts = [part for part in getattr(left, "geoms", [left]) if part.area > 1]
    firm = [part for part in getattr(left.buffer(-0.01), "geoms", [left.buffer(-0.01)]) if part.area > 1]
    if len(parts) == len(firm):
        assert len([gap for gap in found if gap["area"] > 1]) == len(parts)
        for gap in found:
            if gap["area"] > 400:
                assert left.distance(shapely.Point(gap["at"])) < 1, "where it is told, there it is"


@given(shapes_drawn, shapes_drawn, places, st.integers(1, 60))
@settings(max_examples=200, deadline=None)
def test_a_point_snaps_as_near_as_shapely_says(asked, one, other, place, reach):
    point = shapely.Point(place)
    corners = min(point.distance(shapely.Point(corner)) for corner in one + other)
    edges = min(point.distance(shapely.LinearRing(points)) for points in (one, other))

    found = asked("snap", place, [one, other], reach)

    if corners <= reach:
        assert found["to"] == "point"
        assert point.distance(shapely.Point(found["at"])) == pytest.approx(corners)
    elif edges <= reach - 1e-6:
        assert found["to"] == "edge"
        assert min(shapely.LinearRing(p).distance(shapely.Point(found["at"])) for p in (one, other)) <= 0.71
    elif edges > reach + 1e-6:
        assert found is None


@given(st.lists(places, min_size=1, max_size=6))
@settings(max_examples=300, deadline=None)
def test_a_polygon_is_faulty_where_the_tables_say_so(asked, corners):
    assert bool(asked("faultOf", corners)) == bool(outline_fault(tuple(tuple(corner) for corner in corners)))


@given(shapes_drawn, shapes_drawn)
@settings(max_examples=200, deadline=None)
def test_what_the_tables_refuse_is_shown_as_an_overlap(asked, one, other):
    """The tables count an overlap in whole corners, the page in area: what is refused is never less than a sliver."""
    area = shapely.Polygon(one).intersection(shapely.Polygon(other)).area
    refused = overlap(tuple(map(tuple, one)), tuple(map(tuple, other)))

    if area > 50:
        assert refused
        assert asked("overlaps", [one, other])


def test_zones_side_by_side_neither_overlap_nor_leave_a_gap(asked):
    both = [SQUARE, moved(SQUARE, 1000, 0)]
    frame = [[0, 0], [2000, 0], [2000, 1000], [0, 1000]]

    assert asked("overlaps", both) == []
    assert asked("gaps", [frame], both) == []


def test_two_gaps_apart_are_told_apart_with_their_places(asked):
    frame = [[0, 0], [3000, 0], [3000, 1000], [0, 1000]]

    found = asked("gaps", [frame], [moved(SQUARE, 1000, 0)])

    assert [(gap["area"], gap["at"]) for gap in found] == [(1e6, [500, 500]), (1e6, [2500, 500])]


def test_a_gap_across_two_frames_that_overlap_is_one(asked):
    """The bodies of a drawing may overlap: where one frame ends within the other, the gap goes on."""
    wide, high = [[0, 0], [900, 0], [900, 300], [0, 300]], [[300, 0], [600, 0], [600, 900], [300, 900]]

    assert [gap["area"] for gap in asked("gaps", [wide, high], [])] == [900 * 300 + 300 * 600]


def test_a_hundred_and_fifty_zones_at_once_are_looked_through(asked):
    """More than a hundred zones in one view, in a grid: none overlaps, none is missing, one that is moved shows."""
    grid = [moved([[0, 0], [100, 0], [100, 100], [0, 100]], 100 * (n % 15), 100 * (n // 15)) for n in range(150)]
    frame = [[0, 0], [1500, 0], [1500, 1000], [0, 1000]]
    assert asked("overlaps", grid) == []
    assert asked("gaps", [frame], grid) == []

    grid[77] = moved(grid[77], 10, 0)

    assert [one["pair"] for one in asked("overlaps", grid)] == [[77, 78]]
    assert [gap["area"] for gap in asked("gaps", [frame], grid)] == [1000]
