"""What a browser's test waits for in a page is asked again until it is so.

The driver looks at an expression once: a later look is refused by the pages' own policy (EvalError). A promise is taken
for true as soon as it is kept, whatever it says. Only a plain function is asked again: `() => ...`.
"""

import ast
import re
from pathlib import Path

TESTS = Path(__file__).parent
FUNCTION = re.compile(r"\s*(\w+|\([^()]*\))\s*=>(?!.*(\basync\b|\bawait\b|\.then\())", re.DOTALL)


def asked_once(source: str) -> list[str]:
    """Return what `wait_for_function` is given in a module that is no plain function."""
    tree = ast.parse(source)
    named = {
        target.id: node.value
        for node in tree.body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    given = [
        node.args[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "wait_for_function"
    ]
    texts = [words(named.get(each.id, each) if isinstance(each, ast.Name) else each) for each in given]
    return [text for text in texts if not FUNCTION.match(text)]


def words(node: ast.expr) -> str:
    """Return a text as it is written; what is put into it stands as its name."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(words(each) for each in node.values)
    return ast.unparse(node)


def test_what_a_page_is_waited_for_is_a_function_that_can_be_asked_again():
    found = {path.name: asked_once(path.read_text()) for path in TESTS.rglob("*.py")}

    assert {name: each for name, each in found.items() if each} == {}
    assert sum("wait_for_function(" in path.read_text() for path in TESTS.rglob("*.py")) > 3


def test_an_expression_and_a_promise_are_found_out():
    planted = [
        'page.wait_for_function("!window.before")',
        'page.wait_for_function(f"({TOLD})()")',
        'page.wait_for_function("navigator.serviceWorker.ready.then(r => r.active)")',
        'page.wait_for_function("async () => (await caches.keys()).length")',
        'page.wait_for_function("() => caches.keys().then((all) => all.length)")',
        'SHOWN = "image.complete"\npage.wait_for_function(SHOWN, arg=image)',
    ]

    assert all(asked_once(each) for each in planted)
    assert asked_once('SHOWN = "image => image.complete"\npage.wait_for_function(SHOWN)') == []
