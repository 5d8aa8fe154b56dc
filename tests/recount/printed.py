"""A page as what it prints, piece by piece and where each piece stands: sentences, tables, drawings, chart data."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from tests.web.pages.reading import Node, read

INLINE = {
    "a",
    "abbr",
    "b",
    "br",
    "code",
    "em",
    "i",
    "kbd",
    "mark",
    "q",
    "small",
    "span",
    "strong",
    "sub",
    "sup",
    "time",
}
SAID_ASIDE = ("aria-label", "alt", "title", "placeholder")  # attributes that somebody reads or hears
AXIS = "axis"
HEADS = ("h1", "h2", "h3", "h4")
CHARTS = re.compile(r'<script type="application/json" data-figure="([^"]+)">(.*?)</script>', re.DOTALL)


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words with their place: the headings above them and the element they stand in."""

    place: str
    text: str


@dataclass(slots=True)
class Table:
    """One table with its continuation. rows: each row's cells, the row head first."""

    place: str
    caption: str
    heads: list[str]
    rows: list[list[str]]


@dataclass(slots=True)
class Drawing:
    """One figure drawn as SVG. marks: words of single marks; bare: (kind, text) of what stands in the picture.

    kind AXIS: a round number beside or below the axis, where nothing was counted.
    """

    place: str
    name: str
    says: str
    marks: list[str] = field(default_factory=list)
    bare: list[tuple[str, str]] = field(default_factory=list)


@dataclass(slots=True)
class Chart:
    """The data of one interactive chart, as served."""

    name: str
    data: dict[str, Any]


@dataclass(slots=True)
class Page:
    """Everything that one page prints. size: of its HTML, in bytes."""

    address: str
    size: int = 0
    sentences: list[Sentence] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    drawings: list[Drawing] = field(default_factory=list)
    charts: list[Chart] = field(default_factory=list)
    more: list[int] = field(default_factory=list)  # rows of each folded-away rest of a table, in order


def words_of(node: Node) -> str:
    """Return an element's words with its own gaps; the reader's shorter form would lose those between thousands."""
    return " ".join(part if isinstance(part, str) else words_of(part) for part in node.children)


def plain(text: str) -> str:
    """Return words with single spaces; the thin gap between thousands is taken out, so that 2 141 is one number."""
    text = re.sub(r"(?<=\d)[\u00a0\u202f](?=\d{3}(?!\d))", "", text)
    return " ".join(text.replace("\u00a0", " ").split())


def printed(address: str, answer: Any) -> Page:
    """Return what a page prints, in its order."""
    page = Page(address, len(answer.data))
    _Walk(page).through(read(answer))
    page.charts = [Chart(name, json.loads(data)) for name, data in CHARTS.findall(answer.text)]
    return page


class _Walk:
    """Goes through a page once and sorts what it meets."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.above: dict[str, str] = {}
        self.term = ""

    @property
    def place(self) -> str:
        return " > ".join(self.above[head] for head in HEADS if head in self.above)

    def through(self, node: Node) -> None:
        if node.tag == "svg":
            self._drawing(node)
            return
        if node.tag == "table":
            self._table(node)
            return
        self._aside(node)
        run: list[str] = []
        for part in node.children:
            if isinstance(part, str):
                run.append(part)
            elif part.tag in INLINE and not _holds_blocks(part):
                run.append(words_of(part))
                self._asides_below(part)
            else:
                self._say(node, run)
                run = []
                self.through(part)
        self._say(node, run)

    def _say(self, node: Node, run: list[str]) -> None:
        text = plain(" ".join(run))
        if not text:
            return
        if node.tag in HEADS:
            self.above = {head: words for head, words in self.above.items() if head < node.tag}
            self.above[node.tag] = text
        if node.tag == "dt":
            self.term = text
        about = f" > {self.term}" if node.tag == "dd" else ""
        self.page.sentences.append(Sentence(f"{self.place}{about} <{node.tag}>", text))

    def _aside(self, node: Node) -> None:
        for name in SAID_ASIDE:
            text = plain(node.attrs.get(name, ""))
            if text and text not in self._captions(node):
                self.page.sentences.append(Sentence(f"{self.place} <{node.tag} {name}>", text))
        if node.tag == "input" and node.attrs.get("type", "text") in ("text", "date", "number", "search"):
            self.page.sentences.append(Sentence(f"{self.place} <input value>", plain(node.attrs.get("value", ""))))

    def _asides_below(self, node: Node) -> None:
        self._aside(node)
        for below in node.all():
            self._aside(below)

    def _captions(self, node: Node) -> set[str]:
        told = {plain(words_of(one)) for one in node.all("caption")}
        return told | {f"{one}, more rows" for one in told}

    def _table(self, node: Node) -> None:
        caption = plain(" ".join(words_of(one) for one in node.all("caption")[:1]))
        heads = [plain(words_of(one)) for row in node.all("thead") for one in row.all("th")]
        rows = [
            [plain(words_of(cell)) for cell in row.children if isinstance(cell, Node)]
            for body in node.all("tbody")
            for row in body.all("tr")
        ]
        goes_on = caption.removesuffix(", more rows")
        if goes_on != caption and self.page.tables and self.page.tables[-1].caption == goes_on:
            self.page.tables[-1].rows += rows
            self.page.more.append(len(rows))
        else:
            self.page.tables.append(Table(self.place, caption, heads, rows))

    def _drawing(self, node: Node) -> None:
        labelled = node.attrs.get("aria-labelledby", "")
        title = [plain(words_of(part)) for part in _direct(node, "title")]
        says = [plain(words_of(part)) for part in _direct(node, "desc")]
        drawing = Drawing(self.place, labelled.split(" ")[0].removesuffix("-title"), " ".join(says))
        every = node.all()
        axes = [float(line.attrs["y1"]) for line in every if line.tag == "line" and line.attrs.get("class") == "axis"]
        for part in every:
            if part.tag == "title" and plain(words_of(part)) not in title:
                drawing.marks.append(plain(words_of(part)))
            elif part.tag == "text":
                beside = "end" in part.attrs.get("class", "").split()
                below = bool(axes) and float(part.attrs.get("y", "0")) > max(axes)
                drawing.bare.append((AXIS if beside or below else "mark", plain(words_of(part))))
        for words in title:
            self.page.sentences.append(Sentence(f"{self.place} <svg title>", words))
        self.page.drawings.append(drawing)


def _direct(node: Node, tag: str) -> Iterator[Node]:
    return (part for part in node.children if isinstance(part, Node) and part.tag == tag)


def _holds_blocks(node: Node) -> bool:
    return any(below.tag not in INLINE for below in node.all())
