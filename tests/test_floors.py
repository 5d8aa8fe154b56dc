"""The floors of the house hold: every import of the package goes to its own floor or to one below."""

import ast
import re
from collections import Counter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "qc"

# What each room may import, beside itself. Nothing may import cli.
ALLOWED = {
    "domain": set(),
    "stats": {"domain"},
    "store": {"domain"},
    "reports": {"domain", "stats", "store"},
    "charts": {"domain", "stats", "reports"},
    "demo": {"domain", "stats", "store", "reports", "assets"},
    "web": {"domain", "stats", "store", "reports", "charts", "assets"},
    "assets": set(),
    "parts": set(),
    "cli": {"domain", "stats", "store", "reports", "charts", "demo", "web", "assets", "parts"},
}


def room_of(module: str) -> str | None:
    """Return the room that a dotted module name of the package stands in, None outside it."""
    parts = module.split(".")
    return parts[1] if parts[0] == "qc" and len(parts) > 1 else None


def imported_modules(source: str) -> list[str]:
    """Return the dotted names that a module's source imports, lazy imports inside functions included."""
    names: list[str] = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative import: the house imports absolutely"
            base = node.module or ""
            names += [f"{base}.{alias.name}" for alias in node.names] if base == "qc" else [base]
    return names


def broken_floors(room: str, source: str) -> list[str]:
    """Return the imports of a module in ``room`` that break the floors, in order of appearance."""
    targets = [(name, room_of(name)) for name in imported_modules(source)]
    return [name for name, target in targets if target and target != room and target not in ALLOWED[room]]


def package_files() -> list[Path]:
    return sorted(path for path in PACKAGE.rglob("*.py") if "_bundled" not in path.parts)


@pytest.mark.parametrize("path", package_files(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_imports_only_from_its_floor_and_below(path):
    relative = path.relative_to(PACKAGE)
    room = relative.parts[0].removesuffix(".py")
    if room == "__init__":
        assert imported_modules(path.read_text()) == []
        return

    assert broken_floors(room, path.read_text()) == []


@pytest.mark.parametrize(
    ("room", "planted"),
    [
        ("domain", "from qc.store.intake.journal import Journal"),
        ("stats", "import qc.store.intake.journal"),
        ("store", "def f():\n    from qc.stats.causes.pareto import pareto"),
        ("reports", "from qc.web.app import create_app"),
        ("charts", "from qc.store.counts import week_counts"),
        ("web", "from qc.cli import main"),
    ],
)
def test_a_planted_break_of_the_floors_is_found(room, planted):
    assert len(broken_floors(room, planted)) == 1


def folder_of(module: str) -> tuple[str, ...]:
    """Return a module's folders below its room: () for one that stands in the room itself."""
    return tuple(module.split(".")[2:-1])


def ways_between_folders(room: str) -> dict[tuple[str, ...], set[tuple[str, ...]]]:
    """Return which folders of a room each of its folders imports from, itself left out."""
    ways: dict[tuple[str, ...], set[tuple[str, ...]]] = {}
    known = {".".join(("qc", *path.relative_to(PACKAGE).with_suffix("").parts)) for path in package_files()}
    for module in sorted(known):
        if room_of(module) != room or module.endswith(".__init__"):
            continue
        source = (PACKAGE.parent / Path(*module.split("."))).with_suffix(".py").read_text()
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.ImportFrom) and room_of(node.module or "") == room:
                for alias in node.names:
                    whole = f"{node.module}.{alias.name}"
                    target = whole if whole in known else str(node.module)
                    target = f"{target}.__init__" if f"{target}.__init__" in known else target
                    ways.setdefault(folder_of(module), set()).add(folder_of(target))
    return {here: there - {here} for here, there in ways.items()}


def circle(ways: dict[tuple[str, ...], set[tuple[str, ...]]]) -> list[tuple[str, ...]]:
    """Return the folders that no order can put above all that they import from; empty where there is no circle."""
    left = {here: set(there) for here, there in ways.items()}
    while loose := [here for here, there in left.items() if not there & left.keys()]:
        for here in loose:
            del left[here]
    return sorted(left)


@pytest.mark.parametrize("room", ["domain", "stats", "reports", "store", "charts"])
def test_the_folders_of_a_room_import_each_other_without_a_circle(room):
    ways = ways_between_folders(room)

    assert len(ways) > 2
    assert circle(ways) == []


def test_a_planted_circle_is_found():
    assert circle({("a",): {("b",)}, ("b",): {("c",)}, ("c",): {("b",)}, ("d",): {("a",)}}) == [
        ("a",),
        ("b",),
        ("c",),
        ("d",),
    ]


def test_what_no_page_shows_stands_apart_from_what_pages_use():
    sources = {".".join(("qc", *path.relative_to(PACKAGE).with_suffix("").parts)): path for path in package_files()}

    def imports(module: str) -> set[str]:
        names = set()
        for node in ast.walk(ast.parse(sources[module].read_text())):
            if isinstance(node, ast.ImportFrom):
                names |= {str(node.module)} | {f"{node.module}.{alias.name}" for alias in node.names}
        return names & sources.keys()

    seen = {module for module in sources if room_of(module) in ("web", "reports")}
    ahead = list(seen)
    while ahead:
        fresh = imports(ahead.pop()) - seen
        seen |= fresh
        ahead += fresh
    stats = {module for module in sources if room_of(module) == "stats" and not module.endswith("__init__")}
    by_command = {module for module in stats if "by_command" in module}

    assert by_command & seen == set()
    assert stats - by_command - seen == set()


def test_sql_text_stands_in_the_store_only():
    sql = ("SELECT ", "INSERT INTO", "DELETE FROM", "CREATE TABLE")
    strays = [
        (path.relative_to(PACKAGE), word)
        for path in package_files()
        if path.relative_to(PACKAGE).parts[0] != "store"
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
        for word in sql
        if word in node.value
    ]

    assert strays == []


def test_no_module_is_called_utils():
    assert [path for path in package_files() if path.stem in {"utils", "helpers", "misc", "common"}] == []


# What no page or command calls, and why it stays.
CALLED_BY_LIBRARIES = {"preprocess"}  # by jinja, as each template is read
FOR_PUBLISHED_EXAMPLES = {"revised_baseline"}  # `qc stat --exclude` does it from the rows; the examples revise


def test_nothing_stands_in_the_package_for_tests_alone():
    pages = "".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.html"))
    sources = {path: path.read_text(encoding="utf-8") for path in package_files()}
    used = Counter(re.findall(r"\w+", "".join(sources.values()) + pages))
    made = {
        node.name
        for source in sources.values()
        for node in ast.walk(ast.parse(source))
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.decorator_list
    }

    assert len(made) > 1000
    assert {name for name in made if used[name] == 1} == FOR_PUBLISHED_EXAMPLES | CALLED_BY_LIBRARIES
