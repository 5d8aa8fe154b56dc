"""What every picture must hold, checked by tools from outside: plotly's own schema, an XML parser, strict JSON."""

import json
from collections import Counter
from collections.abc import Callable
from xml.etree import ElementTree

import pytest

from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Bars, Cells, Line, Look, Mark, Marks, Scene

SVG = "{http://www.w3.org/2000/svg}"


def marks_of(scene: Scene, look: Look) -> list[Mark]:
    """Return the marks of one look."""
    return [mark for part in scene.parts if isinstance(part, Marks) and part.look == look for mark in part.marks]


def lines_of(scene: Scene, look: Look) -> list[Line]:
    """Return the lines of one look; of limits the upper one comes first."""
    return [part for part in scene.parts if isinstance(part, Line) and part.look == look]


def values_of(line: Line) -> list[object]:
    """Return how high a line goes at each place."""
    return [y for _, y in line.points]


def trace_of(picture: Picture, look: Look) -> dict:
    """Return the trace that draws the first part of a look."""
    place = next(n for n, part in enumerate(picture.scene.parts) if part.look == look)
    return picture.figure["data"][place]


def told_in(picture: Picture) -> Counter[str]:
    """Return what the marks and bars of a scene tell, those that either drawer must draw."""
    told: Counter[str] = Counter()
    for part in picture.scene.parts:
        if isinstance(part, Marks):
            told.update(", ".join(mark.hover) for mark in part.marks if mark.x is not None and mark.hover)
        elif isinstance(part, Bars):
            told.update(", ".join(bar.hover) for bar in part.bars if bar.length)
    told.update(", ".join(note.hover) for note in picture.scene.notes)
    return told


def told_by_figure(picture: Picture) -> Counter[str]:
    """Return what the figure's drawn marks and bars tell."""
    told: Counter[str] = Counter()
    for trace in picture.figure["data"]:
        lengths = trace["x" if trace.get("orientation") == "h" else "y"] if "base" in trace else trace.get("x", [])
        told.update(
            words.replace("<br>", ", ")
            for words, drawn in zip(trace.get("hovertext", []), lengths, strict=False)
            if (drawn if "base" in trace else drawn is not None)
        )
    signs = picture.figure["layout"].get("annotations", [])
    told.update(sign["hovertext"].replace("<br>", ", ") for sign in signs if "hovertext" in sign)
    return told


@pytest.fixture
def sound() -> Callable[[Picture], None]:
    """Return the check: valid plotly and plain JSON, valid XML, both drawings with every mark, bound rows with one."""

    def check(picture: Picture) -> None:
        import plotly.graph_objects as go

        go.Figure(picture.figure)  # raises ValueError on any property that plotly's schema does not have
        json.dumps(picture.figure, allow_nan=False)
        drawing = ElementTree.fromstring(picture.svg)
        assert drawing.tag == f"{SVG}svg"
        assert drawing.get("role") == "img"
        named = {part.get("id") for part in drawing.iter()}
        assert set(drawing.get("aria-labelledby").split()) <= named
        assert "style=" not in picture.svg
        titles = Counter(part.text for part in drawing.iter(f"{SVG}title") if part.get("id") is None)
        assert titles == told_by_figure(picture) == told_in(picture)
        if any(isinstance(part, Cells) for part in picture.scene.parts):
            assert len([part for part in drawing.iter() if part.get("class") == "cell"])
        assert picture.says.strip()
        assert picture.basis.strip()
        bound = {key for trace in picture.figure["data"] for key in trace.get("customdata", [])}
        assert {row.mark for row in picture.table.rows} - {""} <= bound

    return check
