"""The look keeps its promises: contrast by the WCAG formula, the same colours in figures and style sheets.

Contrast: WCAG 2.2, "relative luminance" and "contrast ratio" (W3C Recommendation); 7:1 is success criterion 1.4.6,
3:1 for graphics 1.4.11.
"""

import re
from itertools import product

import pytest

from qc.assets import folder
from qc.charts.drawing.palette import TOKENS

CSS = folder("static") / "css"


def tokens(theme):
    """Return the custom properties of a theme of tokens.css: light, or dark laid over light."""
    text = (CSS / "tokens.css").read_text()
    light, dark = (
        dict(re.findall(r"(--[\w-]+): (#[0-9a-f]{6});", block))
        for block in (text.split("{", 1)[1].split("}")[0], text.split('data-theme="dark"] {', 1)[1].split("}")[0])
    )
    return light if theme == "light" else light | dark


def luminance(colour):
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, two):
    dark, light = sorted((luminance(one), luminance(two)))
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_the_ends_that_the_standard_states():
    """WCAG 2.2: contrast runs from 1:1 to 21:1."""
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_has_seven_to_one_on_every_ground_it_stands_on(theme):
    own = tokens(theme)
    pairs = [
        *product(("--ink", "--quiet", "--act"), ("--paper", "--sheet", "--band")),
        ("--alarm", "--alarm-band"), ("--heed", "--heed-band"), ("--settled", "--settled-band"),
        ("--act-ink", "--act"), ("--alarm", "--sheet"), ("--heed", "--sheet"),
    ]  # fmt: skip

    poor = {pair: contrast(own[pair[0]], own[pair[1]]) for pair in pairs}
    assert {pair: ratio for pair, ratio in poor.items() if ratio < 7} == {}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_marks_and_edges_have_three_to_one(theme):
    own = tokens(theme)
    marks = ("--mark", "--mark-second", "--mark-signal", "--mark-limit", "--edge")

    assert [mark for mark in marks if contrast(own[mark], own["--sheet"]) < 3] == []


def test_the_figures_use_the_light_theme():
    own = tokens("light")

    assert {name: own[name] for name in TOKENS} == TOKENS


def test_the_chart_script_swaps_every_colour_of_the_figures():
    script = (folder("static") / "js" / "charts.js").read_text()

    named = re.search(r"const TOKENS = \[(.*?)\];", script, re.DOTALL).group(1)
    assert {f"--{name}" for name in re.findall(r'"([\w-]+)"', named)} == set(TOKENS)


@pytest.mark.parametrize("path", sorted(CSS.glob("*.css")), ids=lambda path: path.name)
def test_style_sheets_have_no_ids_no_important_and_known_tokens_only(path):
    text = re.sub(r"/\*.*?\*/", "", path.read_text(), flags=re.DOTALL)
    defined = set(re.findall(r"(--[\w-]+):", (CSS / "tokens.css").read_text()))

    assert "!important" not in text
    assert re.findall(r"(?m)^\s*[^{}@]*#[a-zA-Z][\w-]*[^{};]*\{", text) == []
    assert set(re.findall(r"var\((--[\w-]+)\)", text)) - defined == set()


# What a page's own style may set: a role or a step of tokens.css, or what stands around it. A drawing counts in its
# own units: its type is in charts.css, which is checked by eye.
SIZE = re.compile(r"(?<!-)font-size: ([^;}]+)")
WEIGHT = re.compile(r"font-weight: ([^;}]+)")
COLOUR = re.compile(r"#[0-9a-f]{3,8}\b|\brgba?\(|\bhsla?\(")


@pytest.mark.parametrize("path", sorted(CSS.glob("*.css")), ids=lambda path: path.name)
def test_sizes_weights_and_colours_are_said_once(path):
    text = re.sub(r"/\*.*?\*/", "", path.read_text(), flags=re.DOTALL)
    if path.name == "tokens.css":
        assert len(set(re.findall(r"--type-\d: [^;]+", text.split("}")[0]))) == 5  # a print has its own in points
        assert len({text.split(f"{name}: ")[1].split(";")[0] for name in ("--plain", "--strong")}) == 2
        return

    # A label counts in its own paper's millimetres, whatever the screen beside it is set to.
    drawn = {"charts.css": {"13px", "190px"}, "labels.css": {"2.9mm", "4.2mm", "5mm", "8mm"}}.get(path.name, set())
    own = {size for size in SIZE.findall(text) if not re.fullmatch(r"inherit|var\(--(type-\d|size-\w+)\)", size)}
    assert own - drawn == set()
    assert {weight for weight in WEIGHT.findall(text) if weight not in ("var(--plain)", "var(--strong)")} == set()
    printed = {"people.css": ["#fff"], "labels.css": ["#fff", "#000"]}  # a QR code is black on white, in the dark too
    assert COLOUR.findall(text) == printed.get(path.name, [])


def test_severities_and_states_have_each_a_sign_of_their_own():
    signs = re.findall(r'--sign-(\w+): "(.)";', (CSS / "tokens.css").read_text())

    assert len(dict(signs)) == len({sign for _, sign in signs}) >= 9
    assert {"critical", "major", "minor"} <= set(dict(signs))
