"""Where on the unit one defect was touched: its view with the zones as outlines, its zone filled, the point on it."""

from collections.abc import Sequence

from qc.charts.drawing import svg
from qc.charts.kinds.zone_map import middle
from qc.domain.plant import View, Zone

EDGE = 220.0  # room for a mark on the outermost edge


def point_drawing(view: View, zones: Sequence[Zone], key: str, place: tuple[int, int] | None) -> str:
    """Return the view that holds a zone; place: the touched point in the view's millimetres, None for the zone alone.

    The words beside say where it is, so the drawing says it again only to a reader who asks: it is titled.
    """
    own = sorted((zone for zone in zones if zone.view == view.id), key=lambda zone: zone.layer)
    zone = next(zone for zone in own if zone.key == key)
    across, up = [x for one in own for x, _ in one.points], [y for one in own for _, y in one.points]
    left, top = min(across) - EDGE, max(up) + EDGE

    def outline(one: Zone) -> str:
        corners = " ".join(f"{x - left:.0f},{top - y:.0f}" for x, y in one.points)
        return svg.element("polygon", {"points": corners, "class_": "zone-here" if one is zone else "zone-other"})

    x, y = place or middle(zone)
    looks = "point-here" if place else "point-zone"
    size = f"0 0 {max(across) + EDGE - left:g} {top - min(up) + EDGE:g}"
    head = {"class_": "where", "viewBox": size, "role": "img", "aria_label": f"{view.name}: {zone.name}"}
    parts = (*(outline(one) for one in own if one is not zone), outline(zone))
    return svg.element("svg", head, *parts, svg.dot(x - left, top - y, 150, looks))
