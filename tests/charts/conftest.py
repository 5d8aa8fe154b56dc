"""What every picture must hold, checked by tools from outside: plotly's own schema, an XML parser, strict JSON."""

import json
from collections.abc import Callable
from xml.etree import ElementTree

import pytest

from qc.charts.drawing.picture import Picture


def value_at(figure: dict, point: tuple[int, int]) -> object:
    """Return what a figure draws at (curve, point): y for upright curves, x for lying ones."""
    curve = figure["data"][point[0]]
    lying = curve.get("orientation") == "h" or "error_x" in curve
    return curve["x" if lying else "y"][point[1]]


@pytest.fixture
def sound() -> Callable[[Picture], None]:
    """Return the check: the figure is valid plotly and plain JSON, the drawing is XML, bound rows have a mark."""

    def check(picture: Picture) -> None:
        import plotly.graph_objects as go

        go.Figure(picture.figure)  # raises ValueError on any property that plotly's schema does not have
        json.dumps(picture.figure, allow_nan=False)
        drawing = ElementTree.fromstring(picture.svg)
        assert drawing.tag == "{http://www.w3.org/2000/svg}svg"
        assert drawing.get("role") == "img"
        named = {part.get("id") for part in drawing.iter()}
        assert set(drawing.get("aria-labelledby").split()) <= named
        assert "style=" not in picture.svg
        assert picture.says.strip()
        assert picture.basis.strip()
        for row in picture.table.rows:
            if row.point is not None:
                assert value_at(picture.figure, row.point) is not None, row.head

    return check
