"""No code of the demo's plant stands in what serves every plant: what a code means, a plant's tables say.

Read are the words that a program compares, shows or asks with: strings of Python, whole scripts and templates, without
comments and drawings. A gas warning that hangs on the demo's own code for gas is lost without a word on another plant.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from qc.assets import folder
from qc.domain.plant.plant import DESIGN, UNKNOWN
from qc.domain.tables.plant_tables import read_plant

PLANT = read_plant(folder("demo_data") / "plant")
QC = Path(__file__).parent.parent / "qc"
ROOMS = (
    folder("pwa"),
    folder("static") / "js",
    *(QC / name for name in ("domain", "store", "reports", "web", "charts")),
)
RESERVED = {UNKNOWN, DESIGN}  # words of the record itself, as FIELD is: every plant's tables have the first
# What tables without the columns `outside` and `holds` meant, in the one place that reads tables.
FORMER = {("plant_parts.py", "SUP"), ("plant_parts.py", "HND")}
WORD, DOTTED = re.compile(r"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*"), re.compile(r"[a-z]+(?:\.[a-z]+)+")


def codes() -> set[str]:
    """Return every code that the demo's plant has chosen."""
    types, zones = PLANT.types.values(), PLANT.zones.values()
    chosen = {*PLANT.stations, *PLANT.types, *PLANT.tests, *PLANT.models, *PLANT.cautions, PLANT.world_code}
    chosen |= {one.group for one in types} | {one.key for one in zones} | {one.id for one in zones}
    chosen |= {one.crew for one in PLANT.stations.values() if one.crew}
    return chosen - RESERVED


def strings(text: str) -> Iterator[str]:
    """Yield the strings of a Python module, its docstrings left out."""
    tree = ast.parse(text)
    with_docs = (ast.Module, ast.ClassDef, ast.FunctionDef)
    docs = {id(node.body[0].value) for node in ast.walk(tree) if isinstance(node, with_docs) and is_told(node.body)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.value


def is_told(body: list[ast.stmt]) -> bool:
    return bool(body) and isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant)


def shown(text: str) -> str:
    """Return a script or a template without comments and the paths of drawings."""
    text = re.sub(r"/\*.*?\*/|\{#.*?#\}|<path\b[^>]*>", " ", text, flags=re.DOTALL)
    return re.sub(r"(?m)(^|\s)//.*$", " ", text)


def named(suffix: str, text: str) -> set[str]:
    """Return the codes of the demo's plant that a file's text uses."""
    told = " ".join(strings(text)) if suffix == ".py" else shown(text)
    return {*WORD.findall(told), *DOTTED.findall(told)} & codes()


def test_no_code_of_the_demos_plant_stands_where_every_plant_is_served():
    files = [path for room in ROOMS for path in room.rglob("*") if path.suffix in (".py", ".js", ".html", ".ts")]
    found = {(path.name, code) for path in files for code in named(path.suffix, path.read_text())}

    assert len(files) > 150
    assert found - FORMER == set()
    assert found >= FORMER, "a former meaning is gone: take it out of the list"


@pytest.mark.parametrize(
    ("suffix", "text", "code"),
    [
        (".py", 'def at(point: str) -> bool:\n    """Say D01."""\n    return point == "T01"\n', "T01"),
        (".js", 'if (zone.caution === "GAS") return html`<p>no camera</p>`; // ELE', "GAS"),
        (".html", "{# MOV #}<p>{{ cautions.SUN }}</p>", "SUN"),
    ],
)
def test_a_planted_code_is_found_and_a_comment_is_not(suffix, text, code):
    assert named(suffix, text) == {code}
