"""A scene as a small drawing (SVG) that a page, a phone and a print show as it is."""

from collections.abc import Iterator, Sequence
from math import inf
from textwrap import wrap

from qc.charts.drawing import svg, words
from qc.charts.drawing.frame import BOTTOM, HALF_LETTER, HEIGHT, LEFT, LETTERS, TOP, WIDTH, Frame
from qc.charts.drawing.scene import (
    Bar,
    Bars,
    Cells,
    Hover,
    Line,
    Look,
    Marks,
    Note,
    Part,
    Places,
    Point,
    Scene,
    Spot,
    spread,
    ticks,
)

BESIDE = 9.0  # from a mark's middle to its word
ROW, BAR = 40.0, 14.0  # heights of one thing with its words, and of its bar
CELL, SIDE, HEAD = 26.0, 64.0, 32.0  # height of one row of cells, width of the rows' names, height of the columns'


def drawing(scene: Scene, id_: str, title: str, says: str) -> str:
    """Return the drawing; title and says are for those who do not see it, id_ is unique on a page."""
    if not isinstance(scene.y, Places):
        height, parts = HEIGHT, _framed(scene)
    elif isinstance(scene.x, Places):
        head = _head(scene.x)
        height, parts = head + CELL * max(1, len(scene.y.labels)), _cells(scene.x, scene.y, scene.parts, head)
    else:
        height, parts = ROW * max(1, len(scene.y.labels)) + 4, _things(scene, scene.y)
    return svg.drawing(id_, WIDTH, height, title, says, *parts)


def _framed(scene: Scene) -> Iterator[str]:
    """Yield periods or values across, values up."""
    frame = Frame.of(scene)
    yield from frame.axes()
    every = [mark for part in scene.parts if isinstance(part, Marks) for mark in part.marks]
    others = [frame.at(mark.x, mark.y) for mark in every if mark.x is not None]
    for part in scene.parts:
        if isinstance(part, Line):
            yield from _line(frame, part)
        elif isinstance(part, Marks):
            for mark in part.marks:
                if mark.x is not None:
                    x, y = frame.at(mark.x, mark.y)
                    yield _mark(part.look, x, y, frame.radius, mark.hover)
                    yield _worded(x, y, mark.word, others) if mark.word else ""
        elif isinstance(part, Bars):
            yield from (_upright(frame, part.look, bar) for bar in part.bars if bar.length)
    yield from _ends(frame, scene)
    yield from _notes(frame, scene.notes)


def _worded(x: float, y: float, word: str, others: Sequence[tuple[float, float]]) -> str:
    """Return a mark's word beside it: on its right, unless another mark stands there and none on its left."""
    wide = BESIDE + 2 * HALF_LETTER * len(word) + BESIDE / 2

    def is_taken(way: int) -> bool:
        return any(0 < way * (to_x - x) < wide and abs(to_y - y) < LETTERS for to_x, to_y in others)

    if is_taken(1) and not is_taken(-1) and x - wide > LEFT:
        return svg.text(x - BESIDE, y + 4, word, "strong end")
    return svg.text(x + BESIDE, y + 4, word, "strong")


def _ends(frame: Frame, scene: Scene) -> Iterator[str]:
    line = LETTERS * frame.top / (HEIGHT - TOP - BOTTOM)
    for lines, height in spread(scene.ends, line, frame.top):
        first = frame.y(height) + 4 - LETTERS * (len(lines) - 1) / 2
        yield from (svg.text(frame.right + 5, first + LETTERS * n, words) for n, words in enumerate(lines))


def _line(frame: Frame, part: Line) -> Iterator[str]:
    for run in _runs(part.points, frame.top):
        steps = [corner for x, y in run for corner in (frame.step(x, y) if part.steps else (frame.at(x, y),))]
        yield svg.path(steps, part.look)


def _runs(points: Sequence[Point], top: float = inf) -> Iterator[list[tuple[Spot, Spot]]]:
    """Yield the stretches of a line that nothing breaks; what lies above the top breaks it."""
    run: list[tuple[Spot, Spot]] = []
    for x, y in (*points, (None, None)):
        if x is None or y is None or (isinstance(y, (int, float)) and y > top):
            yield run
            run = []
        else:
            run.append((x, y))


def _upright(frame: Frame, look: Look, bar: Bar) -> str:
    wide = 0.7 * frame.slot
    (x, base), (_, top) = frame.at(bar.place, bar.start), frame.at(bar.place, bar.start + bar.length)
    hollow = "hollow" if bar.hollow and look == "bar" else look
    return svg.group(_said(bar.hover), svg.rect(x - wide / 2, top, wide, base - top, hollow))


def _notes(frame: Frame, notes: Sequence[Note]) -> Iterator[str]:
    for note in notes:
        x = frame.x(note.place)
        line = svg.line(x, TOP, x, HEIGHT - BOTTOM, "note")
        yield svg.group(_said(note.hover), line, svg.text(x + 3, TOP + 10, note.letter, "strong"))


def key_mark(look: Look) -> str:
    """Return a mark as it stands in a key, 36 by 16."""
    if look in ("bar", "bar-second", "cell"):
        drawn = svg.rect(3, 3, 30, 10, look)
    elif look in ("limit", "centre", "line", "line-second"):
        drawn = svg.path(((1, 8), (35, 8)), look)
    else:
        drawn = _mark(look, 18, 8, 4, ())
    return svg.element("svg", {"viewBox": "0 0 36 16", "aria_hidden": "true", "focusable": "false"}, drawn)


def _mark(look: Look, x: float, y: float, radius: float, hover: Hover) -> str:
    """Return a mark in the shape of its look."""
    said = _said(hover)
    if look == "signal":
        return svg.diamond(x, y, min(6.0, max(4.0, 1.7 * radius)), look, said)
    if look == "excluded":
        return svg.cross(x, y, 6, look, said)
    if look == "tick":
        return svg.line(x, y - 9, x, y + 9, look)
    if look in ("point-second", "hollow-second"):
        return svg.square(x, y, radius, look, said)
    return svg.dot(x, y, radius, look, said)


def _said(hover: Hover) -> str:
    return ", ".join(hover)


def _things(scene: Scene, down: Places) -> Iterator[str]:
    """Yield things one below the other: the label above, values to the right of nought below it."""
    lying = any(isinstance(part, Bars) for part in scene.parts)
    left, right = (0.0, 70.0) if lying else (8.0, 16.0)
    scale = (WIDTH - left - right) / ticks(scene.furthest(True))[-1]
    middle = {label: ROW * place + (25 if lying else 26) for place, label in enumerate(down.labels)}
    yield from (svg.text(0, middle[label] - 13, _headed(scene, label)) for label in down.labels)

    def at(x: Spot | None) -> float:
        assert isinstance(x, (int, float))
        return left + x * scale

    for part in scene.parts:
        if isinstance(part, Bars):
            for bar in part.bars:
                rect = svg.rect(at(bar.start), middle[bar.place] - BAR / 2, bar.length * scale, BAR, part.look)
                yield svg.group(_said(bar.hover), rect)
                yield svg.text(at(_reach(scene, bar.place)) + 8, middle[bar.place] + 5, bar.word, "strong")
        elif isinstance(part, Marks):
            for mark in part.marks:
                if mark.x is not None:
                    yield _mark(part.look, at(mark.x), middle[str(mark.y)], 5, mark.hover)
                elif mark.word:  # in the mark's own line, which is free: a long name leaves no room beside it
                    yield svg.text(left, middle[str(mark.y)] + 5, mark.word)
        elif isinstance(part, Line):
            for run in _runs(part.points):
                yield svg.path([(at(x), middle[str(y)]) for x, y in run], part.look)


def _headed(scene: Scene, label: str) -> str:
    """Return a thing's label with the words of its mark, if one is drawn; a bar has them at its end."""
    marks = (mark for part in scene.parts if isinstance(part, Marks) for mark in part.marks)
    word = next((mark.word for mark in marks if mark.y == label and mark.x is not None and mark.word), "")
    return f"{label}: {word}" if word else label


def _reach(scene: Scene, label: str) -> float:
    """Return how far anything of a thing reaches."""
    marks = (mark for part in scene.parts if isinstance(part, Marks) for mark in part.marks)
    bars = (bar for part in scene.parts if isinstance(part, Bars) for bar in part.bars)
    ends = [mark.x for mark in marks if mark.y == label and isinstance(mark.x, (int, float))]
    return max([*ends, *(bar.start + bar.length for bar in bars if bar.place == label)])


def _column(across: Places) -> float:
    return (WIDTH - SIDE) / max(1, len(across.labels))


def _lines(across: Places) -> list[list[str]]:
    """Return each column's name in lines that leave the next column its room."""
    letters = max(1, int(_column(across) / (2 * HALF_LETTER)))
    return [wrap(label, letters, break_long_words=False) for label in across.labels]


def _head(across: Places) -> float:
    """Return the height of the columns' names, of one line each or of more."""
    return HEAD + LETTERS * (max(map(len, _lines(across)), default=1) - 1)


def _cells(across: Places, down: Places, parts: Sequence[Part], head: float) -> Iterator[str]:
    """Yield a square in each cell whose side grows with the root of the count, and the count."""
    wide = _column(across)
    for n, lines in enumerate(_lines(across)):
        first = head - 16 - LETTERS * (len(lines) - 1)
        yield from (svg.text(SIDE + wide * (n + 0.5), first + LETTERS * m, one, "mid") for m, one in enumerate(lines))
    yield from (svg.text(0, head + 10 + CELL * n, label) for n, label in enumerate(down.labels))
    for part in parts:
        assert isinstance(part, Cells)
        most = max((count for row in part.counts for count in row), default=0) or 1
        for row, counts in enumerate(part.counts):
            for column, count in enumerate(counts):
                if count:
                    side = 8 + 14 * (count / most) ** 0.5
                    x, y = SIDE + wide * (column + 0.5), head + 5 + CELL * row
                    yield svg.rect(x - side / 2 - wide / 5, y - side / 2, side, side, part.look)
                    yield svg.text(x + wide / 5, y + 5, words.whole(count), "mid")
