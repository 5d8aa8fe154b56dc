"""A role is asked through one method in Python and one module in the app: nobody compares the first role alone.

Who compares the field itself forgets the further roles of whoever has several, and what they may do ends without a
word. Found are comparisons, look-ups and memberships by ``.role``; writing it down, for a record or a form, is none.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from qc.assets import folder

QC = Path(__file__).parent.parent / "qc"
ONE_PLACE = {QC / "domain" / "facts" / "people.py", folder("pwa") / "lib" / "roles.js"}
COMPARED = re.compile(
    r"""
      \.role\b (?!\s*=[^=>]) \s* (?: [=!]== | [=!]= | \?\? | \] | \)\s*\] | \|\| )  # compared, or looked up by
    | (?: === | !== | == | != ) \s* [\w.?()]*\.role\b                              # the other way round
    | includes\( [^()]*\.role\b                                                     # one of several
    """,
    re.VERBOSE,
)
IN_TEMPLATE = re.compile(r"\.role\b\s*(?:==|!=|in\b|not\s+in\b|\|)|\[\s*[\w.]+\.role\s*\]|(?:==|!=)\s*[\w.]+\.role\b")


def asked_in_python(text: str) -> Iterator[int]:
    """Yield the lines on which a module compares a ``role``, looks something up by it, or shows it alone."""

    def is_role(node: ast.AST) -> bool:
        return isinstance(node, ast.Attribute) and node.attr == "role"

    for node in ast.walk(ast.parse(text)):
        compared = isinstance(node, ast.Compare) and any(map(is_role, (node.left, *node.comparators)))
        looked_up = isinstance(node, ast.Subscript) and is_role(node.slice)
        called = isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and is_role(node.func.value)
        got = (
            isinstance(node, ast.Call) and ast.unparse(node.func).endswith(".get") and any(map(is_role, node.args[:1]))
        )
        matched = isinstance(node, ast.Match) and is_role(node.subject)
        if compared or looked_up or called or got or matched:
            yield node.lineno


def asked_in(path: Path, text: str) -> list[int]:
    """Return the lines of a module, a template or a script that ask for a role by its field."""
    if path.suffix == ".py":
        return list(asked_in_python(text))
    form = IN_TEMPLATE if path.suffix == ".html" else COMPARED
    return [text.count("\n", 0, found.start()) + 1 for found in form.finditer(text)]


def test_a_role_is_asked_in_one_place_alone():
    rooms = [*QC.rglob("*.py"), *QC.rglob("*.html"), *folder("pwa").rglob("*.js"), *folder("static").rglob("*.js")]
    asked = {
        str(path): lines for path in rooms if path not in ONE_PLACE and (lines := asked_in(path, path.read_text()))
    }

    assert len(rooms) > 300
    assert asked == {}


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.py", 'if person.role == "inspector": pass'),
        ("a.py", 'if p.standing.role not in ("inspector", "tester"): pass'),
        ("a.py", "may = {'tester'} & set() if 'x' == one.role else 0"),
        ("a.py", "own = OWN[person.role]"),
        ("a.py", "own = OWN.get(person.role, '')"),
        ("a.py", "words = person.role.replace('_', ' ')"),
        ("a.py", "match person.role:\n    case 'tester': pass"),
        ("a.html", '{% if person.role == "inspector" %}'),
        ("a.html", '{% if person.role in ("inspector", "tester") %}'),
        ("a.html", '{{ person.role | replace("_", " ") }}'),
        ("a.html", "{{ names[person.role] }}"),
        ("a.js", 'if (person.role === "inspector") go();'),
        ("a.js", "if (session?.person.role !== MANAGER) go();"),
        ("a.js", "const own = BY_ROLE[me.role];"),
        ("a.js", "const own = roles.includes(session.person.role);"),
        ("a.js", 'const role = session?.person.role ?? "";'),
        ("a.js", "const is = MANAGER === me.role;"),
    ],
)
def test_each_way_to_ask_past_it_is_found(name, text):
    assert asked_in(Path(name), text) == [1]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.py", "row = (one.code, one.role)"),
        ("a.html", "{{ role_fields(one.code, one.role) }}"),
        ("a.js", "put(a.role)"),
    ],
)
def test_to_write_a_role_down_is_no_question(name, text):
    assert asked_in(Path(name), text) == []
