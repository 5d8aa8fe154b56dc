"""The unit's own lines on a drawing, after the invented plant's tables; geometry by hand."""

from pathlib import Path
from xml.etree import ElementTree

import pytest

from qc.charts.kinds.outlines import outline_shapes
from qc.charts.kinds.point_map import point_drawing
from qc.domain.plant.plant import Outline
from qc.domain.tables.plant_tables import read_plant

SVG = "{http://www.w3.org/2000/svg}"
PLANT = read_plant(Path("demo_data/plant"))


def outline(part, *points, swing=""):
    return Outline(model="T36", view="near", part=part, points=points, swing=swing)


def drawn(*outlines):
    """The shapes with the plant's y turned down, 1 000 mm high."""
    return ElementTree.fromstring(f"<svg>{outline_shapes(outlines, lambda x, y: (x, 1000 - y))}</svg>")


def test_a_wheel_stands_round_at_its_centre_with_its_own_radius():
    """A 3-4-5 triangle: the rim is 500 mm from the centre."""
    tyre, hub = drawn(outline("wheel", (1000, 300), (1300, 700))).iter("circle")

    assert (tyre.get("cx"), tyre.get("cy"), tyre.get("r")) == ("1000", "700", "500")
    assert hub.get("r") == "225"


def test_a_doors_lines_meet_where_it_hangs():
    door = outline("door", (0, 0), (600, 0), (600, 1000), (0, 1000), swing="left")
    (swing,) = drawn(door).iter("path")

    assert swing.get("d") == "M600 0L0 500L600 1000"


def test_a_line_stays_open_and_a_window_closes():
    shapes = drawn(outline("line", (0, 0), (100, 0)), outline("window", (0, 0), (9, 0), (9, 9)))

    assert [one.tag for one in shapes.iter() if one.tag in ("path", "polygon")] == ["path", "polygon"]


def test_a_plant_without_outlines_draws_none():
    assert outline_shapes((), lambda x, y: (x, y)) == ""


@pytest.mark.parametrize("model", PLANT.models)
def test_the_cards_drawing_holds_every_line_of_the_invented_plants_models(model):
    for zone in PLANT.zones_of(model):
        view = PLANT.views[zone.view]
        shown = ElementTree.fromstring(
            point_drawing(view, PLANT.zones_of(model), zone.key, None, PLANT.outlines_of(model))
        )
        _, _, width, height = map(float, shown.get("viewBox").split())
        for part in shown.iter("polygon"):
            for corner in part.get("points").split():
                x, y = map(float, corner.split(","))
                assert 0 <= x <= width
                assert 0 <= y <= height
