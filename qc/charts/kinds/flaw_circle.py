"""The flaw as it was circled by finger, to be laid over its photo: the photo's own bytes stay as they are."""

from qc.charts.drawing import svg
from qc.domain.unit.unit_record import Circle


def flaw_circle(circle: Circle, width: int, height: int) -> str:
    """Return an ellipse that fills a box, on a drawing as large as the photo; circle: shares of width and height, px.

    A light line on a dark one is seen on any photo. Whoever cannot see it reads it in the photo's own words.
    """
    left, top, right, bottom = circle
    place = {
        "cx": f"{(left + right) / 2 * width:.1f}",
        "cy": f"{(top + bottom) / 2 * height:.1f}",
        "rx": f"{(right - left) / 2 * width:.1f}",
        "ry": f"{(bottom - top) / 2 * height:.1f}",
    }
    lines = [svg.element("ellipse", {**place, "class_": name}) for name in ("halo", "ring")]
    return svg.element("svg", {"class_": "flaw", "viewBox": f"0 0 {width} {height}", "aria_hidden": "true"}, *lines)
