"""Reads a page as its user does: by heading, role, label and words; malformed nesting is a failure."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "link", "input", "br", "img", "hr"}


@dataclass
class Node:
    """An element with its attributes, children and the words directly in it."""

    tag: str
    attrs: dict[str, str]
    children: list["Node | str"] = field(default_factory=list)

    @property
    def text(self) -> str:
        parts = [part if isinstance(part, str) else part.text for part in self.children]
        return " ".join(" ".join(parts).split())

    def all(self, tag: str = "", **attrs: str) -> list["Node"]:
        """Return the elements below with this tag and these attributes ("_" for "-")."""
        wanted = {name.rstrip("_").replace("_", "-"): value for name, value in attrs.items()}
        below = [part for part in self.children if isinstance(part, Node)]
        own = [
            one for one in below if tag in ("", one.tag) and all(one.attrs.get(n) == v for n, v in wanted.items())
        ]  # fmt: skip
        return own + [found for one in below for found in one.all(tag, **attrs)]

    def one(self, tag: str = "", **attrs: str) -> "Node":
        found = self.all(tag, **attrs)
        assert len(found) == 1, f"{len(found)} of {tag} {attrs}"
        return found[0]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.root = Node("page", {})
        self.open = [self.root]

    def handle_starttag(self, tag, attrs):
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(node)
        if tag not in VOID:
            self.open.append(node)

    def handle_startendtag(self, tag, attrs):
        self.open[-1].children.append(Node(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag):
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data):
        if self.open[-1].tag not in ("script", "style"):
            self.open[-1].children.append(data)


def read(answer) -> Node:
    """Return the page of an answer; every element is closed where it should be, no id twice, no style, no handler."""
    reader = _Reader()
    reader.feed(answer.text)
    assert len(reader.open) == 1, f"never closed: {[one.tag for one in reader.open[1:]]}"
    every = reader.root.all()
    ids = [node.attrs["id"] for node in every if "id" in node.attrs]
    assert sorted(set(ids)) == sorted(ids), {one for one in ids if ids.count(one) > 1}
    assert not [node for node in every if "style" in node.attrs or any(name.startswith("on") for name in node.attrs)]
    assert not [
        node for node in every if node.tag == "script" and not node.attrs.get("src") and "type" not in node.attrs
    ]
    return reader.root


def table_rows(page: Node, caption: str) -> list[list[str]]:
    """Return the cells' words of the one table whose caption begins so, row by row, heads left out."""
    tables = [table for table in page.all("table") if table.all("caption")[0].text.startswith(caption)]
    assert len(tables) == 1, [table.all("caption")[0].text for table in page.all("table")]
    return [[cell.text for cell in row.children if isinstance(cell, Node)] for row in tables[0].one("tbody").all("tr")]
