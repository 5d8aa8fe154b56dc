"""Every sentence that pages say, by the source: what templates hold, what the package and its scripts say."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from babel.messages.extract import extract_from_file

from qc.web.script_words import said_in

PACKAGE = Path(__file__).parents[2] / "qc"
SAID = {"say": None, "say_many": (1, 2)}
IN_TEMPLATES = {**SAID, "said": None}
IN_PYTHON = {**SAID, "marked": None}
_OPTIONS = {"extensions": "qc.web.spoken_templates.SpokenText", "silent": "false"}


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence, one and several where it is counted, and where it is said first: file and line."""

    key: str | tuple[str, str]
    place: str


def sentences(package: Path = PACKAGE) -> dict[str, Sentence]:
    """Return what is said anywhere, by its English; of a counted sentence by that for one."""
    found: dict[str, Sentence] = {}
    for place, key in _extracted(package):
        found.setdefault(key if isinstance(key, str) else key[0], Sentence(key, place))
    return found


def _extracted(package: Path) -> Iterator[tuple[str, str | tuple[str, str]]]:
    for path in sorted((package / "web" / "templates").rglob("*.html")):
        yield from _of(package, path, "jinja2", IN_TEMPLATES, _OPTIONS)
    for path in sorted(package.rglob("*.py")):
        # Others have functions that are named so, too
        if "_bundled" not in path.parts and "from qc.domain.words.speaking import" in path.read_text(encoding="utf-8"):
            yield from _of(package, path, "python", IN_PYTHON, {})
    for path in sorted((package.parent / "static" / "js").rglob("*.js")):
        for key in said_in(path.read_text(encoding="utf-8")):
            yield f"static/js/{path.name}", key


def _of(
    package: Path, path: Path, method: str, keywords: dict[str, tuple[int, int] | None], options: dict[str, str]
) -> Iterator[tuple[str, str | tuple[str, str]]]:
    for line, key, _comments, _context in extract_from_file(method, path, keywords, options=options):
        if key:
            yield f"{path.relative_to(package)}:{line}", key
