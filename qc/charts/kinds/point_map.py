"""Where on the unit one defect was touched: its view with what is seen there, its zone filled, the point on it."""

from collections.abc import Sequence

from qc.charts.drawing import svg
from qc.charts.kinds.outlines import outline_shapes
from qc.charts.kinds.zone_map import middle
from qc.domain.plant.plant import Outline, View, Zone

EDGE = 220.0  # room for a mark on the outermost edge


def point_drawing(
    view: View, zones: Sequence[Zone], key: str, place: tuple[int, int] | None, outlines: Sequence[Outline] = ()
) -> str:
    """Return the view that holds a zone; place: the touched point in the view's millimetres, None for the zone alone.

    outlines: what the unit looks like there; with them the zones beside are left out.
    The words beside say where it is, so the drawing says it again only to a reader who asks: it is titled.
    """
    own = sorted((zone for zone in zones if zone.view == view.id), key=lambda zone: zone.layer)
    zone = next(zone for zone in own if zone.key == key)
    lines = [one for one in outlines if one.view == view.id]
    corners = [point for one in own for point in one.points] + [point for one in lines for point in one.points]
    across, up = zip(*corners, strict=True)
    left, top = min(across) - EDGE, max(up) + EDGE

    def at(x: float, y: float) -> tuple[float, float]:
        return x - left, top - y  # the plant's y runs up, a drawing's down

    def outline(one: Zone) -> str:
        corners = " ".join(f"{x:.0f},{y:.0f}" for x, y in (at(*point) for point in one.points))
        return svg.element("polygon", {"points": corners, "class_": "zone-here" if one is zone else "zone-other"})

    x, y = place or middle(zone)
    looks = "point-here" if place else "point-zone"
    size = f"0 0 {max(across) + EDGE - left:g} {top - min(up) + EDGE:g}"
    head = {"class_": "where", "viewBox": size, "role": "img", "aria_label": f"{view.name}: {zone.name}"}
    beside = [outline_shapes(lines, at)] if lines else [outline(one) for one in own if one is not zone]
    return svg.element("svg", head, *beside, outline(zone), svg.dot(*at(x, y), 150, looks))
