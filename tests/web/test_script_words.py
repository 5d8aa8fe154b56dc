"""The words of the pages' scripts: none is written that is not looked up, and a page gives them in its language."""

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from qc.domain.words.speaking import Tongue, spoken
from qc.web.languages import tongue_of
from qc.web.script_words import said_in, script_words
from tests.js.test_js import ROOT, read_by, tool

SCRIPTS = ROOT / "static" / "js"
WRITTEN = re.compile(r'content:[^;]*?"([^"]*)"')
SPOKEN_IN = ("charts.js", "tables.js", "zones/drawing.js", "zones/page.js", "zones/sheet.js")


def outside(scripts: Path) -> list[str]:
    """Return what looks like words in scripts and is not said."""
    return [each["text"] for each in read_by("script_words.js", scripts)]


@pytest.mark.node
def test_no_script_writes_a_word_that_is_not_said():
    assert outside(SCRIPTS) == []


@pytest.mark.node
def test_planted_words_are_found(tmp_path):
    scripts = shutil.copytree(SCRIPTS, tmp_path / "js")
    tables = scripts / "tables.js"
    text = tables.read_text(encoding="utf-8")
    tables.write_text(
        text.replace('say("Narrow")', '"narrow"')
        .replace('say("Copied")', '"Copied"')
        .replace('say("Saved")', "`is saved`")
    )

    assert outside(scripts) == ["narrow", "Copied", "is saved"]


def test_every_script_that_says_something_has_its_words_on_a_page():
    speaking = {
        str(path.relative_to(SCRIPTS)) for path in SCRIPTS.rglob("*.js") if said_in(path.read_text(encoding="utf-8"))
    }
    templates = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "qc/web/templates").rglob("*.html"))
    given = {name for call in re.findall(r"script_words\((.*?)\)", templates) for name in re.findall(r'"(.*?)"', call)}

    assert speaking == given == set(SPOKEN_IN)


def test_english_pages_carry_no_words_and_others_all_of_them():
    assert script_words(*SPOKEN_IN) == ""
    with spoken(tongue_of("de")):
        told = str(script_words(*SPOKEN_IN))

    words = json.loads(re.fullmatch(r"<script [^>]*>(.*)</script>", told)[1])
    assert words["Copied"] == "Kopiert"
    assert len(words["{who} has {number} point; a zone needs at least 3."]) == 2
    assert all(key not in ([said] if isinstance(said, str) else said) for key, said in words.items())


def test_words_cannot_end_their_element():
    odd = Tongue(tag="xx", words=lambda text: "</script><b>", counted=lambda one, many, n: "&", decimal=",")
    with spoken(odd):
        assert "<b>" not in script_words("tables.js")


@pytest.mark.node
def test_scripts_say_what_their_page_gave_them():
    given = json.dumps({"Copied": "Kopiert", "{number} unit": ["{number} Einheit", "{number} Einheiten"]})
    asked = f"""
      const given = {{ textContent: {json.dumps(given)} }};
      const page = {{ documentElement: {{ lang: "de" }}, querySelectorAll: () => [given] }};
      if (process.argv[1] === "de") globalThis.document = page;
      const {{ say, sayMany, figure }} = await import({json.dumps(str(SCRIPTS / "words.js"))});
      const unit = (number) => sayMany("{{number}} unit", "{{number}} units", number);
      const two = say("{{a}} of {{b}}", {{ a: 1, b: 0 }});
      console.log(JSON.stringify([say("Copied"), two, unit(1), unit(0), figure(1.5, 2)]));
    """

    def told(tag: str) -> list[str]:
        node = [tool("node", "DAYBAY_NODE"), "--no-warnings", "--input-type=module", "-e", asked, tag]
        return json.loads(subprocess.run(node, capture_output=True, text=True, check=True).stdout)

    assert told("en") == ["Copied", "1 of 0", "1 unit", "0 units", "1.50"]
    assert told("de") == ["Kopiert", "1 of 0", "1 Einheit", "0 Einheiten", "1,50"]


def test_no_style_sheet_writes_a_word():
    """What a style sheet writes nobody looks up: it may draw a sign, or write what an attribute says."""
    sheets = [*(ROOT / "static/css").glob("*.css"), *(ROOT / "pwa/css").glob("*.css")]
    written = [found for sheet in sheets for found in WRITTEN.findall(sheet.read_text(encoding="utf-8"))]

    assert len(sheets) > 15
    assert [one for one in written if re.search(r"[^\W\d_]{2,}", one)] == []
    assert WRITTEN.findall('a::before { content: "! Twice" attr(x); }') == ["! Twice"]
