"""Outlines of zones: whether a list of corners makes a plain polygon, and whether two lie over one another."""

import math

from qc.domain.words.speaking import say

Corner = tuple[int, int]


def turn(a: Corner, b: Corner, c: Corner) -> int:
    """Return a positive number where a→b→c turns left, negative right, 0 where the three lie on one line."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def within_box(a: Corner, b: Corner, c: Corner) -> bool:
    """Return whether c lies in the upright box that a and b span."""
    return min(a[0], b[0]) <= c[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= c[1] <= max(a[1], b[1])


def edges_touch(a: Corner, b: Corner, c: Corner, d: Corner) -> bool:
    """Return whether the edges a-b and c-d have a point in common."""
    one, two, three, four = turn(a, b, c), turn(a, b, d), turn(c, d, a), turn(c, d, b)
    if ((one > 0) != (two > 0)) and ((three > 0) != (four > 0)) and 0 not in (one, two, three, four):
        return True
    ends = ((one, a, b, c), (two, a, b, d), (three, c, d, a), (four, c, d, b))
    return any(side == 0 and within_box(p, q, r) for side, p, q, r in ends)


def twice_the_area(corners: tuple[Corner, ...]) -> int:
    """Return twice the signed area in mm² (shoelace formula), positive counter-clockwise."""
    pairs = zip(corners, corners[1:] + corners[:1], strict=True)
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)


def outline_fault(corners: tuple[Corner, ...]) -> str | None:
    """Return what is wrong with an outline and what would do, None for a plain polygon with an area."""
    if len(corners) < 3:
        return say("has {corners} corners; an outline needs at least 3", corners=len(corners))
    if len(set(corners)) < len(corners):
        return say("names one corner twice; leave the closing corner out")
    edges = list(zip(corners, corners[1:] + corners[:1], strict=True))
    for first in range(len(edges)):
        for second in range(first + 2, len(edges)):
            neighbours = first == 0 and second == len(edges) - 1
            if not neighbours and edges_touch(*edges[first], *edges[second]):
                return say("crosses itself; name the corners in order round the zone")
    if twice_the_area(corners) == 0:
        return say("has no area; its corners lie on one line")
    return None


def overlap(one: tuple[Corner, ...], other: tuple[Corner, ...]) -> bool:
    """Return whether two plain polygons have an area in common; a shared edge or corner is none.

    They do where edges cross, or where a point just inside an edge of one lies inside the other; neither is asked
    where the upright boxes round them have no area in common.
    """
    if not _boxes_overlap(one, other):
        return False
    edges = [list(zip(each, each[1:] + each[:1], strict=True)) for each in (one, other)]
    if any(_cross(a, b, c, d) for a, b in edges[0] for c, d in edges[1]):
        return True
    inner = [[_just_inside(a, b, each) for a, b in own] for each, own in zip((one, other), edges, strict=True)]
    return any(_inside(point, other) for point in inner[0]) or any(_inside(point, one) for point in inner[1])


def _boxes_overlap(one: tuple[Corner, ...], other: tuple[Corner, ...]) -> bool:
    return all(
        max(min(point[axis] for point in each) for each in (one, other))
        < min(max(point[axis] for point in each) for each in (one, other))
        for axis in (0, 1)
    )


def _cross(a: Corner, b: Corner, c: Corner, d: Corner) -> bool:
    one, two, three, four = turn(a, b, c), turn(a, b, d), turn(c, d, a), turn(c, d, b)
    return 0 not in (one, two, three, four) and (one > 0) != (two > 0) and (three > 0) != (four > 0)


def _just_inside(a: Corner, b: Corner, corners: tuple[Corner, ...]) -> tuple[float, float]:
    """Return a point a quarter of a millimetre from the middle of an edge, on the polygon's own side."""
    length = math.hypot(b[0] - a[0], b[1] - a[1])
    side = 0.25 if twice_the_area(corners) > 0 else -0.25
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return middle[0] - side * (b[1] - a[1]) / length, middle[1] + side * (b[0] - a[0]) / length


def _inside(point: tuple[float, float], corners: tuple[Corner, ...]) -> bool:
    """Return whether a ray to the right crosses the outline an odd number of times (Jordan)."""
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in zip(corners, corners[1:] + corners[:1], strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            inside = not inside
    return inside
