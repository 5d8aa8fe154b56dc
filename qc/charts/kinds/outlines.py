"""What a unit looks like in one view: the plant's outlines as lines, at one scale both ways."""

from collections.abc import Callable, Iterable, Sequence
from math import dist

from qc.charts.drawing import svg
from qc.domain.plant.plant import CLOSED_PARTS, Outline

At = Callable[[float, float], tuple[float, float]]
Corner = tuple[float, float]
HUB = 0.45  # of a wheel's radius
SLATS = 3  # of a vent


def outline_shapes(outlines: Iterable[Outline], at: At) -> str:
    """Return the lines in table order as one group, "" for none; at: a point of the view in the drawing's millimetres.

    A reader is not told of them: the drawing's words say what was found where.
    """
    drawn = [shape for one in outlines for shape in _shapes(one, at)]
    return svg.element("g", {"class_": "outlines", "aria_hidden": "true"}, *drawn) if drawn else ""


def _shapes(one: Outline, at: At) -> list[str]:
    corners = [at(*point) for point in one.points]
    if one.part == "wheel":
        radius = dist(*one.points)
        return [svg.dot(*corners[0], radius, "part"), svg.dot(*corners[0], radius * HUB, "part-line")]
    if one.swing == "plan":
        return _plan_door(*corners)
    if one.part not in CLOSED_PARTS:
        return [svg.path(corners, "part-line")]
    closed = svg.element("polygon", {"points": _joined(corners), "class_": f"part part-{one.part}"})
    if one.part == "vent":
        return [closed, *_slats(corners)]
    return [closed, svg.path(_swing(corners, one.swing), "part-swing")] if one.swing else [closed]


def _joined(corners: Sequence[Corner]) -> str:
    return " ".join(f"{x:.0f},{y:.0f}" for x, y in corners)


def _sides(corners: Sequence[Corner]) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return min(xs), max(xs), min(ys), max(ys)


def _swing(corners: Sequence[Corner], hung: str) -> list[Corner]:
    """Return two lines from the free edge's corners to the middle of the side on which a door in elevation hangs."""
    left, right, top, foot = _sides(corners)
    x, y = (left + right) / 2, (top + foot) / 2
    return {
        "left": [(right, top), (left, y), (right, foot)],
        "right": [(left, top), (right, y), (left, foot)],
        "top": [(left, foot), (x, top), (right, foot)],
    }.get(hung, [(left, top), (x, foot), (right, top)])


def _plan_door(hinge: Corner, shut: Corner, opened: Corner) -> list[str]:
    """Return a door seen from above: the way that its free edge goes, and its leaf as it stands open."""
    corner = shut[0] + opened[0] - hinge[0], shut[1] + opened[1] - hinge[1]
    way = f"M{_joined([hinge])} L{_joined([opened])} Q{_joined([corner])} {_joined([shut])}"
    return [svg.element("path", {"d": way, "class_": "part-swing"})]


def _slats(corners: Sequence[Corner]) -> list[str]:
    left, right, top, foot = _sides(corners)
    heights = [top + (foot - top) * each / (SLATS + 1) for each in range(1, SLATS + 1)]
    return [svg.path([(left, y), (right, y)], "part-line") for y in heights]
