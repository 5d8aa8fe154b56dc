"""Templates in the language of who reads them: each sentence of a page is looked up whole, as it stands in the page.

A sentence is what stands between two tags or two statements, its values at numbered places: `<p>{{ n }} units wait` is
looked up as "{0} units wait". Emphasis and code belong to their sentence; every other element ends one, and so does a
statement. Of attributes those that are read out or shown are sentences too. So no template marks its words, and none
can forget to; words inside an expression are said there, by `say` and `say_many`.
"""

import json
import re

from jinja2 import Environment, TemplateSyntaxError
from jinja2.ext import Extension
from markupsafe import Markup

from qc.domain.words.speaking import say, say_many, tongue

_EXPRESSION, _STATEMENT, _COMMENT = r"\{\{.*?\}\}", r"\{%.*?%\}", r"\{#.*?#\}"
_INLINE = re.compile(r"</?(?:strong|em|b|code|kbd)>\Z")
_PIECE = re.compile(
    rf"(?P<comment>{_COMMENT})|(?P<statement>{_STATEMENT})|(?P<expression>{_EXPRESSION})"
    r"|(?P<mute><(?P<element>script|style)\b.*?</(?P=element)>)"
    rf"|(?P<tag><!?/?[a-zA-Z](?:{_COMMENT}|{_STATEMENT}|{_EXPRESSION}|[^>{{]|\{{)*?>)",
    re.DOTALL,
)
_SPOKEN = re.compile(
    r'(?P<before>\s(?:aria-label|aria-description|alt|placeholder|title|data-words|data-head)=")'
    rf'(?P<text>(?:{_STATEMENT}|{_EXPRESSION}|[^"{{]|\{{)*)(?=")',
    re.DOTALL,
)
_NO_WORD = re.compile(r"&#?\w+;|<[^>]*>")
_ATTRIBUTE = re.compile(r'\s*[a-z-]+="')
_LETTER = re.compile(r"[^\W\d_]")


class SpokenText(Extension):
    """Looks up the sentences of templates in the language spoken when a page is rendered."""

    def __init__(self, environment: Environment) -> None:
        super().__init__(environment)
        environment.globals.update(said=said, say=say, say_many=say_many)

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:
        """Return a template whose sentences are looked up; what holds no word stands as it is."""
        if name is not None and not name.endswith(".html"):
            return source
        return _spoken(source, name)


def said(text: str, *values: object) -> Markup:
    """Return a template's sentence in the language spoken; the values are escaped, the sentence is HTML."""
    told = Markup(tongue().words(text))
    return told.format(*values)


def _spoken(source: str, name: str | None) -> str:
    """Return a piece of a template with its sentences looked up."""
    done: list[str] = []
    run: list[tuple[str, str]] = []  # the sentence under way: kind ("text", "inline", "expression") and source
    place = 0
    for piece in _PIECE.finditer(source):
        if piece.start() > place:
            run.append(("text", source[place : piece.start()]))
        place, text = piece.end(), piece[0]
        if piece["expression"]:
            run.append(("expression", text))
        elif piece["tag"] and _INLINE.match(text):
            run.append(("inline", text))
        else:
            done += [_sentence(run, name), _tag(text, name) if piece["tag"] else text]
            run = []
    if place < len(source):
        run.append(("text", source[place:]))
    return "".join([*done, _sentence(run, name)])


def _tag(text: str, name: str | None) -> str:
    return _SPOKEN.sub(lambda found: found["before"] + _spoken(found["text"], name), text)


def _sentence(run: list[tuple[str, str]], name: str | None) -> str:
    """Return a sentence as the expression that looks it up; as it stands where it holds no word."""
    whole = "".join(text for _, text in run)
    words = "".join(text for kind, text in run if kind == "text")
    # A macro may write an attribute, which no tag is around
    if not _LETTER.search(_NO_WORD.sub("", words)) or _ATTRIBUTE.match(words):
        return whole
    if any(text.startswith(("{{-", "{{+")) or text.endswith(("-}}", "+}}")) for _, text in run):
        raise TemplateSyntaxError(f"no sign for blanks inside a sentence: {whole.strip()}", 1, name)
    key = ""
    values: list[str] = []
    for kind, text in run:
        if kind == "expression":
            key += f"{{{len(values)}}}"
            values.append(f"({text[2:-2].strip()})")
        else:
            key += text.replace("{", "{{").replace("}", "}}")
    before = whole[: len(whole) - len(whole.lstrip())] if run[0][0] == "text" else ""
    after = whole[len(whole.rstrip()) :] if run[-1][0] == "text" else ""
    key = re.sub(r"\s+", " ", key).strip()
    lines = "\n" * (whole.strip().count("\n") - sum(value.count("\n") for value in values))
    return f"{before}{{{{ said({', '.join([json.dumps(key, ensure_ascii=False), *values])}){lines} }}}}{after}"
