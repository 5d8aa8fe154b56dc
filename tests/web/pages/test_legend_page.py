"""The legend holds each part once: every macro, state, notice, size and mark of the pages, from their own styles."""

import re
from pathlib import Path

import pytest
from jinja2 import nodes
from jinja2.runtime import Macro

import qc.web
from qc.assets import folder
from tests.web.pages.reading import read
from tests.web.plant_server import CAST

TEMPLATES = Path(qc.web.__file__).parent / "templates"
CSS = folder("static") / "css"


def shared_macros(app) -> set[tuple[str, str]]:
    """Return (template, macro) of every macro in a template that others take from: its name begins with "_"."""
    return {
        (path.relative_to(TEMPLATES).as_posix(), macro.name)
        for path in TEMPLATES.rglob("_*.html")
        for macro in app.jinja_env.parse(path.read_text()).find_all(nodes.Macro)
    }


def called_by(server, address, monkeypatch) -> set[tuple[str, str]]:
    """Return (template, macro) of every macro that one page calls."""
    called = set()
    plainly = Macro._invoke

    def noting(self, arguments, autoescape):
        template = Path(self._func.__code__.co_filename).relative_to(TEMPLATES).as_posix()
        called.add((template, self.name))
        return plainly(self, arguments, autoescape)

    monkeypatch.setattr(Macro, "_invoke", noting)
    assert server.page("quality_manager").get(address).status_code == 200
    return called


def test_every_shared_macro_stands_on_it(server, monkeypatch):
    assert shared_macros(server.app) - called_by(server, "/legend", monkeypatch) == set()


def test_a_macro_that_a_page_does_not_call_is_found(server, monkeypatch):
    assert ("_picture.html", "picture") in shared_macros(server.app) - called_by(server, "/units", monkeypatch)


def values_of(style: str, pattern: str) -> set[str]:
    return set(re.findall(pattern, (CSS / style).read_text()))


@pytest.mark.parametrize(
    ("style", "pattern", "attribute"),
    [
        ("base.css", r'\.state\[data-state="([a-z_]+)"\]', 'data-state="{}"'),
        ("base.css", r'tr\[data-state="([a-z_]+)"\]', 'data-state="{}"'),
        ("base.css", r'\.notice\[data-kind="([a-z]+)"\]', 'data-kind="{}"'),
        ("base.css", r'button\[data-kind="([a-z]+)"\]', 'data-kind="{}"'),
        ("unit.css", r'tr\[data-sign="([a-z]+)"\]', 'data-sign="{}"'),
        ("charts.css", r"svg (?:path)?\.((?!zone|point-here|cell)[a-z]+(?:-[a-z]+)*) \{", 'class="{}"'),
        ("charts.css", r"svg \.(zone-(?!other)[a-z]+) \{", 'class="{}"'),
        ("tokens.css", r"--type-(\d)", 'data-size="{}"'),
        ("tokens.css", r"--gap-(\d)", 'data-gap="{}"'),
    ],
)
def test_every_look_of_the_styles_stands_on_it(server, style, pattern, attribute):
    page = server.page("quality_manager").get("/legend").text
    looks = values_of(style, pattern)

    assert len(looks) > 1 or style == "base.css"
    assert {look for look in looks if attribute.format(look) not in page} == set()


def test_every_sign_is_one_of_a_part_that_stands_on_it():
    """A shape that no style uses, or that is written past the tokens, would drift from the legend."""
    signs = values_of("tokens.css", r"--(sign-[a-z]+)")
    used = {name for style in CSS.glob("*.css") for name in re.findall(r"var\(--(sign-[a-z]+)\)", style.read_text())}

    assert signs == used


def test_it_says_that_its_numbers_are_of_no_record(server):
    page = read(server.page("dispatch").get("/legend"))

    assert "no number, unit or standing here is from the record" in page.one("main").text


def test_it_has_no_markup_of_a_part_of_its_own():
    """A state, a question, a table, a drawing or a place is called from where the pages have it."""
    own = (TEMPLATES / "legend" / "legend.html").read_text()

    assert re.findall(r'<table|<svg|class="(?:state|sheet|place|time-line|photos)"|class="picture" ', own) == []


@pytest.mark.parametrize("role", CAST)
def test_everybody_signed_in_reads_it_again_and_again(server, role):
    page = server.page(role)

    assert page.get("/legend").text.count("<h1>") == 1
    assert page.get("/legend?week=nonsense").status_code == 200
    assert page.client.post("/legend").status_code in (403, 405)


def test_a_stranger_is_asked_to_sign_in(server):
    assert server.client().get("/legend").status_code == 303
