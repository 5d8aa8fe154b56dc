"""A unit's views as drawings: which zones were looked at, which were not, and where the defects are."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from qc.charts.drawing import svg
from qc.charts.kinds.outlines import outline_shapes
from qc.domain.plant.plant import Outline, View, ViewPicture, Zone
from qc.domain.words.speaking import marked, say

At = Callable[[float, float], tuple[float, float]]
Look = Literal["looked", "not_looked", "no_record"]
LOOK_WORDS: dict[Look, str] = {
    "looked": marked("looked at"),
    "not_looked": marked("not looked at"),
    "no_record": marked("no record of anyone looking"),
}
CLASSES: dict[Look, str] = {"looked": "zone-looked", "not_looked": "zone-not", "no_record": "zone-none"}


@dataclass(frozen=True, slots=True)
class ZoneMark:
    """A defect on a view: its number in the list beside, its zone's key, its place in millimetres (None: the zone)."""

    number: int
    zone: str
    place: tuple[int, int] | None


def view_drawing(
    id_: str,
    view: View,
    zones: Sequence[Zone],
    looks: Mapping[str, Look],
    marks: Sequence[ZoneMark],
    outlines: Sequence[Outline] = (),
    picture: ViewPicture | None = None,
) -> str:
    """Return one view of a unit, "" where no zone lies in it. Zones missing from looks have no record.

    Dashes and words tell, not colour alone. outlines: what the unit looks like there, drawn over the zones; picture: of
    it, which lies under them in place of the outlines.
    """
    own = sorted((zone for zone in zones if zone.view == view.id), key=lambda zone: zone.layer)
    if not own:
        return ""
    lines = [one for one in outlines if one.view == view.id]
    places = [*(point for zone in own for point in zone.points), *(point for one in lines for point in one.points)]
    x0, x1 = min(x for x, _ in places), max(x for x, _ in places)
    y0, y1 = min(y for _, y in places), max(y for _, y in places)
    edge = 220.0  # room for a mark on the outermost edge

    def at(x: float, y: float) -> tuple[float, float]:
        return x - x0 + edge, y1 - y + edge  # the plant's y runs up, a drawing's down

    shapes = [_outline(zone, looks.get(zone.key, "no_record"), at) for zone in own]
    drawn = [_mark(mark, own, at) for mark in marks if any(zone.key == mark.zone for zone in own)]
    size = x1 - x0 + 2 * edge, y1 - y0 + 2 * edge
    if picture is None:
        parts = *shapes, outline_shapes(lines, at), *drawn
    else:
        parts = _under(picture, at), svg.element("g", {"class_": "over-picture"}, *shapes), *drawn
    return svg.drawing(id_, *size, view.name, _says(view, own, looks, marks), *parts)


def _under(picture: ViewPicture, at: At) -> str:
    x, y = at(picture.left, picture.top)
    size = {"width": picture.right - picture.left, "height": picture.top - picture.bottom}
    address = f"/photos/{picture.sha256}"
    return svg.element("image", {"href": address, "x": x, "y": y, **size, "preserveAspectRatio": "none"})


def _outline(zone: Zone, look: Look, at: At) -> str:
    corners = " ".join(f"{x:.0f},{y:.0f}" for x, y in (at(*point) for point in zone.points))
    title = svg.titled(f"{zone.name}: {say(LOOK_WORDS[look])}")
    return svg.element("polygon", {"points": corners, "class_": CLASSES[look]}, title)


def _mark(mark: ZoneMark, zones: Sequence[Zone], at: At) -> str:
    zone = next(zone for zone in zones if zone.key == mark.zone)
    x, y = at(*(mark.place or middle(zone)))
    return svg.element("g", {}, svg.dot(x, y, 150, "zone-mark"), svg.text(x, y + 68, str(mark.number), "zone-number"))


def middle(zone: Zone) -> tuple[int, int]:
    """Return the middle of a zone's box, in millimetres."""
    xs, ys = [x for x, _ in zone.points], [y for _, y in zone.points]
    return (min(xs) + max(xs)) // 2, (min(ys) + max(ys)) // 2


def _says(view: View, zones: Sequence[Zone], looks: Mapping[str, Look], marks: Sequence[ZoneMark]) -> str:
    keys = {zone.key for zone in zones}
    counts = {look: sum(looks.get(key, "no_record") == look for key in keys) for look in LOOK_WORDS}
    counted = ", ".join(f"{count} {say(LOOK_WORDS[look])}" for look, count in counts.items() if count)
    here = sum(mark.zone in keys for mark in marks)
    return say(
        "{view}, {left} at the left and {right} at the right. Zones: {zones}. Defects marked: {defects}.",
        view=view.name, left=view.left, right=view.right, zones=counted, defects=here,
    )  # fmt: skip
