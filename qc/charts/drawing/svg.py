"""Small drawings made on the server: well-formed SVG from escaped parts, coloured by the page's style sheet only."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import groupby, pairwise
from xml.sax.saxutils import escape, quoteattr

SHORT = 24  # characters: classes and roles, the same few a thousand times a page, not paths


def element(name: str, attributes: Mapping[str, object], *children: str) -> str:
    """Return one element; attribute names use "_" for "-" and a trailing "_" for Python's own words."""
    written = "".join([f" {_name(key)}={_quoted(value)}" for key, value in attributes.items()])
    return f"<{name}{written}>{''.join(children)}</{name}>" if children else f"<{name}{written}/>"


@lru_cache(maxsize=256)
def _name(key: str) -> str:
    return key.rstrip("_").replace("_", "-")


def _quoted(value: object) -> str:
    if isinstance(value, float):
        return f'"{_figure(value)}"'
    if isinstance(value, int):
        return f'"{value}"'
    text = str(value)
    return _kept(text) if len(text) < SHORT else quoteattr(text)


def _figure(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


@lru_cache(maxsize=1024)
def _kept(value: str) -> str:
    return quoteattr(value)


def text(x: float, y: float, words: str, class_: str = "") -> str:
    """Return words at a place; the class says how they are set."""
    return element("text", {"x": x, "y": y, "class_": class_}, escape(words))


def line(x1: float, y1: float, x2: float, y2: float, class_: str) -> str:
    """Return a straight line."""
    return element("line", {"x1": x1, "y1": y1, "x2": x2, "y2": y2, "class_": class_})


def rect(x: float, y: float, width: float, height: float, class_: str) -> str:
    """Return a rectangle; a height or width below 0 is drawn as 0."""
    return element("rect", {"x": x, "y": y, "width": max(0.0, width), "height": max(0.0, height), "class_": class_})


def path(points: Sequence[tuple[float, float]], class_: str) -> str:
    """Return a line through the points, to a tenth; nothing for fewer than two.

    A point at which the line goes straight on along an axis is left out: a limit that stands for weeks has one a week.
    """
    if len(points) < 2:
        return ""
    (x, y), *others = turns = _turns([(round(x, 1), round(y, 1)) for x, y in points])
    steps = "".join(_step(before, to) for before, to in pairwise(turns)) if others else f"L{_figure(x)} {_figure(y)}"
    return element("path", {"d": f"M{_figure(x)} {_figure(y)}{steps}", "class_": class_})


def _turns(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the first point, the last, and those between at which a line along an axis turns; none twice running."""
    apart = [point for point, _ in groupby(points)]
    kept = apart[:1]
    for (x, y), (to_x, to_y) in pairwise(apart[1:]):
        from_x, from_y = kept[-1]
        upright = from_x == x == to_x and (y - from_y) * (to_y - y) > 0
        level = from_y == y == to_y and (x - from_x) * (to_x - x) > 0
        if not (upright or level):
            kept.append((x, y))
    return kept + apart[1:][-1:]


def _step(before: tuple[float, float], to: tuple[float, float]) -> str:
    x, y = map(_figure, to)
    if before[1] == to[1]:
        return f"H{x}"
    return f"V{y}" if before[0] == to[0] else f"L{x} {y}"


def dot(x: float, y: float, radius: float, class_: str, says: str = "") -> str:
    """Return a round mark; says is its title."""
    return element("circle", {"cx": x, "cy": y, "r": radius, "class_": class_}, *_title(says))


def diamond(x: float, y: float, radius: float, class_: str, says: str = "") -> str:
    """Return a mark standing on its corner: a signal."""
    corners = f"{x:.1f},{y - radius:.1f} {x + radius:.1f},{y:.1f} {x:.1f},{y + radius:.1f} {x - radius:.1f},{y:.1f}"
    return element("polygon", {"points": corners, "class_": class_}, *_title(says))


def cross(x: float, y: float, arm: float, class_: str, says: str = "") -> str:
    """Return two strokes across a mark: it is there, and left out of something."""
    left, right, top, foot = (f"{value:.1f}" for value in (x - arm, x + arm, y - arm, y + arm))
    strokes = f"M{left} {top}L{right} {foot}M{right} {top}L{left} {foot}"
    return element("path", {"d": strokes, "class_": class_}, *_title(says))


def square(x: float, y: float, radius: float, class_: str, says: str = "") -> str:
    """Return a square mark: the second series."""
    sides = {"x": x - radius, "y": y - radius, "width": 2 * radius, "height": 2 * radius, "class_": class_}
    return element("rect", sides, *_title(says))


def group(says: str, *parts: str) -> str:
    """Return marks that belong together under one title."""
    return element("g", {}, *_title(says), *parts) if parts else ""


def titled(says: str) -> str:
    """Return the words that a pointer or a screen reader gets for the mark they stand in."""
    return element("title", {}, escape(says))


def _title(says: str) -> tuple[str, ...]:
    return (titled(says),) if says else ()


def drawing(id_: str, width: float, height: float, title: str, says: str, *parts: str) -> str:
    """Return a whole drawing with its title and its sentence for those who do not see it."""
    head = {
        "xmlns": "http://www.w3.org/2000/svg",
        "class_": "figure",
        "viewBox": f"0 0 {width:g} {height:g}",
        "role": "img",
        "aria_labelledby": f"{id_}-title {id_}-says",
    }
    labels = (
        element("title", {"id": f"{id_}-title"}, escape(title)),
        element("desc", {"id": f"{id_}-says"}, escape(says)),
    )
    return element("svg", head, *labels, *parts)
