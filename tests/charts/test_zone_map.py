"""A unit's drawing tells looked at, not looked at and no record apart, by edge and by words."""

from xml.etree import ElementTree

from qc.charts.kinds.zone_map import ZoneMark, view_drawing
from qc.domain.plant.plant import Outline, View, ViewPicture, Zone

VIEW = View("front", "Front", "offside", "nearside", "", "")


def zone(key, layer=0, x=0):
    square = ((x, 0), (x + 1000, 0), (x + 1000, 1000), (x, 1000))
    return Zone(
        id=key,
        model="T36",
        view="front",
        key=key,
        name=key.title(),
        kind="panel",
        layer=layer,
        points=square,
        walk_order=1,
        caution="",
    )


def drawn(looks, marks=()):
    zones = (zone("over", 1), zone("a"), zone("b", x=1000), zone("c", x=2000))
    return ElementTree.fromstring(view_drawing("v", VIEW, zones, looks, marks))


def classes(svg):
    return {
        part.find("{http://www.w3.org/2000/svg}title").text: part.get("class")
        for part in svg.iter("{http://www.w3.org/2000/svg}polygon")
    }


def test_the_three_states_of_a_zone_are_told_apart():
    svg = drawn({"a": "looked", "b": "not_looked"})

    assert classes(svg) == {
        "A: looked at": "zone-looked",
        "B: not looked at": "zone-not",
        "C: no record of anyone looking": "zone-none",
        "Over: no record of anyone looking": "zone-none",
    }


def test_the_upper_layer_is_drawn_last():
    assert list(classes(drawn({})))[-1].startswith("Over")


def test_a_defect_is_marked_where_it_was_touched_or_in_the_middle_of_its_zone():
    svg = drawn({}, (ZoneMark(1, "a", (200, 900)), ZoneMark(2, "b", None), ZoneMark(3, "elsewhere", None)))
    circles = list(svg.iter("{http://www.w3.org/2000/svg}circle"))

    # y runs up on the plant's drawing and down on the screen; the edge is 220 mm
    assert [(mark.get("cx"), mark.get("cy")) for mark in circles] == [("420", "320"), ("1720", "720")]


def test_a_view_without_zones_is_no_drawing():
    assert view_drawing("v", View("roof", "Roof", "", "", "", ""), (zone("a"),), {}, ()) == ""


def test_a_picture_lies_under_the_zones_in_its_place_and_instead_of_the_outlines():
    place = {"left": -100, "bottom": 0, "right": 1100, "top": 900}
    picture = ViewPicture(model="T36", view="front", sha256="ab" * 32, width=4, height=3, **place)
    zones = (zone("a"),)
    lines = [Outline(model="T36", view=VIEW.id, part="body", points=((0, 0), (1000, 0), (1000, 1000)))]

    drawn = ElementTree.fromstring(view_drawing("v", VIEW, zones, {}, (), lines, picture))
    image = next(each for each in drawn.iter() if each.tag.endswith("image"))
    corner = next(each for each in drawn.iter() if each.tag.endswith("polygon")).attrib["points"].split()[0]

    assert image.attrib["href"] == f"/photos/{'ab' * 32}"
    assert (image.attrib["width"], image.attrib["height"]) == ("1200", "900")
    x, y = map(float, corner.split(","))
    zone_x, zone_y = zones[0].points[0]
    assert float(image.attrib["x"]) - x == -100 - zone_x
    assert float(image.attrib["y"]) - y == -(900 - zone_y)
    assert not [each for each in drawn.iter() if each.attrib.get("class") == "outlines"]
