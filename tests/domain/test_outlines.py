"""Outlines of zones: plain polygons are taken, crossing and flat ones refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.domain.tables.outlines import outline_fault, twice_the_area

SQUARE = ((0, 0), (10, 0), (10, 10), (0, 10))
ELL = ((0, 0), (10, 0), (10, 4), (4, 4), (4, 10), (0, 10))


@pytest.mark.parametrize("corners", [SQUARE, SQUARE[::-1], ELL, ((0, 0), (5, 1), (2, 7))])
def test_a_plain_polygon_in_either_direction_has_no_fault(corners):
    assert outline_fault(corners) is None


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        (((0, 0), (5, 5)), "at least 3"),
        (((0, 0), (10, 10), (10, 0), (0, 10)), "crosses itself"),  # a bow tie
        (((0, 0), (10, 0), (10, 10), (5, 0), (0, 10)), "crosses itself"),  # a corner lies on another edge
        (((0, 0), (5, 5), (9, 9)), "no area"),
        (((0, 0), (10, 0), (10, 10), (0, 0)), "twice"),
    ],
)
def test_what_is_no_plain_polygon_is_refused(corners, words):
    assert words in outline_fault(corners)


def test_the_area_is_that_of_the_shoelace_formula():
    assert twice_the_area(SQUARE) == 200
    assert twice_the_area(ELL) == 2 * (100 - 36)
    assert twice_the_area(SQUARE[::-1]) == -200


@given(st.integers(3, 12), st.integers(200, 5000), st.integers(0, 359))
def test_a_regular_polygon_is_plain_and_swapping_two_corners_of_it_is_not(count, radius, turned):
    angles = [math.radians(turned + 360 * k / count) for k in range(count)]
    corners = tuple((round(radius * math.cos(a)), round(radius * math.sin(a))) for a in angles)

    assert outline_fault(corners) is None
    if count > 3:
        assert outline_fault((corners[1], corners[0], *corners[2:])) is not None
